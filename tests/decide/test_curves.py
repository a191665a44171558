"""Curves against scipy and published data, and every cut against exact evaluation on both sides of it."""

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise

import numpy
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from scipy.interpolate import CubicHermiteSpline, CubicSpline, PchipInterpolator, PPoly, make_interp_spline

from setuplint.curves import polynomials
from setuplint.curves.shape import Cut, Interval, Shape, curve, value

F = Fraction
KINDS = ("none", "monotone", "cardinal", "natural")
Points = tuple[tuple[Fraction, Fraction], ...]


def points(x: str, y: str) -> Points:
    return tuple((F(a), F(b)) for a, b in zip(x.split(), y.split(), strict=True))


# Fritsch & Carlson, SIAM J. Numer. Anal. 17(2), 1980 (second-hand)
RPN_14 = points(
    "7.99 8.09 8.19 8.7 9.2 10 12 15 20",
    "0 2.76429e-5 4.37498e-2 0.169183 0.469428 0.943740 0.998636 0.999919 0.999994",
)
# Akima, J. ACM 17(4), 1970 (second-hand)
AKIMA = points("0 2 3 5 6 8 9 11 12 14 15", "10 10 10 10 10 10 10.5 15 50 60 85")
HOVER = points("-100 -50 0 50 100", "-100 -14 16 46 100")
PEAK = points("-100 -40 0 30 100", "-100 60 10 55 -20")
PARABOLA = tuple((F(x), F(x * x, 100)) for x in range(-100, 101, 40))  # cardinal slopes of a parabola are its own


def scipy_curve(at: Points, smoothing: str) -> PPoly:
    x, y = (numpy.array([float(p[i]) for p in at]) for i in (0, 1))
    if smoothing == "none":
        return PPoly.from_spline(make_interp_spline(x, y, k=1))
    if smoothing == "monotone":
        return PchipInterpolator(x, y)
    if smoothing == "natural":
        return CubicSpline(x, y, bc_type="natural")
    chords = numpy.diff(y) / numpy.diff(x)
    return CubicHermiteSpline(x, y, [chords[0], *((y[2:] - y[:-2]) / (x[2:] - x[:-2])), chords[-1]])


@st.composite
def many_points(draw: st.DrawFn) -> Points:
    parts = draw(st.sampled_from([1, 1, 10, 1000]))
    x = draw(st.lists(st.integers(-100 * parts, 100 * parts), min_size=2, max_size=7, unique=True))
    y = st.sampled_from([-100, 0, 16, 55]) | st.integers(-150, 150)
    return tuple((F(a, parts), F(draw(y))) for a in sorted(x))


@pytest.mark.parametrize("smoothing", KINDS)
@pytest.mark.parametrize("at", [RPN_14, AKIMA, HOVER, PEAK, PARABOLA])
def test_published_data_agree_with_scipy(at: Points, smoothing: str) -> None:
    agrees_with_scipy(at, smoothing)


@pytest.mark.slow
@given(many_points(), st.sampled_from(KINDS))
def test_any_points_agree_with_scipy(at: Points, smoothing: str) -> None:
    agrees_with_scipy(at, smoothing)


def agrees_with_scipy(at: Points, smoothing: str) -> None:
    ours, theirs = curve(at, smoothing), scipy_curve(at, smoothing)
    shape = Shape(ours, F(100), F(0))
    lo, hi = at[0][0], at[-1][0]
    places = [lo + (hi - lo) * F(k, 50) for k in range(51)]
    size = max(1.0, *(abs(float(theirs(float(x)))) for x in places))
    for x in places:
        assert float(value(ours, x)) == pytest.approx(float(theirs(float(x))), abs=1e-9 * size)
    derivative = theirs.derivative()
    turns = [] if smoothing == "none" else [x for x in derivative.roots(extrapolate=False) if x == x]
    heights = theirs(numpy.array([*turns, *(float(x) for x, _ in at)]))
    (_, least), (_, greatest) = shape.extremes(lo, hi)
    assert float(least) == pytest.approx(min(heights), abs=1e-9 * size)
    assert float(greatest) == pytest.approx(max(heights), abs=1e-9 * size)


@pytest.mark.parametrize("smoothing", KINDS)
@pytest.mark.parametrize("at", [RPN_14, AKIMA, HOVER, PEAK, PARABOLA])
def test_direction_agrees_with_the_sign_of_scipys_derivative(at: Points, smoothing: str) -> None:
    x = numpy.linspace(float(at[0][0]), float(at[-1][0]), 4001)
    slopes = scipy_curve(at, smoothing).derivative()(x)
    rises, falls = bool((slopes > 1e-9).any()), bool((slopes < -1e-9).any())
    expected = None if rises and falls else 1 if rises else -1
    assert Shape.of(at, smoothing, F(100), F(0)).direction() == expected


@pytest.mark.parametrize(
    ("smoothing", "greatest"), [("natural", 1.10119), ("cardinal", 1.01604), ("monotone", 0.999994), ("none", 0.999994)]
)
def test_overshoot_on_rpn_14_is_as_published(smoothing: str, greatest: float) -> None:
    low, high = Shape.of(RPN_14, smoothing, F(100), F(0)).extremes()
    assert float(high[1]) == pytest.approx(greatest, abs=5e-6)
    if smoothing in ("monotone", "none"):
        assert low[1] == 0


@pytest.mark.parametrize("smoothing", KINDS)
def test_two_points_are_a_straight_line_and_ends_are_kept(smoothing: str) -> None:
    line = curve(points("-40 60", "-90 10"), smoothing)
    assert [value(line, F(x)) for x in (-100, -40, 10, 60, 100)] == [-90, -90, -40, 10, 10]


@pytest.mark.parametrize(
    ("at", "smoothing"),
    [(points("0", "0"), "none"), (points("0 0", "0 1"), "none"), (points("5 0", "0 1"), "natural"), (HOVER, "soft")],
)
def test_what_is_no_curve_is_refused(at: Points, smoothing: str) -> None:
    with pytest.raises(ValueError, match=r"curve needs|no smoothing"):
        curve(at, smoothing)


def test_an_expo_that_turns_back_is_refused() -> None:
    for expo in (F(-51), F(101)):
        with pytest.raises(ValueError, match="expo"):
            Shape.of(None, None, F(100), expo)


# algebra, and the joystick note quoted with k = 0.3
@pytest.mark.parametrize(("x", "y"), [(25, "17.96875"), (50, "38.75"), (100, "100"), (-50, "-38.75"), (0, "0")])
def test_expo(x: int, y: str) -> None:
    assert Shape.of(None, None, F(100), F(30)).value(F(x)) == F(y)


def test_rate_is_limited_before_expo_and_trim_reaches_beyond() -> None:
    assert Shape.of(None, None, F(150), F(30)).value(F(80)) == 100
    assert Shape.of(None, None, F(-150), F(30)).value(F(80)) == -100
    assert Shape.of(None, None, F(60), F(0)).value(F(130)) == 78
    assert Shape.of(HOVER, "monotone", F(0), F(30)).value(F(80)) == 16


def crossings(at: Points | None, smoothing: str, rate: str, expo: str, threshold: str) -> list[tuple[str, bool]]:
    found = Shape.of(at, smoothing, F(rate), F(expo)).crossings(F(threshold), F(-100), F(100))
    return [(f"{float(cut.at):.9f}".rstrip("0").rstrip("."), cut.root is None) for cut in found]


@pytest.mark.parametrize(
    ("at", "smoothing", "rate", "expo", "threshold", "expected"),
    [
        (None, "none", "100", "0", "12.5", [("12.5", True)]),
        (None, "none", "60", "0", "50", [("83.333333333", True)]),
        (None, "none", "150", "0", "100", [("66.666666667", True), ("100", True)]),
        (None, "none", "160", "0", "-100", [("-100", True), ("-62.5", True)]),
        (None, "none", "-160", "0", "-100", [("62.5", True), ("100", True)]),
        (None, "none", "100", "30", "38.75", [("50", True)]),
        (None, "none", "-80", "30", "38.75", [("-62.5", True)]),
        (None, "none", "100", "100", "0.0001", [("1", True)]),
        (None, "none", "0", "0", "0", [("-100", True), ("100", True)]),
        (None, "none", "0", "0", "1", []),
        (PARABOLA, "cardinal", "100", "0", "2", [("-14.142135624", False), ("14.142135624", False)]),
        (PARABOLA, "cardinal", "100", "0", "2.25", [("-15", True), ("15", True)]),
        (PARABOLA, "cardinal", "100", "0", "0", [("0", True)]),
        (points("-100 0 50 100", "0 40 40 0"), "monotone", "100", "0", "40", [("0", True), ("50", True)]),
        (points("-100 0 50 100", "0 40 40 40"), "none", "100", "0", "40", [("0", True), ("100", True)]),
        (points("-40 40", "-7 7"), "natural", "100", "0", "7", [("40", True), ("100", True)]),
    ],
)
def test_crossings(
    at: Points | None, smoothing: str, rate: str, expo: str, threshold: str, expected: list[tuple[str, bool]]
) -> None:
    assert crossings(at, smoothing, rate, expo, threshold) == expected


def test_a_touch_is_one_place_at_most_and_never_below() -> None:
    touching = Shape.of(PARABOLA, "cardinal", F(100), F(30))
    here = Cut(F(0))
    assert touching.below(F(0)) == ()
    assert touching.at_most(F(0)) == (Interval(here, True, here, True),)
    upside_down = Shape.of(tuple((x, -y) for x, y in PARABOLA), "cardinal", F(100), F(30))
    left, right = Cut(F(-100)), Cut(F(100))
    assert upside_down.below(F(0), F(-100), F(100)) == (
        Interval(left, True, here, False),
        Interval(here, False, right, True),
    )
    assert upside_down.at_most(F(0), F(-100), F(100)) == (Interval(left, True, right, True),)


def test_a_touch_at_a_third_is_found() -> None:
    shifted = tuple((F(x), (F(x) - F(1, 3)) ** 2 / 100) for x in range(-100, 101, 40))
    (only,) = Shape.of(shifted, "cardinal", F(100), F(0)).crossings(F(0))
    assert only == Cut(F(1, 3))


def test_almost_touching_gives_two_cuts_that_can_be_told_apart() -> None:
    shape = Shape.of(PARABOLA, "cardinal", F(100), F(0))
    ((lo, lo_closed, hi, hi_closed),) = shape.below(F(1, 10**30))
    assert not lo_closed
    assert not hi_closed
    assert lo.at < 0 < hi.at
    assert float(hi.at) == pytest.approx(1e-14, rel=1e-3)
    assert shape.value((lo.at + hi.at) / 2) < F(1, 10**30)


@pytest.mark.slow
def test_numbers_beyond_floats_are_no_trouble() -> None:
    tiny = F(1, 10**312)
    (cut,) = Shape.of(((F(-100), -tiny), (F(100), tiny)), "natural", tiny, F(30)).crossings(F(0))
    assert cut == Cut(F(0))
    (cut,) = Shape.of(None, None, tiny, F(30)).crossings(tiny, F(-100), F(1000))
    assert cut.at == F("142.857142857")  # expo 30 has slope 0.7 in the middle
    narrow = (F(0), F(-100)), (tiny, F(100)), (2 * tiny, F(50)), (F(1), F(-3))
    for smoothing in ("none", "monotone"):
        found = Shape.of(narrow, smoothing, F(100), F(30)).crossings(F(1), F(-100), F(100))
        assert [float(cut.at) >= 0 for cut in found] == [True] * len(found)
        assert len(found) == 2


numbers = st.sampled_from([0, 100, -100, 150, -150, 60]) | st.integers(-150, 150)


@st.composite
def questions(draw: st.DrawFn) -> tuple[Shape, Fraction, Fraction, Fraction]:
    at = draw(st.none() | many_points())
    expo = draw(st.sampled_from([0, 0, 30, 100, -50]) | st.integers(-50, 100))
    shape = Shape.of(at, draw(st.sampled_from(KINDS)), F(draw(numbers)), F(expo))
    trim = draw(st.sampled_from([0, 0, 5, 100]))
    lo, hi = draw(st.just((-100 - trim, 100 + trim)) | st.tuples(st.integers(-200, 0), st.integers(0, 200)))
    rounding = draw(st.sampled_from([F(0), F(1, 2_000_000), F(-1, 2_000_000)]))
    named = st.sampled_from([y for _, y in at] if at else [F(100), F(-100), F(0)])
    met = st.integers(-100, 100).map(lambda x: shape.value(F(x)))
    threshold = draw(named | named.map(lambda y: y + rounding) | met | st.integers(-150, 150).map(Fraction))
    return shape, threshold, F(lo), F(hi)


def inside(intervals: Sequence[Interval], x: Fraction) -> bool:
    return any(
        (i.lo.at < x or (i.lo_closed and i.lo.at == x)) and (x < i.hi.at or (i.hi_closed and x == i.hi.at))
        for i in intervals
    )


@pytest.mark.slow
@given(questions())
@settings(max_examples=400)
@example((Shape.of(PEAK, "natural", F(-150), F(-50)), F(60), F(-200), F(200)))
@example((Shape.of(PEAK, "monotone", F(150), F(100)), F(60), F(-150), F(120)))
@example((Shape.of(AKIMA, "monotone", F(-90), F(30)), F(10), F(-100), F(100)))
def test_cuts_are_where_the_sign_changes_and_nowhere_else(question: tuple[Shape, Fraction, Fraction, Fraction]) -> None:
    shape, threshold, lo, hi = question
    cuts = shape.crossings(threshold, lo, hi)
    below, at_most = shape.below(threshold, lo, hi), shape.at_most(threshold, lo, hi)
    for cut in cuts:
        if cut.root is None:
            assert shape.value(cut.at) == threshold
    ends = {end for i in below for end in (i.lo, i.hi)}
    assert {end for end in ends if lo < end.at < hi} <= set(cuts)
    marks = sorted({lo, hi, *(cut.at for cut in cuts)})
    assert marks[0] == lo
    assert marks[-1] == hi
    beside = []
    for a, b in pairwise(marks):
        step = min(F(2, 10**9), (b - a) / 3)
        beside += [a + step, (a + b) / 2, b - step]
    blurred = [cut.at for cut in cuts if cut.root is not None]
    grid = [lo + (hi - lo) * F(k, 40) for k in range(41)]
    for x in beside + [x for x in grid if all(abs(x - at) > F(1, 10**9) for at in blurred)]:
        y = shape.value(x)
        assert inside(below, x) == (y < threshold)
        assert inside(at_most, x) == (y <= threshold)
    # between two neighbouring cuts the sign stays the same
    for a, b in pairwise(marks):
        signs = {polynomials.sign(shape.value(a + (b - a) * F(k, 8)) - threshold) for k in range(1, 8)}
        assert len(signs) == 1


@pytest.mark.slow
@given(questions())
@settings(max_examples=150)
def test_extremes_bound_and_are_met(question: tuple[Shape, Fraction, Fraction, Fraction]) -> None:
    shape, _, lo, hi = question
    (x_low, low), (x_high, high) = shape.extremes(lo, hi)
    for k in range(41):
        assert low - F(1, 10**9) <= shape.value(lo + (hi - lo) * F(k, 40)) <= high + F(1, 10**9)
    for x, y in ((x_low, low), (x_high, high)):
        assert lo <= x <= hi
        # a corner is as steep as the greatest step between points, 250 in 0.001, times rate and expo
        assert abs(shape.value(x) - y) < F(1, 1000)
    beyond = F(1, 10**20)
    assert shape.below(low - beyond, lo, hi) == ()
    assert shape.at_most(high + beyond, lo, hi) == (Interval(Cut(lo), True, Cut(hi), True),)
    assert shape.is_constant(lo, hi) == (low == high)


@given(questions())
@settings(max_examples=100)
def test_direction_holds_between_any_two_places(question: tuple[Shape, Fraction, Fraction, Fraction]) -> None:
    shape, _, lo, hi = question
    direction = shape.direction(lo, hi)
    heights = [shape.value(lo + (hi - lo) * F(k, 60)) for k in range(61)]
    steps = {polynomials.sign(b - a) for a, b in pairwise(heights)} - {0}
    assert direction is None or steps <= {direction}


rationals = st.fractions(-3, 3, max_denominator=12)


@given(rationals, rationals, rationals, st.sampled_from([-5, -1, 1, 7]))
@example(F(1, 3), F(1, 3), F(1, 3), 1)
@example(F(1, 3), F(1, 3), F(2, 3), -1)
def test_repeated_roots_of_a_cubic(a: Fraction, b: Fraction, c: Fraction, lead: int) -> None:
    product: tuple[int, ...] = (lead,)
    for root in (a, b, c):
        product = polynomials.multiplied(product, (-root.numerator, root.denominator))
    roots = [a, b, c]
    expected = sorted((r, roots.count(r)) for r in set(roots)) if len(set(roots)) < 3 else None
    assert polynomials.repeated_cubic(product) == expected


@pytest.mark.slow
@given(st.lists(st.fractions(F(1, 50), F(49, 50), max_denominator=60), unique=True, max_size=7))
def test_isolating_finds_every_root_once(roots: list[Fraction]) -> None:
    product: tuple[int, ...] = (1, 0, 3)  # never zero itself
    for root in roots:
        product = polynomials.multiplied(product, (-root.numerator, root.denominator))
    parts = polynomials.isolate(polynomials.to_bernstein(product))
    assert len(parts) == len(roots)
    for (lo, hi), root in zip(parts, sorted(roots), strict=True):
        assert lo < root < hi or lo == root == hi


def test_isolating_stops_at_a_repeated_root_when_told_to() -> None:
    ((lo, hi),) = polynomials.isolate(polynomials.to_bernstein((1, -6, 9)), depth=20)
    assert lo < F(1, 3) < hi
    assert hi - lo == F(1, 2**19)
