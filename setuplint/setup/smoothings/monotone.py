"""Monotone: Fritsch & Butland, SIAM J. Sci. Stat. Comput. 5(2), 1984, with the limited three-point end slopes of scipy's
PchipInterpolator."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise

RANK = 1
UNKNOWN_MAY_BE = True
MEANING = "a cubic that never overshoots (Fritsch-Butland 1984)"
WORDS = "smoothed, never beyond its points"


def slopes(widths: Sequence[Fraction], chords: Sequence[Fraction]) -> list[Fraction]:
    inner = []
    for (h0, h1), (d0, d1) in zip(pairwise(widths), pairwise(chords), strict=True):
        if _sign(d0) * _sign(d1) <= 0:
            inner.append(Fraction(0))
        else:
            inner.append(3 * (h0 + h1) * d0 * d1 / ((h0 + 2 * h1) * d1 + (2 * h0 + h1) * d0))
    first = _end_slope(widths[0], widths[1], chords[0], chords[1])
    return [first, *inner, _end_slope(widths[-1], widths[-2], chords[-1], chords[-2])]


def _end_slope(h0: Fraction, h1: Fraction, d0: Fraction, d1: Fraction) -> Fraction:
    slope = ((2 * h0 + h1) * d0 - h0 * d1) / (h0 + h1)
    if _sign(slope) != _sign(d0):
        return Fraction(0)
    if _sign(d0) != _sign(d1) and abs(slope) > 3 * abs(d0):
        return 3 * d0
    return slope


def _sign(value: Fraction) -> int:
    return (value > 0) - (value < 0)


def plain_slopes(points: tuple[tuple[Fraction, Fraction], ...]) -> list[Fraction]:
    """Weighted harmonic means of the neighbouring chords."""
    h = [b[0] - a[0] for a, b in pairwise(points)]
    d = [(b[1] - a[1]) / (b[0] - a[0]) for a, b in pairwise(points)]
    inner = []
    for h0, h1, d0, d1 in zip(h, h[1:], d, d[1:], strict=False):
        if d0 * d1 <= 0:
            inner.append(Fraction(0))
        else:
            w0, w1 = 2 * h1 + h0, h1 + 2 * h0
            inner.append((w0 + w1) / (w0 / d0 + w1 / d1))
    return [_plain_end(h[0], h[1], d[0], d[1]), *inner, _plain_end(h[-1], h[-2], d[-1], d[-2])]


def _plain_end(h0: Fraction, h1: Fraction, d0: Fraction, d1: Fraction) -> Fraction:
    """Three-point slope at an end, kept from turning the curve round; h0, d0 are the outermost."""
    slope = ((2 * h0 + h1) * d0 - h0 * d1) / (h0 + h1)
    if slope * d0 <= 0:
        return Fraction(0)
    if d0 * d1 <= 0 and abs(slope) > 3 * abs(d0):
        return 3 * d0
    return slope
