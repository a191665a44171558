"""What the engine answered before, of this text or another, kept by what the answers rest on.

The same content has the same number, whatever file it is in. An answer that rests on the same question and the same numbers is
the same: a verdict hangs on its cone alone. The cases of answers are not kept, as they are states of the whole craft: they
are worked out again, by asking, where somebody looks at one.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from setuplint.named_tuple import NamedTuple
from setuplint.setup.contents import Cell, Contents
from setuplint.source.kept_tables import TablesOfMany

MOST_CELLS = 1_000  # of a file of which anything is kept
MOST_KEPT = (
    300_000  # answers, what each rests on, and contents, in units of about a hundred bytes: then all are forgotten
)


class Answered(NamedTuple):
    """What was answered, a verdict with its reasons or a delay without its case, and the work that it took."""

    answer: Any
    work: int


class Kept:
    """Numbers of contents, answers by them, and the tables that texts were read into."""

    def __init__(self) -> None:
        self.tables = TablesOfMany()
        self.forget()

    def forget(self) -> None:
        self._numbers: dict[Any, int] = {}
        self.answered: dict[Any, Answered] = {}
        self.others: dict[Any, Any] = {}  # what rules said, kept by `book.kept`
        self.called: dict[
            int, dict[frozenset[Cell], dict[frozenset[int], Any]]
        ] = {}  # by ground, kept by `book.radios`
        self.heavy: set[int] = set()  # grounds of files that come near their budget: these are always asked again
        self.weight = 0
        self.last: Known | None = None

    def known(self, contents: Contents) -> Known | None:
        """What is known of a file: the numbers of its contents. None of one that is larger than files of a craft are, and would
        take more to look up than to ask, and of one that is `heavy`."""
        if len(contents.cells) > MOST_CELLS:
            return None
        if self.weight > MOST_KEPT:
            self.forget()
        number = self._number
        ground = number(contents.ground)
        if ground in self.heavy:
            return None
        cells = {cell: number((cell, said)) for cell, said in contents.cells.items()}
        known = Known(self, ground, cells, number((ground, *cells.values())))
        known.follow(self.last)
        self.last = known
        return known

    def _number(self, content: Any) -> int:
        found = self._numbers.get(content)
        if found is None:
            found = self._numbers[content] = len(self._numbers)
            self.weight += 1 + len(repr(content)) // 100
        return found


class Known:
    """One file as the numbers of its ground, of each cell, and of all together. `apart`: what the setup that is asked about has
    besides, a latch of the question's own. `changed`: the cells in which it is another than the file of the turn before, with
    both numbers."""

    __slots__ = ("_of_cells", "apart", "cells", "changed", "everything", "ground", "kept", "turn")

    def __init__(self, kept: Kept, ground: int, cells: Mapping[Cell, int], everything: int, apart: Any = None) -> None:
        self.kept, self.ground, self.cells, self.everything, self.apart = kept, ground, cells, everything, apart
        self._of_cells: dict[frozenset[Cell], frozenset[int]] = {}
        self.turn = 0
        self.changed: dict[Cell, frozenset[int]] = {}

    def follow(self, last: Known | None) -> None:
        """It is looked at after another one; where the grounds differ there is a turn between the two."""
        if last is None:
            return
        before, now = last.cells, self.cells
        self.turn = last.turn + 1
        if last.ground != self.ground or before.keys() != now.keys():
            self.turn += 1
            return
        self.changed = {cell: frozenset((before[cell], now[cell])) for cell in now if before[cell] != now[cell]}

    def with_latch(self, apart: Any) -> Known:
        """The same file with a latch besides."""
        return Known(self.kept, self.ground, self.cells, self.everything, (self.apart, apart))

    def numbers(self, cells: frozenset[Cell]) -> frozenset[int]:
        """Those of some cells; a cell that the file does not have has none."""
        found = self._of_cells.get(cells)
        if found is None:
            known = self.cells
            found = self._of_cells[cells] = frozenset([known[cell] for cell in cells if cell in known])
            self.kept.weight += len(found) // 4
        return found

    def answered(self, question: Any, cells: frozenset[Cell]) -> tuple[Any, Answered | None]:
        """The key of a question of the file, and what was answered to it."""
        key = question, self.ground, self.numbers(cells), self.apart
        return key, self.kept.answered.get(key)

    def keep(self, key: Any, answer: Any, work: int) -> None:
        self.kept.answered[key] = Answered(answer, work)
        self.kept.weight += 1
