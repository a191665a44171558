"""Where along a stick two outputs are furthest apart, upwards and downwards, and what they are at the hover.

On a stretch both outputs are polynomials of the stick's place, so ten places give their difference exactly; it is furthest
from zero at the stretch's ends, or where its slope is zero.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from itertools import pairwise, product

from setuplint.comparison.outputs import Alternative, ChannelComparison, differing_stretches
from setuplint.comparison.samples import Sticks, StickStretch
from setuplint.curves import polynomials, servo
from setuplint.curves.shape import FULL
from setuplint.named_tuple import NamedTuple

DEGREE = 9  # of the difference at most
COST = 100  # of a stretch, in places of the sticks that are tried
DEPTH, HALVINGS = 12, 24
MOST_STICKS = 4  # of a sum whose corners are tried
GRAINS = tuple(Fraction(grain) for grain in ("1", "0.1", "0.01", "0.001"))  # of a stick's place, the roundest first


class Spot(NamedTuple):
    """A place of the sticks, the ways that the channel goes there, and by how many points the new output is above the old."""

    alternative: Alternative
    sticks: Sticks
    by: Fraction


def furthest_spots(differ: ChannelComparison, some: Sequence[Alternative]) -> tuple[list[Spot], list[Spot]]:
    """The largest rises and the largest falls, one of each for every stretch of a stick, the largest first; of sums of several
    sticks the largest that were tried."""
    found = [spot for each in some for spot in _spots(differ, each)]
    rises, falls = ([spot for spot in found if spot.by * way > 0] for way in (1, -1))
    return sorted(rises, key=_largest_first), sorted(falls, key=_largest_first)


def _largest_first(spot: Spot) -> tuple[Fraction, Fraction]:
    """Of several as large, the one with the sticks nearest to the middle."""
    return -abs(spot.by), sum(map(abs, spot.sticks.values()), Fraction(0))


def _spots(differ: ChannelComparison, each: Alternative) -> Iterator[Spot]:
    for sticks in () if each.stretches else (*each.at, *_corners(each)):
        differ.work.add(1)
        yield Spot(each, sticks, differ.change(each.old, each.new, sticks))
    for stretch in each.stretches:
        differ.work.add(COST)
        found = [(differ.change(each.old, each.new, {stretch.stick: at}), at) for at in _places(differ, each, stretch)]
        for by, at in {max(found), min(found)}:
            yield Spot(each, {stretch.stick: at}, by)


def _corners(each: Alternative) -> Iterator[Sticks]:
    """The ends and the middles of the sticks of a sum: where it is furthest from another, more often than not."""
    names = sorted({name for place in each.at for name in place})
    for values in product((-FULL, Fraction(0), FULL), repeat=len(names)) if 0 < len(names) <= MOST_STICKS else ():
        yield dict(zip(names, values, strict=True))


def _places(differ: ChannelComparison, each: Alternative, stretch: StickStretch) -> Iterator[Fraction]:
    """A round place near each at which the difference may be furthest from zero; never an end at which a formula changes."""
    lo, hi = stretch.lo, stretch.hi
    yield stretch.at
    if lo == hi:
        return

    def change(at: Fraction) -> Fraction:
        return differ.change(each.old, each.new, {stretch.stick: at}, rounded=False)

    closed = {lo, hi} - set(differ.thresholds.get(stretch.stick, ()))
    for at in (lo, hi, *turning_places(change, lo, hi)):
        near = (round(at / grain) * grain for grain in GRAINS)
        inside = (at + grain if at == lo else at - grain for grain in GRAINS)
        for place in [at] if at in closed else inside if at in (lo, hi) else near:
            if (lo < place < hi or place in closed) and round(change(place) - change(at), 2) == 0:
                yield place
                break


def turning_places(given: Callable[[Fraction], Fraction], lo: Fraction, hi: Fraction) -> Iterator[Fraction]:
    """Where a polynomial of degree nine at most turns between two places, to a millionth of the way."""
    row = [given(lo + (hi - lo) * n / DEGREE) for n in range(DEGREE + 1)]
    power, basis = [Fraction(0)] * (DEGREE + 1), [Fraction(1)]  # in steps from lo; Newton's forward differences
    for step in range(DEGREE + 1):
        for n, coefficient in enumerate(basis):
            power[n] += row[0] * coefficient
        row = [after - before for before, after in pairwise(row)]
        shifted = [Fraction(0), *basis]
        basis = [(a - b * step) / (step + 1) for a, b in zip(shifted, [*basis, Fraction(0)], strict=True)]
    slope = polynomials.primitive(polynomials.derivative(polynomials.scaled(power)[0]))
    if len(slope) < 2:
        return
    part = polynomials.local(slope, Fraction(0), Fraction(DEGREE))
    for low, high in polynomials.isolate(polynomials.to_bernstein(part), DEPTH):
        yield lo + (hi - lo) * _root(part, low, high)


def _root(slope: polynomials.Ints, low: Fraction, high: Fraction) -> Fraction:
    beside = high - (high - low) / 2**HALVINGS  # at the end itself another may be
    after = polynomials.sign(polynomials.numerator_at(slope, beside.numerator, beside.denominator))
    for _ in range(HALVINGS if low < high else 0):
        middle = (low + high) / 2
        if polynomials.sign(polynomials.numerator_at(slope, middle.numerator, middle.denominator)) == after:
            high = middle
        else:
            low = middle
    return (low + high) / 2


def told_stretches(
    differ: ChannelComparison, some: Sequence[Alternative]
) -> dict[str, tuple[tuple[Fraction, Fraction], ...]]:
    """The stretches of each stick in which the output differs: neighbours as one, but where it is the same between them."""
    found = differing_stretches(some)
    for stick, stretches in found.items():
        ends = {end for each in some for s in each.stretches if s.stick == stick for end in (s.lo, s.hi)}
        same = [at for at in sorted(ends) if _is_same_at(differ, some, stick, at)]
        found[stick] = tuple(part for each in stretches for part in _cut(each, same))
    return found


def hangs_on(differ: ChannelComparison, some: Sequence[Alternative]) -> tuple[str, ...]:
    """The sticks of sums that are the same with all of these in the middle; none where they differ there too."""
    names = sorted({name for each in some if not each.stretches for place in each.at for name in place})
    middle = dict.fromkeys(names, Fraction(0))
    same = names and any(not differ.change(each.old, each.new, middle) for each in some if not each.stretches)
    return tuple(names) if same else ()


def _is_same_at(differ: ChannelComparison, some: Sequence[Alternative], stick: str, at: Fraction) -> bool:
    touching = [each for each in some if any(s.stick == stick and at in (s.lo, s.hi) for s in each.stretches)]
    return not any(differ.change(each.old, each.new, {stick: at}) for each in touching)


def _cut(stretch: tuple[Fraction, Fraction], places: Sequence[Fraction]) -> Iterator[tuple[Fraction, Fraction]]:
    """The stretch, cut in two at each of the places inside it."""
    lo, hi = stretch
    yield from pairwise([lo, *(at for at in places if lo < at < hi), hi])


def hover_spot(differ: ChannelComparison, some: Sequence[Alternative], hover: Fraction | None) -> Spot | None:
    """The place of the stick at which the old channel puts out what the craft was measured to hover with; None where that hangs
    on more than one stick, or is not known."""
    old = differ.pair.old
    demand = None if hover is None else servo.demand_for(old, hover)
    if demand is None:
        return None
    for each in some:
        case = each.old.case
        if case is not None and each.old.override is None and len(case.shapes) == 1:
            ((stick, shape),) = case.shapes
            cuts = shape.crossings(demand - case.constant, -FULL, FULL)
            if cuts and all(name == stick for place in each.at for name in place):
                at = min((cut.at for cut in cuts), key=abs)
                return Spot(each, {stick: at}, differ.change(each.old, each.new, {stick: at}))
    return None
