"""`setuplint serve`: the language server, on standard input and output."""

from __future__ import annotations

import argparse

from setuplint.cli.trouble import Trouble


def run(args: argparse.Namespace) -> int:
    try:
        from setuplint.server.server import serve
    except ModuleNotFoundError as error:
        raise Trouble(f"{error.name} is missing: pip install 'setuplint[editor]'") from None
    return serve()
