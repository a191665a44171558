"""What the engine answered before, of this text or another, kept by what the answers rest on.

The same content has the same number, whatever file it is in. An answer that rests on the same question and the same numbers is
the same: a verdict hangs on its cone alone. The cases of answers are not kept, as they are states of the whole craft: they
are worked out again, by asking, where somebody looks at one.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from setuplint.named_tuple import NamedTuple
from setuplint.setup.contents import Cell, Contents

MOST_ANSWERS = 300_000  # and numbers: then all are forgotten


class Answered(NamedTuple):
    """What was answered, a verdict with its reasons or a delay without its case, and the work that it took."""

    answer: Any
    work: int


class Kept:
    """Numbers of contents, and answers by them."""

    def __init__(self) -> None:
        self.forget()

    def forget(self) -> None:
        self._numbers: dict[Any, int] = {}
        self.answered: dict[Any, Answered] = {}
        self.others: dict[Any, Any] = {}  # what rules said, kept by `book.kept`
        self.count = 0

    def known(self, contents: Contents) -> Known:
        """What is known of a file: the numbers of its contents."""
        if self.count > MOST_ANSWERS or len(self._numbers) > MOST_ANSWERS:
            self.forget()
        number = self._number
        ground = number(contents.ground)
        cells = {cell: number((cell, said)) for cell, said in contents.cells.items()}
        return Known(self, ground, cells, number((ground, *cells.values())))

    def _number(self, content: Any) -> int:
        return self._numbers.setdefault(content, len(self._numbers))


class Known:
    """One file as the numbers of its ground, of each cell, and of all together. `apart`: what the setup that is asked about has
    besides, a latch of the question's own."""

    __slots__ = ("apart", "cells", "everything", "ground", "kept")

    def __init__(self, kept: Kept, ground: int, cells: Mapping[Cell, int], everything: int, apart: Any = None) -> None:
        self.kept, self.ground, self.cells, self.everything, self.apart = kept, ground, cells, everything, apart

    def with_latch(self, apart: Any) -> Known:
        """The same file with a latch besides."""
        return Known(self.kept, self.ground, self.cells, self.everything, (self.apart, apart))

    def numbers(self, cells: Iterable[Cell]) -> frozenset[int]:
        """Those of some cells; a cell that the file does not have has none."""
        known = self.cells
        return frozenset([known[cell] for cell in cells if cell in known])

    def answered(self, question: Any, cells: Iterable[Cell]) -> tuple[Any, Answered | None]:
        """The key of a question of the file, and what was answered to it."""
        key = question, self.ground, self.numbers(cells), self.apart
        return key, self.kept.answered.get(key)

    def keep(self, key: Any, answer: Any, work: int) -> None:
        self.kept.answered[key] = Answered(answer, work)
        self.kept.count += 1
