"""What rules said of setups before, kept by what that rested on.

A rule is a function of what it reads: of the setup (`setup.watched` notes it), of the engine (which notes the cones it was asked
about), of what rules before it said, and of the club's limits. While all of that is the same text, so is the answer. An answer
is kept only where nothing was left undecided, as that hangs on what else was asked; and a run that comes near the file's budget
is done again without (`book.run`). A state of the craft rests on everything, so a rule that looked at one is kept for a
file of the same content alone.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping
from typing import Any

from setuplint.book.rule_file import Rule
from setuplint.budget import Spent
from setuplint.engine.kept import Kept, Known
from setuplint.findings import Finding, NotJudged, Remark
from setuplint.named_tuple import NamedTuple
from setuplint.setup.contents import Cell
from setuplint.setup.reads import Reads


class RuleAnswer(NamedTuple):
    """What one rule said of one setup, or of one part of it, and the work that it took."""

    findings: tuple[Finding, ...] = ()
    unjudged: tuple[NotJudged, ...] = ()
    undecided: tuple[tuple[str, str], ...] = ()  # subject, why; nothing is kept where there is any
    remarks: tuple[Remark, ...] = ()
    reckoned: bool = False  # with another hover throttle than was measured
    work: int = 0


class RestingAnswers:
    """Answers that rest on the same cells (None: on all of them), by the numbers of these."""

    __slots__ = ("_numbers", "_turn", "by_numbers", "cells")

    def __init__(self, cells: frozenset[Cell] | None) -> None:
        self.cells = cells
        self.by_numbers: dict[Any, RuleAnswer] = {}
        self._numbers: frozenset[int | None] = frozenset()
        self._turn = -2  # before all: a first file's turn is 0

    def numbers(self, known: Known) -> Any:
        """Those of a file, by those of the one before where these are known."""
        if self.cells is None:
            return known.everything
        if self._turn == known.turn - 1:
            for cell in known.changed.keys() & self.cells:
                self._numbers ^= known.changed[cell]
        elif self._turn != known.turn:
            self._numbers = frozenset(map(known.cells.get, self.cells))
        self._turn = known.turn
        return self._numbers


class RuleMemory:
    """What the rules of one book said of one file and of others: a club's limits make another book of it."""

    def __init__(self, kept: Kept, known: Known, rules: Mapping[str, Rule], reads: Reads, spent: Spent) -> None:
        if kept.others.get("rules") != rules:
            kept.others.clear()
            kept.others["rules"] = rules
        self.kept, self.known, self.reads, self.spent = kept, known, reads, spent

    def recalled(self, what: Hashable, judged: Callable[[], RuleAnswer]) -> RuleAnswer:
        """What was said of this before, of whatever it would read now; by judging where that is not known. What holds this is
        taken to read the same."""
        of_what = self.kept.others.setdefault((what, self.known.ground), {})
        for resting in of_what.values():
            found: RuleAnswer | None = resting.by_numbers.get(resting.numbers(self.known))
            if found is not None:
                self.reads.add(resting.cells)
                self.spent.saved += found.work
                return found
        outer = self.reads.begin()
        try:
            return self._judged(of_what, judged)
        finally:
            self.reads.end(outer)

    def _judged(self, of_what: dict[Any, Any], judged: Callable[[], RuleAnswer]) -> RuleAnswer:
        before = self.spent.work + self.spent.saved
        answer = judged()
        if self.reads.is_kept and not answer.undecided:
            cells = None if self.reads.everything else frozenset(self.reads.all_cells())
            work = self.spent.work + self.spent.saved - before
            resting = of_what.setdefault(cells, RestingAnswers(cells))
            resting.by_numbers[resting.numbers(self.known)] = answer._replace(work=work)
            self.kept.weight += 1 + len(cells or ()) // 4 + 20 * len(answer.findings)
        return answer
