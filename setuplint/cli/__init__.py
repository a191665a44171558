"""The command. Each subcommand is a module of its own, imported only when it is asked for: start-up is a feature."""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import Sequence
from contextlib import suppress
from importlib import import_module

from setuplint.cli.trouble import TROUBLE, Trouble, complain

INTERRUPTED = 130
NEW_OBJECTS = 500_000  # that the collector waits for: a lint makes fewer, and nearly none of them in circles


def start() -> None:
    """The process of a command, from its start to its end: nothing is tidied up for a process that ends."""
    import atexit

    gc.set_threshold(NEW_OBJECTS)
    status = main()
    if atexit._ncallbacks():  # somebody has something left to do
        sys.exit(status)
    with suppress(OSError, AttributeError):  # full or closed
        sys.stderr.flush()
    os._exit(status)


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and give its exit status: 0 nothing found, 1 findings, 2 the command could not do its work."""
    from setuplint.cli.console import flush_out

    try:
        try:
            return command_status(sys.argv[1:] if argv is None else argv)
        finally:  # also where argparse ends it, after --help
            flush_out()
    except Trouble as trouble:
        complain(str(trouble))
        return TROUBLE
    except BrokenPipeError:  # nobody reads on
        return TROUBLE
    except OSError as error:  # of git's, or of the system: no folder to work in, no file left to open
        complain(": ".join(str(word) for word in (error.filename, error.strerror) if word) or str(error))
        return TROUBLE
    except KeyboardInterrupt:
        return INTERRUPTED


def command_status(words: Sequence[str]) -> int:
    """Runs the command of these words. Trouble where it cannot do its work, SystemExit where argparse ends it."""
    from setuplint.cli.options import parsed_words, parser

    if not words:
        parser(words).print_help(sys.stderr)
        return TROUBLE
    from setuplint.cli.console import draw_with_what_there_is

    draw_with_what_there_is()
    args = parsed_words(words)
    if sys.stdin is None:  # it is closed: there is nothing in it
        sys.stdin = open(os.devnull, encoding="utf-8")  # noqa: SIM115
    status: int = import_module(f"setuplint.cli.{args.command.replace('-', '_')}").run(args)
    return status
