"""Expo and curves for the plain evaluator, straight from their published definitions, in exact fractions.

Every smoothing is a cubic Hermite spline; they differ in the slopes at the points, which are defined in
`setup.smoothings` once for this module and once, by other means, for the engine.
"""

from __future__ import annotations

from bisect import bisect_right
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise

from setuplint.fraction import fraction
from setuplint.setup.smoothings import smoothings

Points = tuple[tuple[Fraction, Fraction], ...]


def expo(percent: Fraction, k: Fraction) -> Fraction:
    """Expo of k percent on a stick's value in [-100, 100] percent."""
    if k == 0:
        return percent
    share, u = k / 100, percent / 100
    return 100 * u * (1 - share + share * u * u)


def expo_inverse(percent: Fraction, k: Fraction) -> Fraction:
    """The stick's value that expo turns into `percent`, to within 1e-9 percent."""
    if k == 0:
        return percent
    low, high = fraction(-100), fraction(100)
    while high - low > Fraction(1, 10**9):
        middle = (low + high) / 2
        low, high = (middle, high) if expo(middle, k) < percent else (low, middle)
    return high


def interpolate(points: Points, smoothing: str, x: Fraction) -> Fraction:
    """The curve's value at x; beyond its points it keeps its end values."""
    if x <= points[0][0]:
        return points[0][1]
    if x >= points[-1][0]:
        return points[-1][1]
    at = bisect_right(points, x, key=lambda point: point[0]) - 1
    (x0, y0), (x1, y1) = points[at], points[at + 1]
    t = (x - x0) / (x1 - x0)
    if smoothing == "none" or len(points) == 2 or t == 0:
        return y0 + (y1 - y0) * t
    slopes = slopes_at(points, smoothing)
    rise0, rise1 = slopes[at] * (x1 - x0), slopes[at + 1] * (x1 - x0)
    u = 1 - t
    return (1 + 2 * t) * u * u * y0 + t * u * u * rise0 + t * t * (3 - 2 * t) * y1 - t * t * u * rise1


@lru_cache(maxsize=256)
def slopes_at(points: Points, smoothing: str) -> tuple[Fraction, ...]:
    """The slope at each of three points or more. ValueError where there is no such smoothing."""
    kind = smoothings().get(smoothing)
    if kind is None or kind.plain_slopes is None:
        raise ValueError(f"no smoothing is called {smoothing}")
    return tuple(kind.plain_slopes(points))


def largest(points: Points, smoothing: str) -> Fraction:
    """No value of the curve is further from zero than this."""
    highest = max(abs(y) for _, y in points)
    if smoothing == "none" or len(points) == 2:
        return highest
    # A Hermite segment is a weighted mean of its two values plus width x slope x at most 4/27 for each of its slopes.
    widest = max(b[0] - a[0] for a, b in pairwise(points))
    return highest + Fraction(8, 27) * widest * max(abs(slope) for slope in slopes_at(points, smoothing))
