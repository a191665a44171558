"""A curve that is soft around the hover: five points, the ends kept, the hover at mid-stick."""

from __future__ import annotations

from fractions import Fraction

from setuplint.curves.bends import turns_against
from setuplint.curves.cubics import Point, curve
from setuplint.fraction import fraction
from setuplint.setup.smoothings import format_words, possible

FULL = fraction(100)
HALF = fraction(50)  # where on the stick the second and fourth points are
MOST = fraction(150)  # percent: as far as a curve's point may go


def softened(
    hover: Fraction, slope: Fraction, ends: tuple[Fraction, Fraction], smoothing: str = "none"
) -> tuple[Point, ...]:
    """The five points (stick, output), in percent, of the curve with this slope at its hover; a curve whose ends fall,
    falls there.

    The second and fourth points are hover -+ 50 slope; under a smoothing whose slope at a point depends on all points,
    so far from the hover that its slope there is the one asked for. For `unknown` it must suit each smoothing that may be.
    ValueError where there is no such curve, or it would turn back between its points.
    """
    low, high = ends
    if smoothing not in format_words():
        raise ValueError(f"no smoothing is called {smoothing}")
    if slope <= 0:
        raise ValueError(f"the slope must be above 0, not {_number(slope)}")
    if max(abs(low), abs(high)) > MOST:
        raise ValueError(f"the ends are within {_number(-MOST)} and {_number(MOST)}")
    if not min(ends) < hover < max(ends):
        raise ValueError(f"the hover, {_number(hover)}, is not between the ends, {_number(low)} and {_number(high)}")
    way = 1 if high > low else -1
    side = _side(slope * way, hover, ends, smoothing)
    for room, place, end, word in (
        (way * (hover - side - low), hover - side, low, "second"),
        (way * (high - hover - side), hover + side, high, "fourth"),
    ):
        if room < 0:
            raise ValueError(
                f"a slope of {_number(slope)} puts the {word} point at {_number(place)}, beyond the end at {_number(end)}"
            )
    points = _points(hover, side, ends)
    for kind in possible(smoothing):
        turn = turns_against(curve(points, kind))
        if turn.amount:
            raise ValueError(
                f"with a slope of {_number(slope)} the curve, smoothed as {kind}, turns back by {_number(turn.amount)} "
                f"points between {_number(turn.x_from)} and {_number(turn.x_to)} of the stick"
            )
    return points


def _points(hover: Fraction, side: Fraction, ends: tuple[Fraction, Fraction]) -> tuple[Point, ...]:
    return ((-FULL, ends[0]), (-HALF, hover - side), (fraction(0), hover), (HALF, hover + side), (FULL, ends[1]))


def _side(slope: Fraction, hover: Fraction, ends: tuple[Fraction, Fraction], smoothing: str) -> Fraction:
    """How far from the hover the points beside it are, for this slope at the hover."""
    straight = HALF * slope
    if smoothing in ("none", "unknown"):
        return straight

    def slope_with(side: Fraction) -> Fraction:
        return curve(_points(hover, side, ends), smoothing).pieces[2].coefficients[1]

    one, two = slope_with(straight), slope_with(2 * straight)
    side = straight if two == one else straight + (slope - one) * straight / (two - one)  # exact where it is affine
    if slope_with(side) != slope:
        raise ValueError(f"no curve smoothed as {smoothing} can be given a slope at its hover")
    return side


def _number(value: Fraction) -> str:
    return f"{float(value):.4g}"
