"""Points to curves: straight lines or one of three smoothings as published, in exact fractions.

x and y are percent of travel. Monotone is Fritsch & Butland, SIAM J. Sci. Stat. Comput. 5(2), 1984, with the limited
three-point end slopes of scipy's PchipInterpolator; cardinal is the cubic Hermite whose slope at a point is that
through its two neighbours, one-sided at the ends; natural is the cubic spline without curvature at its ends.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property, lru_cache
from itertools import pairwise
from typing import NamedTuple

from setuplint.curves import polynomials
from setuplint.curves.polynomials import Ints, sign

Point = tuple[Fraction, Fraction]
SMOOTHINGS = ("monotone", "cardinal", "natural")


@dataclass(frozen=True)
class Piece:
    """A cubic in (x - lo) on [lo, hi], lowest power first; always four coefficients."""

    lo: Fraction
    hi: Fraction
    coefficients: tuple[Fraction, ...]


class Span(NamedTuple):
    """A piece over integers: s = (a x - b) / c runs from 0 to 1, y is `power` (or Bernstein `control`) over `scale`."""

    piece: Piece
    a: int
    b: int
    c: int
    control: Ints
    power: Ints
    scale: int

    def local(self, n: int, d: int) -> tuple[int, int]:
        """s at x = n/d."""
        return self.a * n - self.b * d, self.c * d

    def at(self, s: Fraction) -> Fraction:
        """The x of an s."""
        return self.piece.lo + (self.piece.hi - self.piece.lo) * s


class Bend(NamedTuple):
    """A point of the curve, or a place in a piece where it turns; irrational: to 30 decimals, its value to 20."""

    at: Fraction
    value: Fraction


@dataclass(frozen=True)
class Curve:
    """A continuous curve through points in order; outside them it keeps the end values."""

    pieces: tuple[Piece, ...]

    def __hash__(self) -> int:
        return self._hash

    @cached_property
    def _hash(self) -> int:
        return hash(self.pieces)

    @cached_property
    def spans(self) -> list[Span]:
        """The pieces over integers."""
        return [_span(piece) for piece in self.pieces]

    @cached_property
    def bends(self) -> list[Bend]:
        """Every point and every turn, from left to right: between two of them the curve only rises or only falls."""
        found = []
        for span in self.spans:
            found.append(Bend(span.piece.lo, Fraction(span.power[0], span.scale)))
            if polynomials.variations([b - a for a, b in pairwise(span.control)]):
                _, c1, c2, c3 = span.power
                turns, exact = polynomials.quadratic_roots((c1, 2 * c2, 3 * c3))
                for s in turns:
                    if 0 < s < 1:
                        height = polynomials.numerator_at(span.power, s.numerator, s.denominator)
                        bend = Bend(span.at(s), Fraction(height, span.scale * s.denominator**3))
                        found.append(bend if exact else Bend(round(bend.at, 30), round(bend.value, 20)))
        last = self.spans[-1]
        return [*found, Bend(last.piece.hi, Fraction(sum(last.power), last.scale))]


def _span(piece: Piece) -> Span:
    width = piece.hi - piece.lo
    c0, c1, c2, c3 = piece.coefficients
    c1, c2, c3 = c1 * width, c2 * width**2, c3 * width**3
    control, scale = polynomials.scaled((c0, c0 + c1 / 3, c0 + (2 * c1 + c2) / 3, c0 + c1 + c2 + c3))
    (one, start, length), _ = polynomials.scaled((Fraction(1), piece.lo, width))
    return Span(piece, one, start, length, control, polynomials.from_bernstein(control), scale)


def curve(points: Sequence[Point], smoothing: str) -> Curve:
    """The curve through 2 or more points whose x rise strictly; smoothing is none, monotone, cardinal or natural.

    Two points give the straight line between them under each: the one-sided slopes of monotone and cardinal are its
    slope, and so is the line without curvature. ValueError for fewer points, x that do not rise, or another
    smoothing.
    """
    return _curve(tuple(points), smoothing)


@lru_cache(maxsize=1024)
def _curve(points: tuple[Point, ...], smoothing: str) -> Curve:
    x, y = [p[0] for p in points], [p[1] for p in points]
    h = [b - a for a, b in pairwise(x)]
    if not h or min(h) <= 0:
        raise ValueError("a curve needs two points or more, their inputs strictly rising")
    chords = [Fraction(b - a) / width for (a, b), width in zip(pairwise(y), h, strict=True)]
    if smoothing == "none" or (len(points) == 2 and smoothing in _SLOPES):
        cubics = [(height, chord, Fraction(0), Fraction(0)) for height, chord in zip(y, chords, strict=False)]
    elif smoothing in _SLOPES:
        m = _SLOPES[smoothing](h, chords)
        cubics = [
            (y[i], m[i], (3 * chords[i] - 2 * m[i] - m[i + 1]) / h[i], (m[i] + m[i + 1] - 2 * chords[i]) / h[i] ** 2)
            for i in range(len(h))
        ]
    else:
        raise ValueError(f"no smoothing is called {smoothing}")
    return Curve(tuple(Piece(a, b, c) for (a, b), c in zip(pairwise(x), cubics, strict=False)))


def _monotone_slopes(h: list[Fraction], chords: list[Fraction]) -> list[Fraction]:
    inner = []
    for (h0, h1), (d0, d1) in zip(pairwise(h), pairwise(chords), strict=True):
        if sign(d0) * sign(d1) <= 0:
            inner.append(Fraction(0))
        else:
            inner.append(3 * (h0 + h1) * d0 * d1 / ((h0 + 2 * h1) * d1 + (2 * h0 + h1) * d0))
    return [_end_slope(h[0], h[1], chords[0], chords[1]), *inner, _end_slope(h[-1], h[-2], chords[-1], chords[-2])]


def _end_slope(h0: Fraction, h1: Fraction, d0: Fraction, d1: Fraction) -> Fraction:
    slope = ((2 * h0 + h1) * d0 - h0 * d1) / (h0 + h1)
    if sign(slope) != sign(d0):
        return Fraction(0)
    if sign(d0) != sign(d1) and abs(slope) > 3 * abs(d0):
        return 3 * d0
    return slope


def _cardinal_slopes(h: list[Fraction], chords: list[Fraction]) -> list[Fraction]:
    rises = [width * chord for width, chord in zip(h, chords, strict=False)]
    inner = [(r0 + r1) / (h0 + h1) for (h0, h1), (r0, r1) in zip(pairwise(h), pairwise(rises), strict=True)]
    return [chords[0], *inner, chords[-1]]


def _natural_slopes(h: list[Fraction], chords: list[Fraction]) -> list[Fraction]:
    # rows (below, diagonal, above, right side): curvature is zero at both ends and continuous between
    rows = [(Fraction(0), Fraction(2), Fraction(1), 3 * chords[0])]
    for (h0, h1), (d0, d1) in zip(pairwise(h), pairwise(chords), strict=True):
        rows.append((h1, 2 * (h0 + h1), h0, 3 * (h1 * d0 + h0 * d1)))
    rows.append((Fraction(1), Fraction(2), Fraction(0), 3 * chords[-1]))
    above: list[Fraction] = []
    right: list[Fraction] = []
    for low, diagonal, high, side in rows:
        pivot = diagonal - low * above[-1] if above else diagonal
        right.append((side - low * right[-1]) / pivot if above else side / pivot)
        above.append(high / pivot)
    slopes = [right[-1]]
    for factor, side in zip(reversed(above[:-1]), reversed(right[:-1]), strict=True):
        slopes.append(side - factor * slopes[-1])
    return slopes[::-1]


_SLOPES: dict[str, Callable[[list[Fraction], list[Fraction]], list[Fraction]]] = {
    "monotone": _monotone_slopes,
    "cardinal": _cardinal_slopes,
    "natural": _natural_slopes,
}


def value(c: Curve, x: Fraction) -> Fraction:
    """The curve at x."""
    return value_at(c, x.numerator, x.denominator)


def value_at(c: Curve, n: int, d: int) -> Fraction:
    """The curve at n/d; d is positive, n/d need not be in lowest terms."""
    span = next((span for span in reversed(c.spans) if span.a * n >= span.b * d), c.spans[0])
    top, bottom = span.local(n, d)
    top = min(max(top, 0), bottom)
    return Fraction(polynomials.numerator_at(span.power, top, bottom), span.scale * bottom**3)
