"""A real quantity (a stick, a voltage) as an ordered set of cuts, with a literal for each side of each cut."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterator
from fractions import Fraction
from typing import NamedTuple

from setuplint.curves.shape import Interval
from setuplint.solver.sat import FALSE, TRUE, Sat

ALIKE = Fraction(2, 10**9)
Pair = tuple[int, int]  # literals for "below the cut" and "at or below it"


class Cell(NamedTuple):
    """A stretch of a quantity in which every comparison asked so far is constant; a single point where lo == hi."""

    lo: Fraction
    hi: Fraction
    lo_closed: bool
    hi_closed: bool
    above: int  # literal for being above its lower end
    under: int  # literal for being under its upper end


class Quantity:
    """Real values in [lo, hi]. Asking for a cut adds it; asking again gives the same literals."""

    def __init__(self, sat: Sat, lo: Fraction, hi: Fraction) -> None:
        self.sat, self.lo, self.hi = sat, lo, hi
        self.at: list[Fraction] = []
        self.near: list[float] = []  # the same as floats: quicker to search
        self.pairs: list[Pair] = []

    def cut(self, at: Fraction, exact: bool = True) -> Pair:
        """The literals of a cut. One that is not exact stands for an irrational place within 1e-9 of `at`; two of these whose
        order cannot be told are taken for one."""
        if at < self.lo:
            return FALSE, FALSE
        if at > self.hi:
            return TRUE, TRUE
        near = float(at)
        place = bisect_left(self.near, near)
        while place < len(self.at) and self.near[place] == near and self.at[place] < at:
            place += 1
        if place < len(self.at) and self.at[place] == at:
            return self.pairs[place]
        for beside in (place - 1, place) if not exact else ():
            if 0 <= beside < len(self.at) and abs(self.at[beside] - at) <= ALIKE:
                below, upto = self.pairs[beside]
                if below == upto:
                    return below, upto
        sat = self.sat
        below = FALSE if at == self.lo else sat.variable()
        upto = TRUE if at == self.hi else sat.variable() if exact else below
        sat.clause(-below, upto)
        if place:
            sat.clause(-self.pairs[place - 1][1], below)
        if place < len(self.at):
            sat.clause(-upto, self.pairs[place][0])
        self.at.insert(place, at)
        self.near.insert(place, near)
        self.pairs.insert(place, (below, upto))
        return below, upto

    def compare(self, op: str, number: Fraction) -> int:
        below, upto = self.cut(number)
        return {"<": below, "<=": upto, ">": -upto, ">=": -below}[op]

    def inside(self, interval: Interval) -> int:
        """The literal for being in an interval."""
        low = self.cut(interval.lo.at, interval.lo.exact)
        high = self.cut(interval.hi.at, interval.hi.exact)
        return self.sat.both((-low[0] if interval.lo_closed else -low[1], high[1] if interval.hi_closed else high[0]))

    def cells(self) -> Iterator[Cell]:
        """All cells, upwards."""
        last, above, first = self.lo, TRUE, True
        for at, (below, upto) in zip(self.at, self.pairs, strict=True):
            if at > self.lo:
                yield Cell(last, at, first, False, above, below)
            if upto != below:
                yield Cell(at, at, True, True, -below, upto)
            last, above, first = at, -upto, False
        if last < self.hi:
            yield Cell(last, self.hi, first, True, above, TRUE)

    def cell(self, holds: Callable[[int], bool]) -> Cell:
        """The cell in which an assignment lies."""
        last, above, first = self.lo, TRUE, True
        for at, (below, upto) in zip(self.at, self.pairs, strict=True):
            if holds(below) and holds(above) and at > self.lo:
                return Cell(last, at, first, False, above, below)
            if upto != below and holds(upto) and holds(-below):
                return Cell(at, at, True, True, -below, upto)
            last, above, first = at, -upto, False
        return Cell(last, self.hi, first, True, above, TRUE)


class Fixed(Quantity):
    """A quantity that lies in one stretch: between two neighbouring cuts, or at a value where lo == hi."""

    def __init__(self, sat: Sat, lo: Fraction, hi: Fraction) -> None:
        super().__init__(sat, lo, hi)
        self.point = lo == hi

    def cut(self, at: Fraction, exact: bool = True) -> Pair:
        if self.point:
            return (TRUE if self.lo < at else FALSE), (TRUE if self.lo <= at and (exact or self.lo < at) else FALSE)
        if at <= self.lo:
            return FALSE, FALSE
        if at >= self.hi:
            return TRUE, TRUE
        raise AssertionError("a stretch is cut nowhere")

    def cells(self) -> Iterator[Cell]:
        """The stretch itself, or the point."""
        yield self.cell(bool)

    def cell(self, holds: Callable[[int], bool]) -> Cell:
        """The same."""
        return Cell(self.lo, self.hi, self.point, self.point, TRUE, TRUE)
