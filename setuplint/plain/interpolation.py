"""Expo and curves for the plain evaluator, straight from their published definitions, in exact fractions.

Every smoothing is a cubic Hermite spline; they differ in the slopes at the points. `monotone`: Fritsch and Butland,
SIAM J. Sci. Stat. Comput. 5(2), 1984, with the end slopes of scipy's PchipInterpolator. `cardinal`: the slope through
the two neighbours, one-sided at the ends. `natural`: the spline with no curvature at its ends.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise

Points = tuple[tuple[Fraction, Fraction], ...]
ZERO = Fraction(0)


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
    low, high = Fraction(-100), Fraction(100)
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
    """The slope at each of three points or more."""
    widths = [b[0] - a[0] for a, b in pairwise(points)]
    secants = [(b[1] - a[1]) / (b[0] - a[0]) for a, b in pairwise(points)]
    if smoothing == "monotone":
        return tuple(_monotone(widths, secants))
    if smoothing == "cardinal":
        inner = [(c[1] - a[1]) / (c[0] - a[0]) for a, c in zip(points, points[2:], strict=False)]
        return (secants[0], *inner, secants[-1])
    if smoothing == "natural":
        return tuple(_natural(widths, secants))
    raise ValueError(f"no smoothing is called {smoothing}")


def _sign(value: Fraction) -> int:
    return (value > 0) - (value < 0)


def _monotone(h: Sequence[Fraction], d: Sequence[Fraction]) -> list[Fraction]:
    inner = []
    for h0, h1, d0, d1 in zip(h, h[1:], d, d[1:], strict=False):
        if d0 * d1 <= 0:
            inner.append(ZERO)
        else:
            w0, w1 = 2 * h1 + h0, h1 + 2 * h0
            inner.append((w0 + w1) / (w0 / d0 + w1 / d1))
    return [_end(h[0], h[1], d[0], d[1]), *inner, _end(h[-1], h[-2], d[-1], d[-2])]


def _end(h0: Fraction, h1: Fraction, d0: Fraction, d1: Fraction) -> Fraction:
    """Three-point slope at an end, kept from turning the curve round; h0, d0 are the outermost."""
    slope = ((2 * h0 + h1) * d0 - h0 * d1) / (h0 + h1)
    if _sign(slope) != _sign(d0):
        return ZERO
    if _sign(d0) != _sign(d1) and abs(slope) > 3 * abs(d0):
        return 3 * d0
    return slope


def _natural(h: Sequence[Fraction], d: Sequence[Fraction]) -> list[Fraction]:
    """By the tridiagonal equations of the second derivatives, which are zero at the ends."""
    size = len(h)
    shares, sides = [ZERO], [ZERO]
    for i in range(1, size):
        pivot = 2 * (h[i - 1] + h[i]) - h[i - 1] * shares[-1]
        sides.append((6 * (d[i] - d[i - 1]) - h[i - 1] * sides[-1]) / pivot)
        shares.append(h[i] / pivot)
    bends = [ZERO] * (size + 1)
    for i in range(size - 1, 0, -1):
        bends[i] = sides[i] - shares[i] * bends[i + 1]
    slopes = [d[i] - h[i] * (2 * bends[i] + bends[i + 1]) / 6 for i in range(size)]
    return [*slopes, d[-1] + h[-1] * bends[-2] / 6]


def largest(points: Points, smoothing: str) -> Fraction:
    """No value of the curve is further from zero than this."""
    highest = max(abs(y) for _, y in points)
    if smoothing == "none" or len(points) == 2:
        return highest
    # A Hermite segment is a weighted mean of its two values plus width x slope x at most 4/27 for each of its slopes.
    widest = max(b[0] - a[0] for a, b in pairwise(points))
    return highest + Fraction(8, 27) * widest * max(abs(slope) for slope in slopes_at(points, smoothing))
