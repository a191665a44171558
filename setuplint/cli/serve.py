"""`setuplint serve`: the language server, on standard input and output."""

from __future__ import annotations

import argparse
import os
import sys

from setuplint.cli.trouble import TROUBLE, Trouble, complain


def run(args: argparse.Namespace) -> int:
    try:
        from setuplint.server.server import serve
    except ModuleNotFoundError as error:
        raise Trouble(f"{error.name} is missing: pip install 'setuplint[editor]'") from None
    if sys.stdout is None:
        raise Trouble("standard output is closed")
    return serve(_give_up)


def _give_up(error: OSError) -> None:
    """At once: a thread may wait for standard input."""
    complain(f"cannot write to standard output: {error.strerror or error}")
    os._exit(TROUBLE)
