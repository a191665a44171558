"""Standard output and standard error: how they are to be written to, and what happens where they cannot be."""

from __future__ import annotations

import codecs
import io
import os
import sys
from contextlib import suppress

from setuplint.cli.trouble import Trouble
from setuplint.formats.terminal import Look, log_safe
from setuplint.hints import NoReturn

WIDEST = 110
DRAWN = "setuplint.drawn"
ALIKE = {
    **dict(zip("●★─│└├·×µ−“”„’", '**-|`|.xu-"""\'', strict=True)),
    "→": "->",
    "≤": "<=",
    "≥": ">=",
    "Ω": "Ohm",
    "…": "...",
}


def stdout_look() -> Look:
    """On a terminal coloured, but not with NO_COLOR, and as wide as is good to read; elsewhere plain, 80 cells wide."""
    if sys.stdout is None or not sys.stdout.isatty():
        return Look()
    from shutil import get_terminal_size

    colour = not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb" and os.name != "nt"
    return Look(width=min(max(40, get_terminal_size().columns), WIDEST), colour=colour)


def write_out(text: str) -> None:
    """To standard output, with nothing in it that a host's log obeys. Trouble where that fails: what is lost must not look like
    a result; BrokenPipeError where nobody reads on."""
    if sys.stdout is None:
        raise Trouble("standard output is closed")
    try:
        sys.stdout.write(log_safe(text))
    except OSError as error:
        _give_up(error)


def expect_document() -> None:
    """What follows is a file's content, which says that it is UTF-8: so it is where it goes to no terminal, whatever the console
    writes."""
    if isinstance(sys.stdout, io.TextIOWrapper) and not sys.stdout.isatty():
        sys.stdout.reconfigure(encoding="utf-8")


def draw_with_what_there_is() -> None:
    """A console of few characters, as many are on Windows, gets those that are left of a drawing, and an escape for the rest."""
    codecs.register_error(DRAWN, _drawn)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors=DRAWN)


def _drawn(error: UnicodeError) -> tuple[str | bytes, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    start = error.start
    if error.object[start] in ALIKE:
        return ALIKE[error.object[start]], start + 1
    error.end = start + 1
    return codecs.backslashreplace_errors(error)


def flush_out() -> None:
    """What is still in the buffer of standard output; fails as `write_out` does."""
    try:
        if sys.stdout is not None:
            sys.stdout.flush()
    except OSError as error:
        _give_up(error)


def write_error(text: str) -> None:
    """To standard error, which may be full or closed: then the status has to do."""
    with suppress(OSError, AttributeError):
        sys.stderr.write(log_safe(text))
        sys.stderr.flush()


def _give_up(error: OSError) -> NoReturn:
    """What is still in the buffer must not fail again at exit."""
    with suppress(OSError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    if isinstance(error, BrokenPipeError):
        raise error
    raise Trouble(f"cannot write to standard output: {error.strerror or error}") from None
