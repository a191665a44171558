"""The language server: what an editor shows while a set-up is typed. LSP 3.17 on standard input and output."""

from setuplint.server.postponed_types import import_types

import_types()
