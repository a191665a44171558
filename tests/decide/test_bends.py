"""Turns, valleys, slopes and overshoot of curves as flown."""

from fractions import Fraction
from itertools import combinations, pairwise

import numpy
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import CubicHermiteSpline, CubicSpline, PchipInterpolator

from setuplint.curves.bends import (
    Turn,
    is_valley,
    range_over,
    slope_range,
    turns_against,
)
from setuplint.curves.cubics import CubicCurve
from setuplint.curves.shape import Extreme, Shape, curve, value

F = Fraction
KINDS = ("none", "monotone", "cardinal", "natural")
Points = tuple[tuple[Fraction, Fraction], ...]


def points(text: str) -> Points:
    return tuple((F(x), F(y)) for x, y in (pair.split(",") for pair in text.split()))


RPN_14 = points(
    "7.99,0 8.09,2.76429e-5 8.19,4.37498e-2 8.7,0.169183 9.2,0.469428 10,0.943740 12,0.998636 15,0.999919 20,0.999994"
)
AKIMA = points("0,10 2,10 3,10 5,10 6,10 8,10 9,10.5 11,15 12,50 14,60 15,85")
PEAK = points("-100,-100 -40,60 0,10 30,55 100,100")
BOWL = points("-100,100 -50,50 0,40 50,60 100,100")


@pytest.mark.parametrize(
    ("at", "expected"),
    [
        ("-100,-100 0,24 100,100", Turn(F(-100), F(-100), F(0))),
        ("-100,-100 -40,60 0,10 30,55 100,100", Turn(F(-40), F(0), F(50))),
        ("-100,100 -40,-60 0,-10 30,-55 100,-100", Turn(F(-40), F(0), F(50))),
        ("-100,0 -50,30 0,-10 100,0", Turn(F(-50), F(0), F(40))),
        ("-100,0 -50,-30 0,10 100,0", Turn(F(-50), F(0), F(40))),
        ("-100,7 100,7", Turn(F(-100), F(-100), F(0))),
        ("-100,0 -50,30 0,-10 20,50 40,-1 100,10", Turn(F(20), F(40), F(51))),
    ],
)
def test_turns_against_the_direction_of_its_ends(at: str, expected: Turn) -> None:
    assert turns_against(curve(points(at), "none")) == expected


def test_a_turn_as_flown_is_in_places_of_the_stick() -> None:
    assert turns_against(Shape.of(PEAK, "none", F(-80), F(0))) == Turn(F(0), F(50), F(50))
    assert turns_against(Shape.of(PEAK, "none", F(40), F(0))).amount == 50
    assert turns_against(Shape.of(PEAK, "none", F(30), F(0))) == Turn(F(-100), F(0), F("37.5"))


@pytest.mark.parametrize("at", [RPN_14, AKIMA, PEAK, BOWL])
@pytest.mark.parametrize("smoothing", KINDS[1:])
def test_turns_agree_with_scipys_extremes(at: Points, smoothing: str) -> None:
    x, y = (numpy.array([float(p[i]) for p in at]) for i in (0, 1))
    chords = numpy.diff(y) / numpy.diff(x)
    theirs = {
        "monotone": lambda: PchipInterpolator(x, y),
        "natural": lambda: CubicSpline(x, y, bc_type="natural"),
        "cardinal": lambda: CubicHermiteSpline(x, y, [chords[0], *((y[2:] - y[:-2]) / (x[2:] - x[:-2])), chords[-1]]),
    }[smoothing]()
    places = sorted([*x, *(r for r in theirs.derivative().roots(extrapolate=False) if r == r)])
    heights = theirs(numpy.array(places))
    rising = {1.0} if y[-1] > y[0] else {-1.0} if y[-1] < y[0] else {1.0, -1.0}
    expected = max([0.0, *(d * (a - b) for d in rising for a, b in combinations(heights, 2))])
    assert float(turns_against(curve(at, smoothing)).amount) == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize(
    ("at", "expected"),
    [
        ("-100,100 0,40 100,100", True),
        ("-100,100 0,40 50,40 100,41", True),
        ("-100,41 0,40 50,99 100,98.991", True),
        ("-100,41 0,40 50,99 100,98.98", False),
        ("-100,100 -50,50 -20,50.02 0,40 100,41", False),
        ("-100,100 -50,50 -20,50.01 0,40 100,41", True),
        ("-100,-100 100,100", False),
        ("-100,100 100,-100", False),
        ("-100,50 100,50", False),
        ("-100,0 0,40 100,0", False),
        ("-100,100 -50,0 0,50 50,0 100,100", False),
    ],
)
def test_a_valley_has_one_bottom(at: str, expected: bool) -> None:
    assert is_valley(curve(points(at), "none")) is expected
    assert is_valley(Shape.of(points(at), "none", F(-100), F(30))) is expected


def test_a_valley_out_of_reach_is_none() -> None:
    bowl = points("-100,100 60,40 100,100")
    assert is_valley(Shape.of(bowl, "none", F(100), F(0)))
    assert not is_valley(Shape.of(bowl, "none", F(50), F(0)))


# straight halves through a hover of 24, and softened to 0.6: arithmetic
@pytest.mark.parametrize(
    ("at", "lo", "hi", "least", "greatest"),
    [
        ("-100,-100 0,24 100,100", -100, 100, "0.76", "1.24"),
        ("-100,-100 0,24 100,100", 0, 20, "0.76", "0.76"),
        ("-100,-100 -50,-6 0,24 50,54 100,100", -20, 20, "0.6", "0.6"),
        ("-100,-100 -50,-6 0,24 50,54 100,100", -100, 100, "0.6", "1.88"),
        ("-50,-50 50,50", -100, 100, "0", "1"),
        ("-50,-50 50,50", -100, -50, "0", "0"),
    ],
)
def test_slopes_of_straight_lines_are_exact(at: str, lo: int, hi: int, least: str, greatest: str) -> None:
    low, high = slope_range(curve(points(at), "none"), F(lo), F(hi))
    assert (low[1], high[1]) == (F(least), F(greatest))


def test_slopes_of_expo() -> None:
    # 1 - k in the middle, 1 + 2k at the ends, 1 at 1/sqrt 3: algebra
    full = Shape.of(None, None, F(100), F(30))
    assert slope_range(full) == ((F(0), F("0.7")), (F(-100), F("1.6")))
    (_, least), (_, greatest) = slope_range(full, F("57.735026918"), F("57.735026919"))
    assert least < 1 < greatest
    assert slope_range(Shape.of(None, None, F(-90), F(30)), F(-10), F(50))[1] == (F(50), F("0.794025"))
    assert slope_range(Shape.of(None, None, F(150), F(0)))[0] == (F("-66.666666667"), 0)
    assert slope_range(Shape.of(None, None, F(0), F(30))) == ((F(-100), 0), (F(-100), 0))


def test_a_slope_needs_a_stretch() -> None:
    with pytest.raises(ValueError, match="stretch"):
        slope_range(curve(BOWL, "none"), F(5), F(5))


@st.composite
def flown(draw: st.DrawFn) -> Shape:
    x = draw(st.lists(st.integers(-100, 100), min_size=2, max_size=6, unique=True))
    at = tuple((F(a), F(draw(st.integers(-150, 150)))) for a in sorted(x))
    rate = draw(st.sampled_from([100, -100, 150, -130, 60, 0]))
    expo = draw(st.sampled_from([0, 0, 30, -50, 100]) | st.integers(-50, 100))
    return Shape.of(at, draw(st.sampled_from(KINDS)), F(rate), F(expo))


@pytest.mark.slow
@given(flown(), st.integers(-100, 99), st.integers(1, 200))
@settings(max_examples=150)
def test_slopes_bound_every_chord_and_are_met(shape: Shape, lo: int, width: int) -> None:
    hi = min(lo + width, 100)
    (x_low, low), (x_high, high) = slope_range(shape, F(lo), F(hi))
    step = F(1, 10**6)
    for k in range(60):
        x = lo + (hi - lo) * F(k, 60)
        assert abs(shape.value(x + step) - shape.value(x)) / step <= high + F(1, 10**9)
    for near, far in pairwise(lo + (hi - lo) * F(k, 60) for k in range(61)):
        if shape.direction(near, far) is not None:
            assert low - F(1, 10**9) <= abs(shape.value(far) - shape.value(near)) / (far - near)
    for x, slope in ((x_low, low), (x_high, high)):
        chords = [abs((shape.value(x + e) - shape.value(x)) / e) for e in (step, -step)]
        assert min(abs(chord - slope) for chord in chords) < F(1, 10) * max(1, high - low)


@pytest.mark.slow
@given(flown(), st.integers(-100, 99), st.integers(1, 200))
@settings(max_examples=100)
def test_turns_bound_every_pair_and_are_met(shape: Shape, lo: int, width: int) -> None:
    hi = min(lo + width, 100)
    turn = turns_against(shape, F(lo), F(hi))
    ends = shape.value(F(hi)) - shape.value(F(lo))
    heights = [shape.value(lo + (hi - lo) * F(k, 30)) for k in range(31)]
    falls = [a - b for a, b in combinations(heights, 2)]
    wrong = [f if ends > 0 else -f for f in falls] if ends else [abs(f) for f in falls]
    assert max(wrong) <= turn.amount + F(1, 10**19)
    assert turn.amount >= 0
    assert lo <= turn.x_from <= turn.x_to <= hi
    assert abs(abs(shape.value(turn.x_from) - shape.value(turn.x_to)) - turn.amount) < F(1, 1000)


def leaves_points_range(points: Points, c: CubicCurve) -> tuple[Extreme, Extreme]:
    """How far it goes below its lowest point and above its highest, each as (x, amount); 0 if it does not."""
    heights = [y for _, y in points]
    low, high = range_over(c)
    return (low[0], max(min(heights) - low[1], F(0))), (high[0], max(high[1] - max(heights), F(0)))


def test_overshoot_of_rpn_14_is_as_published() -> None:
    # maxima of the natural and cardinal curves: 1.10119 and 1.01604 (scipy 1.17); monotone stays inside
    for smoothing, greatest in (("natural", 1.10119), ("cardinal", 1.01604)):
        _, (x, highest) = range_over(curve(RPN_14, smoothing))
        assert float(highest) == pytest.approx(greatest, abs=5e-6)
        assert 10 < x < 12
    low, high = range_over(curve(RPN_14, "monotone"))
    heights = [y for _, y in RPN_14]
    assert (low[1], high[1]) == (min(heights), max(heights))


def test_overshoot_below() -> None:
    # the natural curve of a step dips by the same on both sides: it is odd about its middle
    step = points("-100,0 -50,0 0,50 50,100 100,100")
    (x_low, low), (x_high, high) = range_over(curve(step, "natural"))
    assert -low == high - 100 > 2
    assert x_low == -x_high
    assert -100 < x_low < -50


def test_least_between_neighbours() -> None:
    dip = curve(points("-100,-90 -50,-90 0,0 100,100"), "cardinal")
    first, second, third = (range_over(dip, piece.lo, piece.hi)[0] for piece in dip.pieces)
    assert first[1] < -90
    assert -100 < first[0] < -50
    assert second == (F(-50), F(-90))
    assert third == (F(0), F(0))


@given(flown())
@settings(max_examples=50)
def test_ranges_bound_the_curve(shape: Shape) -> None:
    (x_low, low), (x_high, high) = range_over(shape.curve, F(-100), F(100))
    assert all(low <= value(shape.curve, F(x)) <= high for x in range(-100, 101))
    assert abs(value(shape.curve, x_low) - low) < F(1, 10**6)
    assert abs(value(shape.curve, x_high) - high) < F(1, 10**6)
