"""Curves and expo in exact fractions (DESIGN.md, "Formulas" above it: none, monotone, cardinal, natural).

monotone: Fritsch and Butland, SIAM J. Sci. Stat. Comput. 5 (1984), with the end slopes of scipy's PchipInterpolator;
cardinal: cubic Hermite, slope through both neighbours; natural: cubic spline with no curvature at its ends.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from fractions import Fraction
from functools import cache, lru_cache
from math import isqrt

KINDS = ("monotone", "cardinal", "natural")
HALVINGS = 60
ONE = 2 ** (HALVINGS - 1)
END = Fraction(-100)
Piece = tuple[Fraction, Fraction, Fraction, Fraction]


def _sign(x: Fraction) -> int:
    return (x > 0) - (x < 0)


def _end_slope(h0: Fraction, h1: Fraction, m0: Fraction, m1: Fraction) -> Fraction:
    slope = ((2 * h0 + h1) * m0 - h0 * m1) / (h0 + h1)
    if _sign(slope) != _sign(m0):
        return Fraction(0)
    if _sign(m0) != _sign(m1) and abs(slope) > 3 * abs(m0):
        return 3 * m0
    return slope


def _monotone_slopes(h: Sequence[Fraction], m: Sequence[Fraction]) -> list[Fraction]:
    if len(m) == 1:
        return [m[0], m[0]]
    inner = []
    for k in range(1, len(m)):
        if m[k - 1] * m[k] <= 0:
            inner.append(Fraction(0))
        else:
            w1, w2 = 2 * h[k] + h[k - 1], h[k] + 2 * h[k - 1]
            inner.append((w1 + w2) / (w1 / m[k - 1] + w2 / m[k]))
    return [_end_slope(h[0], h[1], m[0], m[1]), *inner, _end_slope(h[-1], h[-2], m[-1], m[-2])]


def _cardinal_slopes(h: Sequence[Fraction], m: Sequence[Fraction]) -> list[Fraction]:
    inner = [(m[k - 1] * h[k - 1] + m[k] * h[k]) / (h[k - 1] + h[k]) for k in range(1, len(m))]
    return [m[0], *inner, m[-1]]


def _natural_bends(h: Sequence[Fraction], m: Sequence[Fraction]) -> list[Fraction]:
    """Second derivatives at the points: the tridiagonal system, eliminated forwards and solved backwards."""
    n = len(m)
    diagonal, right = [Fraction(1)], [Fraction(0)]
    for k in range(1, n):
        factor = h[k - 1] / diagonal[k - 1] if k > 1 else Fraction(0)
        diagonal.append(2 * (h[k - 1] + h[k]) - factor * (h[k - 1] if k > 1 else 0))
        right.append(6 * (m[k] - m[k - 1]) - factor * right[k - 1])
    bends = [Fraction(0)] * (n + 1)
    for k in range(n - 1, 0, -1):
        bends[k] = (right[k] - h[k] * bends[k + 1]) / diagonal[k]
    return bends


def _square_root(x: Fraction) -> Fraction:
    """To about 1e-18 of its size."""
    shift = 10**40
    return Fraction(isqrt(x.numerator * shift // x.denominator), 10**20)


class Curve:
    """One curve under one known smoothing; it keeps its end values outside its points."""

    def __init__(self, points: Sequence[tuple[Fraction, Fraction]], smoothing: str) -> None:
        self.xs = [x for x, _ in points]
        self.ys = [y for _, y in points]
        h = [b - a for a, b in zip(self.xs, self.xs[1:], strict=False)]
        m = [(b - a) / w for a, b, w in zip(self.ys, self.ys[1:], h, strict=False)]
        self.pieces: list[Piece] = []
        self._turns: list[Fraction] = []
        if smoothing == "none":
            self.pieces = [(y, s, Fraction(0), Fraction(0)) for y, s in zip(self.ys, m, strict=False)]
        elif smoothing == "natural":
            bends = _natural_bends(h, m)
            for k, w in enumerate(h):
                slope = m[k] - w * (2 * bends[k] + bends[k + 1]) / 6
                self.pieces.append((self.ys[k], slope, bends[k] / 2, (bends[k + 1] - bends[k]) / (6 * w)))
        else:
            slopes = _monotone_slopes(h, m) if smoothing == "monotone" else _cardinal_slopes(h, m)
            for k, w in enumerate(h):
                a, b = slopes[k], slopes[k + 1]
                self.pieces.append((self.ys[k], a, (3 * m[k] - 2 * a - b) / w, (a + b - 2 * m[k]) / w**2))

    def at(self, x: Fraction) -> Fraction:
        if x <= self.xs[0]:
            return self.ys[0]
        if x >= self.xs[-1]:
            return self.ys[-1]
        k = bisect_right(self.xs, x) - 1
        a, b, c, d = self.pieces[k]
        t = x - self.xs[k]
        if not c and not d:
            return a + b * t
        return a + t * (b + t * (c + t * d))

    def turns(self) -> list[Fraction]:
        """The points and the turning places between them (to 1e-15): between two neighbours the curve is monotone."""
        if not self._turns:
            found = list(self.xs)
            for (_, b, c, d), left, right in zip(self.pieces, self.xs, self.xs[1:], strict=False):
                for t in _roots(3 * d, 2 * c, b):
                    if 0 < t < right - left:
                        found.append(left + t)
            self._turns = sorted(set(found))
        return self._turns


curve = lru_cache(1024)(Curve)


@lru_cache(100_000)
def shaped(of: Curve | None, k: Fraction, rate: Fraction, value: Fraction) -> Fraction:
    """curve(expo(rate × value)), in percent."""
    u = expo(k, max(END, min(-END, value * rate / 100)))
    return u if of is None else of.at(u)


def _roots(a: Fraction, b: Fraction, c: Fraction) -> list[Fraction]:
    if not a:
        return [-c / b] if b else []
    inner = b * b - 4 * a * c
    if inner < 0:
        return []
    root = _square_root(inner)
    return [(-b - root) / (2 * a), (-b + root) / (2 * a)]


def expo(k: Fraction, u: Fraction) -> Fraction:
    """Expo of k percent on u in [-100, 100]: y = (1-k)u + ku³ on [-1, 1]. Rising for k in [-50, 100]."""
    if not k:
        return u
    part, v = k / 100, u / 100
    return 100 * ((1 - part) * v + part * v * v * v)


@cache
def expo_inverse(k: Fraction, y: Fraction) -> Fraction:
    """The u with expo(k, u) = y, to 1e-12, for y in [-100, 100]."""
    if not k:
        return y
    # Halving from -100 to 100, in whole numbers: u = 100 at / ONE, and expo(k, u) < y with all fractions multiplied out.
    part = k / 100
    even, bent = part.denominator - part.numerator, part.numerator
    level, scale = y.numerator * part.denominator * ONE**3, 100 * y.denominator
    low, high = -ONE, ONE
    for _ in range(HALVINGS):
        at = (low + high) // 2
        if (even * at * ONE**2 + bent * at**3) * scale < level:
            low = at
        else:
            high = at
    return Fraction(100 * high, ONE).limit_denominator(10**13)
