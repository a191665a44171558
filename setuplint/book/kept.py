"""What rules said of setups before, kept by what that rested on.

A rule is a function of what it reads: of the setup (`setup.watched` notes it), of the engine (which notes the cones it was asked
about), of what rules before it said, and of the club's limits. While all of that is the same text, so is the answer. An answer
is kept only where nothing was left undecided, as that hangs on what else was asked; and a run that comes near the file's budget
is done again without (`book.run`). A state of the craft rests on everything, so a rule that looked at one is kept for a
file of the same content alone.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Mapping
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
        for cells, answers in of_what.items():
            found: RuleAnswer | None = answers.get(self._numbers(cells))
            if found is not None:
                self.reads.add(cells)
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
            cells = None if self.reads.everything else tuple(self.reads.all_cells())
            work = self.spent.work + self.spent.saved - before
            of_what.setdefault(cells, {})[self._numbers(cells)] = answer._replace(work=work)
            self.kept.weight += 1 + len(cells or ()) // 4 + 20 * len(answer.findings)
        return answer

    def _numbers(self, cells: Iterable[Cell] | None) -> Any:
        if cells is None:
            return self.known.everything
        return tuple([self.known.cells.get(cell) for cell in cells])
