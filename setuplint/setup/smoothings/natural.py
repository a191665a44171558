"""Natural: the cubic spline without curvature at its ends."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise

RANK = 3
UNKNOWN_MAY_BE = True
MEANING = "a spline without curvature at its ends"
WORDS = "smoothed as a natural spline"


def slopes(widths: Sequence[Fraction], chords: Sequence[Fraction]) -> list[Fraction]:
    """By the tridiagonal equations of the slopes."""
    # rows (below, diagonal, above, right side): curvature is zero at both ends and continuous between
    rows = [(Fraction(0), Fraction(2), Fraction(1), 3 * chords[0])]
    for (h0, h1), (d0, d1) in zip(pairwise(widths), pairwise(chords), strict=True):
        rows.append((h1, 2 * (h0 + h1), h0, 3 * (h1 * d0 + h0 * d1)))
    rows.append((Fraction(1), Fraction(2), Fraction(0), 3 * chords[-1]))
    above: list[Fraction] = []
    right: list[Fraction] = []
    for low, diagonal, high, side in rows:
        pivot = diagonal - low * above[-1] if above else diagonal
        right.append((side - low * right[-1]) / pivot if above else side / pivot)
        above.append(high / pivot)
    found = [right[-1]]
    for factor, side in zip(reversed(above[:-1]), reversed(right[:-1]), strict=True):
        found.append(side - factor * found[-1])
    return found[::-1]


def plain_slopes(points: tuple[tuple[Fraction, Fraction], ...]) -> list[Fraction]:
    """By the tridiagonal equations of the second derivatives, which are zero at the ends."""
    h = [b[0] - a[0] for a, b in pairwise(points)]
    d = [(b[1] - a[1]) / (b[0] - a[0]) for a, b in pairwise(points)]
    size = len(h)
    shares, sides = [Fraction(0)], [Fraction(0)]
    for i in range(1, size):
        pivot = 2 * (h[i - 1] + h[i]) - h[i - 1] * shares[-1]
        sides.append((6 * (d[i] - d[i - 1]) - h[i - 1] * sides[-1]) / pivot)
        shares.append(h[i] / pivot)
    second = [Fraction(0)] * (size + 1)
    for i in range(size - 1, 0, -1):
        second[i] = sides[i] - shares[i] * second[i + 1]
    found = [d[i] - h[i] * (2 * second[i] + second[i + 1]) / 6 for i in range(size)]
    return [*found, d[-1] + h[-1] * second[-2] / 6]
