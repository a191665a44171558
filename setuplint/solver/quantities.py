"""A real quantity (a stick, a voltage) as an ordered set of cuts, with a literal for each side of each cut."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterator
from fractions import Fraction

from setuplint.curves.shape import Interval
from setuplint.curves.surds import Place, Surd, compared
from setuplint.named_tuple import NamedTuple
from setuplint.solver.sat import FALSE, TRUE, Sat

Pair = tuple[int, int]  # literals for "below the cut" and "at or below it"


def _fraction(place: Place) -> Fraction:
    return place.near if isinstance(place, Surd) else place


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
        self.places: list[Place] = []
        self.at: list[Fraction] = []  # the same, as fractions so near that the middle of two neighbours is between them
        self.near: list[float] = []  # the same as floats: quicker to search
        self.pairs: list[Pair] = []
        self.known: dict[Place, Pair] = {}

    @property
    def is_fixed(self) -> bool:
        """Whether it has one value only."""
        return self.lo == self.hi

    def cut(self, place: Place) -> Pair:
        """The literals of a cut. No decimal is a root, so that being at it is nothing a stick is put to: its two are one."""
        found = self.known.get(place)
        if found is None:
            found = self.known[place] = self._cut(place)
        return found

    def _cut(self, place: Place) -> Pair:
        low, high = compared(place, self.lo), compared(place, self.hi)
        if low < 0:
            return FALSE, FALSE
        if high > 0:
            return TRUE, TRUE
        index, met = self._find(place)
        if met:
            return self.pairs[index]
        sat, exact = self.sat, isinstance(place, Fraction)
        below = FALSE if low == 0 else sat.variable()
        upto = TRUE if high == 0 else sat.variable() if exact else below
        sat.clause(-below, upto)
        if index:
            sat.clause(-self.pairs[index - 1][1], below)
        if index < len(self.at):
            sat.clause(-upto, self.pairs[index][0])
        self.pairs.insert(index, (below, upto))
        self.places.insert(index, place)
        self.at.insert(index, self.lo)
        self.near.insert(index, 0.0)
        self._name(index)
        self._part(index)
        return below, upto

    def _find(self, place: Place) -> tuple[int, bool]:
        """Where a place stands among the cuts, or would; and whether it is one of them."""
        index = bisect_left(self.near, float(_fraction(place)))
        while index and compared(place, self.places[index - 1]) <= 0:
            index -= 1
        order = 1
        while index < len(self.places) and (order := compared(place, self.places[index])) > 0:
            index += 1
        return index, order == 0

    def _name(self, index: int) -> None:
        at = _fraction(self.places[index])
        self.at[index], self.near[index] = at, float(at)

    def _part(self, index: int) -> None:
        """Bring roots so near to what names them that a new cut can be told from its neighbours and the ends."""
        if all(isinstance(place, Fraction) for place in self.places[max(index - 1, 0) : index + 2]):
            return
        for left in (index - 1, index):
            while not self._parted(left):
                for one in (left, left + 1):
                    if 0 <= one < len(self.places) and isinstance(root := self.places[one], Surd):
                        self.places[one] = root.finer()
                        self._name(one)

    def _parted(self, left: int) -> bool:
        """Whether a cut and the next, or an end, are further apart than four times the error of their names."""
        pair = (left, left + 1)
        low = self.at[left] if left >= 0 else self.lo
        high = self.at[left + 1] if left + 1 < len(self.at) else self.hi
        errors = [root.error for n in pair if 0 <= n < len(self.places) and isinstance(root := self.places[n], Surd)]
        return not errors or high - low > 4 * max(errors)

    def compare(self, op: str, number: Fraction) -> int:
        below, upto = self.cut(number)
        return {"<": below, "<=": upto, ">": -upto, ">=": -below}[op]

    def inside(self, interval: Interval) -> int:
        """The literal for being in an interval."""
        low, high = self.cut(interval.lo.place), self.cut(interval.hi.place)
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

    def _cut(self, place: Place) -> Pair:
        low, high = compared(place, self.lo), compared(place, self.hi)
        if self.is_fixed:
            return (TRUE if low > 0 else FALSE), (TRUE if low >= 0 else FALSE)
        if low <= 0:
            return FALSE, FALSE
        if high >= 0:
            return TRUE, TRUE
        raise AssertionError("a stretch is cut nowhere")

    def cells(self) -> Iterator[Cell]:
        """The stretch itself, or the point."""
        yield self.cell(bool)

    def cell(self, holds: Callable[[int], bool]) -> Cell:
        """The same."""
        return Cell(self.lo, self.hi, self.is_fixed, self.is_fixed, TRUE, TRUE)
