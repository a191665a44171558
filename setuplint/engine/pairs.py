"""Which pairs of many formulas can hold together, asked of all pairs at once.

An assignment tells of every pair that holds in it; what follows from one formula tells of every pair that it rules out. Only what
neither tells is searched for.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from setuplint.budget import OutOfBudget
from setuplint.engine.answers import FOUND, IMPOSSIBLE
from setuplint.hints import TYPE_CHECKING
from setuplint.setup import formulas as f
from setuplint.setup.cone import has_kind

if TYPE_CHECKING:
    from setuplint.engine.search import Search
    from setuplint.solver.reach import Reach

Pair = tuple[int, int]  # places among the formulas


def verdicts(search: Search, formulas: Sequence[f.Formula], pairs: Iterable[Pair]) -> Iterator[tuple[Pair, str]]:
    """The verdict that `find` would give of both formulas of each pair, as far as it can be told so: FOUND or IMPOSSIBLE, or
    "" where that has to be asked: something is not described, or memory or a sum of sticks is free to be what it never is."""
    cones = [search.cone([formula]) for formula in formulas]
    free = [not (search.reach.remembers(cone) or has_kind(cone, "channel")) for cone in cones]
    together = _Together(search.reach, formulas)
    for pair in pairs:
        verdict = together.verdict(pair)
        yield pair, verdict if verdict == IMPOSSIBLE or (free[pair[0]] and free[pair[1]]) else ""


class _Together:
    """What is known of formulas that hold together, memory and sums being free."""

    def __init__(self, reach: Reach, formulas: Sequence[f.Formula]) -> None:
        self.sat, frame = reach.sat, reach.base.settled
        self.sat.new_question()
        self.rails = [frame.truth(formula) for formula in formulas]
        self.literals = [true for true, _ in self.rails]
        self.sat.prefer(self.literals)  # one assignment then tells of many pairs
        self.holding = [0] * len(formulas)  # in which assignments, as bits
        self.assignments = 0
        self.follow: dict[int, set[int]] = {}

    def verdict(self, pair: Pair) -> str:
        one, other = pair
        if any(true != -false for true, false in (self.rails[one], self.rails[other])):
            return ""
        if self.holding[one] & self.holding[other]:
            return FOUND
        try:
            if -self.literals[other] in self._follows(one) or not self.sat.solve(
                [self.literals[one], self.literals[other]]
            ):
                return IMPOSSIBLE
        except OutOfBudget:
            return ""
        bit = 1 << self.assignments
        self.assignments += 1
        for place, holds in enumerate(self.sat.model().of(self.literals)):
            if holds:
                self.holding[place] |= bit
        return FOUND

    def _follows(self, place: int) -> set[int]:
        """What follows from one of the literals without searching."""
        if place not in self.follow:
            self.follow[place] = self.sat.following(self.literals[place])
        return self.follow[place]
