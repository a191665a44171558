"""What stops a command, or a file of it: one line on standard error, and the status 2."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from contextlib import suppress

TROUBLE = 2  # the exit status of a command that could not do its work


class Trouble(Exception):
    """Why the command cannot do its work, in one line."""


class TooLarge(Trouble):
    """A file has more bytes than a set-up can have."""


def complain(message: str) -> None:
    """One line about what went wrong, on standard error. Where that cannot be written to, the status has to do."""
    from setuplint.formats.terminal import log_safe, plain

    with suppress(OSError):
        print(f"setuplint: {log_safe(plain(message))}", file=sys.stderr)


def did_you_mean(word: str, words: Sequence[str]) -> str:
    """`; did you mean WORD?`, or nothing where no word is near."""
    from difflib import get_close_matches

    near = get_close_matches(word[:100], words, n=1)
    return f"; did you mean {near[0]}?" if near else ""
