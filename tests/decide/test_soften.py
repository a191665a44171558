"""The curve that is soft around the hover, against scipy's interpolators and practice's own figures."""

from fractions import Fraction

import numpy
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import CubicHermiteSpline, CubicSpline, PchipInterpolator

import setuplint
from setuplint.curves.bends import slope_range, turns_against
from setuplint.curves.shape import curve

F = Fraction
KINDS = ("none", "monotone", "cardinal", "natural")


def heights(hover: object, slope: object, *rest: object) -> list[Fraction]:
    points = setuplint.soften(hover, slope, *rest)  # type: ignore[arg-type]
    assert [x for x, _ in points] == [-100, -50, 0, 50, 100]
    return [y for _, y in points]


def slope_at_hover(points: tuple[tuple[Fraction, Fraction], ...], kind: str) -> float:
    """By scipy; `none` and `cardinal`, which it lacks, from their definitions."""
    x, y = (numpy.array([float(p[i]) for p in points]) for i in (0, 1))
    if kind == "none":
        return float((y[2] - y[1]) / 50)
    if kind == "cardinal":
        return float(CubicHermiteSpline(x, y, [0, *((y[2:] - y[:-2]) / 100), 0])(0, 1))
    return float((PchipInterpolator(x, y) if kind == "monotone" else CubicSpline(x, y, bc_type="natural"))(0, 1))


@pytest.mark.parametrize("kind", ["none", "monotone", "cardinal", "unknown"])
def test_practice_s_own_figures(kind: str) -> None:
    """Five points, the ends at full travel, the middle at the hover."""
    assert heights(16, 0.6, (-100, 100), kind) == [-100, -14, 16, 46, 100]
    assert heights(16, 0.5, (-100, 100), kind) == [-100, -9, 16, 41, 100]


def test_straight_halves_are_steeper_on_one_side() -> None:
    (_, least), (_, greatest) = slope_range(curve(((F(-100), F(-100)), (F(0), F(16)), (F(100), F(100))), "none"))
    assert (least, greatest) == (F("0.84"), F("1.16"))


def test_natural_is_set_so_that_its_slope_is_the_one_asked_for() -> None:
    """-14 and 46 would give a natural spline a slope of 0.4 at the hover, by scipy; 1.5 * 38/50 - 0.5 is 0.64."""
    assert heights(16, "0.64", (-100, 100), "natural") == [-100, -22, 16, 54, 100]
    spline = CubicSpline([-100, -50, 0, 50, 100], [-100, -14, 16, 46, 100], bc_type="natural")
    assert spline(0, 1) == pytest.approx(0.4)


def test_falling_ends_and_ends_short_of_full() -> None:
    assert heights(-16, 0.6, (100, -100)) == [100, 14, -16, -46, -100]
    assert heights(30, 0.4, (-20, 80)) == [-20, 10, 30, 50, 80]


def test_numbers_are_taken_as_written() -> None:
    assert heights("16.5", F(3, 5)) == heights(16.5, 0.6) == [-100, -13.5, 16.5, 46.5, 100]


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ((16, 0), r"above 0, not 0"),
        ((16, -0.5), r"above 0, not -0.5"),
        ((16, "steep"), r"'steep' is not a number"),
        ((16, float("nan")), r"nan is not a number"),
        ((16, "1/0"), r"'1/0' is not a number"),
        ((120, 0.5), r"the hover, 120, is not between the ends, -100 and 100"),
        ((0, 0.5, (10, 10)), r"the hover, 0, is not between the ends, 10 and 10"),
        ((0, 0.5, (-100, 151)), r"the ends are within -150 and 150"),
        ((16, 0.5, (-100, 100), "akima"), r"no smoothing is called akima"),
        ((16, 1.7), r"a slope of 1.7 puts the fourth point at 101, beyond the end at 100"),
        ((-16, 1.7), r"a slope of 1.7 puts the second point at -101, beyond the end at -100"),
        ((16, 0.25, (-100, 100), "cardinal"), r"smoothed as cardinal, turns back by .* between -2\d.* of the stick"),
        ((60, 0.5, (-100, 100), "natural"), r"smoothed as natural, turns back by 0.4068 points between 85.76 and 100"),
        ((16, 0.25, (-100, 100), "unknown"), r"smoothed as cardinal, turns back by"),
    ],
)
def test_refused(given: tuple[object, ...], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        setuplint.soften(*given)  # type: ignore[arg-type]


def test_the_limit_of_what_turns_back() -> None:
    """Cardinal slopes at -50 and 0 are (h + 100)/100 and s: by Fritsch and Carlson a piece with chord s and end slopes
    a s and b s is monotone where a + b <= 3, or a^2 + ab + b^2 - 6(a + b) + 9 <= 0: with b = 1, up to a = 4."""
    assert heights(16, "0.29", (-100, 100), "cardinal")[1] == F("1.5")
    with pytest.raises(ValueError, match="turns back"):
        setuplint.soften(16, "0.289", smoothing="cardinal")


@pytest.mark.slow
@settings(max_examples=150)
@given(
    st.decimals(-90, 90, places=1),
    st.decimals("0.05", 2, places=2),
    st.sampled_from([*KINDS, "unknown"]),
    st.booleans(),
)
def test_is_what_scipy_says_or_refused_for_what_scipy_sees(
    hover: object, slope: object, kind: str, falls: bool
) -> None:
    ends = (100, -100) if falls else (-100, 100)
    way = -1 if falls else 1
    try:
        points = setuplint.soften(hover, slope, ends, kind)  # type: ignore[arg-type]
    except ValueError as refusal:
        words = str(refusal)
        assert "beyond the end" in words or "turns back" in words
        return
    assert [y for _, y in points[::2]] == [ends[0], F(str(hover)), ends[1]]
    x, y = (numpy.array([float(p[i]) for p in points]) for i in (0, 1))
    fine = numpy.linspace(-100, 100, 2001)
    for one in KINDS[1:] if kind == "unknown" else (kind,):
        assert turns_against(curve(points, one)).amount == 0
        if kind != "unknown":
            assert slope_at_hover(points, one) == pytest.approx(way * float(str(slope)), abs=1e-9)
        if one in ("monotone", "natural"):
            smooth = PchipInterpolator(x, y) if one == "monotone" else CubicSpline(x, y, bc_type="natural")
            assert (way * numpy.diff(smooth(fine)) >= -1e-9).all()
