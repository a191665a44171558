"""Where two sums of several sticks give different outputs.

In every box of the formulas' thresholds places are tried until one tells them apart. Where none does they may still differ
between the places, as where limits let little of a sum through. If the one sum is the other and a constant all over the box, then
the outputs are two functions of one number, bent at a few places, and that is decided; so is a box in which both stand still.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import islice, pairwise, product

from setuplint.comparison.samples import Sticks, vectors
from setuplint.curves import sums
from setuplint.curves.shape import FULL, Shape
from setuplint.curves.turns import places, turns
from setuplint.named_tuple import NamedTuple
from setuplint.setup.model import ZERO

MOST_VECTORS = 4_000  # places of several sticks that are tried for one pair of sums
HALVINGS = 40
SUSPECT = 10  # of these places, as much as a place costs that has to be looked for
GRAINS = tuple(Fraction(grain) for grain in ("1", "0.1", "0.01", "0.001"))  # of a stick's place, the roundest first

Box = tuple[tuple[Fraction, Fraction], ...]


class SummedWay(NamedTuple):
    """One of the two: its sum (of nothing, where an override gives a value), what comes out for it, and where that bends."""

    shapes: Mapping[str, Shape]
    constant: Fraction
    output: Callable[[Fraction], Fraction]
    bends: tuple[Fraction, ...]

    def sum_at(self, sticks: Sticks) -> Fraction:
        return sum((shape.value(sticks[name]) for name, shape in self.shapes.items()), self.constant)

    def range_over(self, ends: sums.Box) -> tuple[Fraction, Fraction]:
        low, high = sums.limits(tuple(self.shapes.items()), ends)
        return low + self.constant, high + self.constant


class SumPair:
    """The two ways, and the sticks that turn either. `spend` counts places that are tried."""

    def __init__(
        self, old: SummedWay, new: SummedWay, thresholds: Mapping[str, Sequence[Fraction]], spend: Callable[[int], None]
    ) -> None:
        self.old, self.new, self.thresholds, self.spend = old, new, thresholds, spend
        self.names = sorted({*old.shapes, *new.shapes})
        self._gaps: dict[tuple[str, Fraction, Fraction], Fraction | None] = {}

    def places(self) -> tuple[list[Sticks], bool]:
        """A place in each box in which they differ, and whether it is proved that there are no others."""
        found: list[Sticks] = []
        proved, tried = True, 0
        for box in product(*map(self._stretches, self.names)):
            self.spend(1)
            for values in vectors([self._tries(name, *ends) for name, ends in zip(self.names, box, strict=True)]):
                tried += 1
                if tried > MOST_VECTORS:
                    return found, False
                place: Sticks = dict(zip(self.names, values, strict=True))
                if self.differ(place):
                    found.append(place)
                    break
            else:
                suspects = [self._place(box, *suspect) for suspect in self._suspects(box)]
                tried += SUSPECT * len(suspects)
                told = [place for place in suspects if self.differ(place)]
                found += told[:1]
                proved = proved and (bool(told) or not suspects)
        return found, proved

    def differ(self, sticks: Sticks) -> bool:
        self.spend(1)
        return self.old.output(self.old.sum_at(sticks)) != self.new.output(self.new.sum_at(sticks))

    def _stretches(self, stick: str) -> list[tuple[Fraction, Fraction]]:
        ends = sorted({-FULL, FULL, *self.thresholds.get(stick, ())})
        return [*pairwise(ends), *((at, at) for at in ends)]

    def _marks(self, stick: str, lo: Fraction, hi: Fraction) -> list[Fraction]:
        """The ends, and between them where a term goes from one polynomial to another."""
        shapes = (way.shapes[stick] for way in (self.old, self.new) if stick in way.shapes)
        return sorted({lo, hi, *(at for shape in shapes for at in turns(shape) if lo < at < hi)})

    def _tries(self, stick: str, lo: Fraction, hi: Fraction) -> list[Fraction]:
        """A few round places in every stretch of the stick within a box."""
        return [lo] if lo == hi else [at for a, b in pairwise(self._marks(stick, lo, hi)) for at in places(a, b)[:3]]

    def _suspects(self, box: Box) -> Iterator[tuple[SummedWay, Fraction]]:
        """Sums at which the outputs may differ in a box, though no place that was tried told it; none where they are the same."""
        ends = dict(zip(self.names, box, strict=True))
        ranges = [(way, *way.range_over(ends)) for way in (self.old, self.new)]
        gap = self._gap(box)
        moving = [each for each in ranges if each[0].output(each[1]) != each[0].output(each[2])]
        if gap is not None:
            yield from self._first_apart(*ranges[0], lambda demand: self.new.output(demand + gap), gap)
        elif len(moving) == 1:
            still = next(way.output(low) for way, low, _ in ranges if way is not moving[0][0])
            yield from self._first_apart(*moving[0], lambda _: still)
        else:
            for way, low, high in moving:
                pieces = ((a, b) for a, b in self._pieces(low, high) if way.output(a) != way.output(b))
                yield from ((way, (a + b) / 2) for a, b in pieces)

    def _first_apart(
        self, way: SummedWay, low: Fraction, high: Fraction, other: Callable[[Fraction], Fraction], gap: Fraction = ZERO
    ) -> Iterator[tuple[SummedWay, Fraction]]:
        """One sum of those over which two outputs are not the same; both are straight in each piece."""
        tried = ((a * part + b * (10 - part)) / 10 for a, b in self._pieces(low, high, gap) for part in (5, 9, 1))
        yield from islice(((way, each) for each in tried if way.output(each) != other(each)), 1)

    def _pieces(self, low: Fraction, high: Fraction, gap: Fraction = ZERO) -> Iterator[tuple[Fraction, Fraction]]:
        """The stretches of a sum between which an output may bend, the new one's sum being greater by the gap."""
        bends = {*self.old.bends, *self.new.bends, *(bend - gap for bend in self.new.bends)}
        marks = sorted({low, high, *(bend for bend in bends if low < bend < high)})
        self.spend(3 * len(marks))
        return pairwise(marks)

    def _gap(self, box: Box) -> Fraction | None:
        """By how much the new sum is above the old one all over a box; None where that changes."""
        gaps = [self._stick_gap(name, *ends) for name, ends in zip(self.names, box, strict=True)]
        known = [gap for gap in gaps if gap is not None]
        return sum(known, self.new.constant - self.old.constant) if len(known) == len(gaps) else None

    def _stick_gap(self, stick: str, lo: Fraction, hi: Fraction) -> Fraction | None:
        key = (stick, lo, hi)
        if key not in self._gaps:
            old, new = self.old.shapes.get(stick), self.new.shapes.get(stick)
            marks = self._marks(stick, lo, hi) if old != new else [lo, hi]
            tried = [at for a, b in pairwise(marks) for at in places(a, b)] if lo < hi and old != new else [lo]
            self.spend(len(tried))
            gaps = {(new.value(at) if new else ZERO) - (old.value(at) if old else ZERO) for at in tried}
            self._gaps[key] = gaps.pop() if len(gaps) == 1 else None
        return self._gaps[key]

    def _place(self, box: Box, way: SummedWay, demand: Fraction) -> Sticks:
        """A place in a box, its ends left out, at which a sum is as good as this: on the way from its least to its greatest,
        which passes all between."""
        ends = dict(zip(self.names, box, strict=True))
        path = {name: ((lo + hi) / 2, (lo + hi) / 2) for name, (lo, hi) in ends.items()}
        for name, shape in way.shapes.items():
            (least, _), (greatest, _) = shape.extremes(*ends[name])
            path[name] = (least, greatest) if least != greatest else path[name]
        low, high = ZERO, Fraction(1)
        place: dict[str, Fraction] = {}
        for _ in range(HALVINGS):
            self.spend(1)
            part = (low + high) / 2
            place = {name: a + (b - a) * part for name, (a, b) in path.items()}
            low, high = (part, high) if way.sum_at(place) < demand else (low, part)
        rounded = ({name: round(at / grain) * grain for name, at in place.items()} for grain in GRAINS)
        inside = (
            each for each in rounded if all(lo < each[n] < hi or lo == each[n] == hi for n, (lo, hi) in ends.items())
        )
        return next((each for each in inside if self.differ(each)), place)
