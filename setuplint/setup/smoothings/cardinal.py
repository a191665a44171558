"""Cardinal: the cubic Hermite spline whose slope at a point is that through its two neighbours, one-sided at the ends."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise

RANK = 2
UNKNOWN_MAY_BE = True
MEANING = "a cubic, each slope that through the two neighbours"
WORDS = "smoothed through its neighbours"


def slopes(widths: Sequence[Fraction], chords: Sequence[Fraction]) -> list[Fraction]:
    rises = [width * chord for width, chord in zip(widths, chords, strict=True)]
    inner = [(r0 + r1) / (h0 + h1) for (h0, h1), (r0, r1) in zip(pairwise(widths), pairwise(rises), strict=True)]
    return [chords[0], *inner, chords[-1]]


def plain_slopes(points: tuple[tuple[Fraction, Fraction], ...]) -> list[Fraction]:
    before, after = (points[0], *points[:-1]), (*points[1:], points[-1])
    return [(b[1] - a[1]) / (b[0] - a[0]) for a, b in zip(before, after, strict=True)]
