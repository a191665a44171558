"""The command. Each subcommand is a module of its own, imported only when it is asked for: start-up is a feature."""

from __future__ import annotations

import io
import os
import sys
from collections.abc import Sequence
from importlib import import_module

TROUBLE = 2  # the exit status of a command that could not do its work
INTERRUPTED = 130


class Trouble(Exception):
    """Why the command cannot do its work, in one line."""


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


def complain(message: str) -> None:
    """One line about what went wrong, on standard error."""
    from setuplint.formats.terminal import plain

    print(f"setuplint: {plain(message)}", file=sys.stderr)


def nearest(word: str, words: Sequence[str]) -> str:
    """`; did you mean WORD?`, or nothing where no word is near."""
    from difflib import get_close_matches

    near = get_close_matches(word[:100], words, n=1)
    return f"; did you mean {near[0]}?" if near else ""
