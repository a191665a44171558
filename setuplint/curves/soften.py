"""A curve that is soft around the hover: five points, the ends kept, the hover at mid-stick."""

from __future__ import annotations

from fractions import Fraction

from setuplint.curves.bends import turns_against
from setuplint.curves.smoothings import SMOOTHINGS, Point, curve

FULL = Fraction(100)
HALF = Fraction(50)  # where on the stick the second and fourth points are
MOST = Fraction(150)  # percent: as far as a curve's point may go


def softened(
    hover: Fraction, slope: Fraction, ends: tuple[Fraction, Fraction], smoothing: str = "none"
) -> tuple[Point, ...]:
    """The five points (stick, output), in percent, of the curve with this slope at its hover; a curve whose ends fall,
    falls there.

    The second and fourth points are hover -+ 50 slope; for `natural`, whose slope at a point hangs on all points, so far
    from the hover that its slope there is the one asked for. For `unknown` it must suit each of the three smoothings.
    ValueError where there is no such curve, or it would turn back between its points.
    """
    low, high = ends
    way = 1 if high > low else -1
    if smoothing not in ("none", "unknown", *SMOOTHINGS):
        raise ValueError(f"no smoothing is called {smoothing}")
    if slope <= 0:
        raise ValueError(f"the slope must be above 0, not {_number(slope)}")
    if max(abs(low), abs(high)) > MOST:
        raise ValueError(f"the ends are within {_number(-MOST)} and {_number(MOST)}")
    if not min(ends) < hover < max(ends):
        raise ValueError(f"the hover, {_number(hover)}, is not between the ends, {_number(low)} and {_number(high)}")
    side = HALF * slope * way
    if smoothing == "natural":
        # Its equations (no curvature at the ends, continuous between) give 3/2 side/50 - (high - low)/400 at the hover.
        side = (side + (high - low) / 8) * 2 / 3
    points = ((-FULL, low), (-HALF, hover - side), (Fraction(0), hover), (HALF, hover + side), (FULL, high))
    for room, place, end, word in (
        (way * (hover - side - low), hover - side, low, "second"),
        (way * (high - hover - side), hover + side, high, "fourth"),
    ):
        if room < 0:
            raise ValueError(
                f"a slope of {_number(slope)} puts the {word} point at {_number(place)}, beyond the end at {_number(end)}"
            )
    for kind in SMOOTHINGS if smoothing == "unknown" else (smoothing,):
        turn = turns_against(curve(points, kind))
        if turn.amount:
            raise ValueError(
                f"with a slope of {_number(slope)} the curve, smoothed as {kind}, turns back by {_number(turn.amount)} "
                f"points between {_number(turn.x_from)} and {_number(turn.x_to)} of the stick"
            )
    return points


def _number(value: Fraction) -> str:
    return f"{float(value):.4g}"
