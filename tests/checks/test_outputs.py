"""Where two terms of a stick are apart, held against their values along the stick."""

from __future__ import annotations

from fractions import Fraction
from itertools import product

import pytest

from setuplint.curves.shape import Interval, Shape
from setuplint.curves.turns import apart

BENT = [(Fraction(x), Fraction(y)) for x, y in ((-100, -100), (-50, -14), (0, 16), (50, 46), (100, 100))]
LATE = [(Fraction(x), Fraction(y)) for x, y in ((-100, -100), (-50, -14), (0, 16), (50, 60), (100, 100))]
SHAPES = [
    None,
    *(Shape.of(None, None, Fraction(rate), Fraction(expo)) for rate, expo in ((60, 0), (60, 30), (90, 0), (130, 20))),
    *(Shape.of(points, kind, Fraction(100), Fraction(0)) for points in (BENT, LATE) for kind in ("none", "monotone")),
]
GRID = [Fraction(n, 4) for n in range(-400, 401)]


def within(x: Fraction, stretch: Interval) -> bool:
    lo, lo_closed, hi, hi_closed = stretch
    return lo.at < x < hi.at or (x == lo.at and lo_closed) or (x == hi.at and hi_closed)


@pytest.mark.parametrize("by", [Fraction(0), Fraction("1.5")])
def test_places_apart_are_those_at_which_the_values_are(by: Fraction) -> None:
    """Single places between round ones are the only ones at which they may be the same within a stretch."""
    for one, two in product(SHAPES, repeat=2):
        gaps = {x: by + (one.value(x) if one else 0) - (two.value(x) if two else 0) for x in GRID}
        stretches = apart(one, two, by)
        missed = [x for x, gap in gaps.items() if bool(gap) != any(within(x, stretch) for stretch in stretches)]
        assert not [x for x in missed if gaps[x]]
        assert len(missed) <= len(stretches)
        far = apart(one, two, by, Fraction(1))
        assert bool(far) == any(gaps.values())
        assert all(abs(gaps[s.lo.at]) >= max(map(abs, gaps.values())) / 2 for s in far if s.lo.at in gaps)
