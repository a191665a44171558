"""The progress of a long run: one line on a terminal, redrawn in place and removed at the end; elsewhere nothing."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable, Iterator
from contextlib import suppress
from time import monotonic

from setuplint.hints import TypeVar

Item = TypeVar("Item")
AFTER, AGAIN = 0.5, 0.1  # seconds: a short run shows nothing, and a long one is not all drawing
WIDEST = 79
ERASE = "\r\x1b[K"


class Progress:
    """`over` draws the line as its items come; whoever writes anything else meanwhile calls `clear` before."""

    def __init__(self) -> None:
        terminal = bool(sys.stderr and sys.stderr.isatty()) and os.environ.get("TERM", "") not in ("", "dumb")
        self.seen = terminal and not os.environ.get("CI")  # some CI has a terminal, and keeps what is written to it
        self._next = monotonic() + AFTER
        self._drawn = False

    def over(self, items: Iterable[Item], doing: str, total: int | None = None) -> Iterator[Item]:
        """The items. `total` is how many there will be, if that is known; with one there is nothing to count."""
        try:
            for number, item in enumerate(items, start=1):
                if total is None or total > 1:
                    self._draw(doing, number, total)
                yield item
        finally:
            self.clear()

    def clear(self) -> None:
        if self._drawn:
            self._drawn = False
            self._write(ERASE)

    def _draw(self, doing: str, number: int, total: int | None) -> None:
        if not self.seen or monotonic() < self._next:
            return
        self._next = monotonic() + AGAIN
        self._drawn = True
        of = "" if total is None else f" of {total:,}"
        self._write(f"{ERASE}{f'{doing}: {number:,}{of}'[: self._width()]}")

    def _width(self) -> int:
        """One cell less than the terminal has: a full line would wrap, and stay."""
        try:
            columns = os.get_terminal_size(sys.stderr.fileno()).columns
        except (OSError, ValueError):
            columns = 0  # as some terminals say themselves
        return min(columns - 1, WIDEST) if columns else WIDEST

    def _write(self, words: str) -> None:
        with suppress(OSError, ValueError):  # a terminal that is gone is no reason to stop
            sys.stdout.flush()
            sys.stderr.write(words)
            sys.stderr.flush()
