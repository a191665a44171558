"""The command. Each subcommand is a module of its own, imported only when it is asked for: start-up is a feature."""

from __future__ import annotations

import io
import os
import sys
from collections.abc import Sequence
from importlib import import_module

from setuplint.cli.trouble import TROUBLE, Trouble, complain

INTERRUPTED = 130


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and give its exit status: 0 nothing found, 1 findings, 2 the command could not do its work."""
    from setuplint.cli.options import parser, read

    words = sys.argv[1:] if argv is None else argv
    if not words:
        parser(words).print_help(sys.stderr)
        return TROUBLE
    args = read(words)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")
    try:
        status: int = import_module(f"setuplint.cli.{args.command.replace('-', '_')}").run(args)
        sys.stdout.flush()
    except Trouble as trouble:
        complain(str(trouble))
        return TROUBLE
    except BrokenPipeError:  # nobody reads on: what is still in the buffer must not raise again at exit
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return TROUBLE
    except KeyboardInterrupt:
        return INTERRUPTED
    return status
