"""Points to curves: straight lines, or cubics with the slopes of a smoothing (`setup.smoothings`), in exact fractions.

x and y are percent of travel.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from functools import cached_property, lru_cache
from itertools import pairwise

from setuplint.curves import polynomials
from setuplint.curves.polynomials import Ints
from setuplint.dataclass import dataclass
from setuplint.fraction import fraction
from setuplint.named_tuple import NamedTuple
from setuplint.setup.smoothings import smoothings

Point = tuple[Fraction, Fraction]


@dataclass(frozen=True)
class Piece:
    """A cubic in (x - lo) on [lo, hi], lowest power first; always four coefficients."""

    lo: Fraction
    hi: Fraction
    coefficients: tuple[Fraction, ...]


class IntegerPiece(NamedTuple):
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
class CubicCurve:
    """A continuous curve through points in order; outside them it keeps the end values."""

    pieces: tuple[Piece, ...]

    def __hash__(self) -> int:
        return self._hash

    @cached_property
    def _hash(self) -> int:
        return hash(self.pieces)

    @cached_property
    def spans(self) -> list[IntegerPiece]:
        """The pieces over integers."""
        return [_span(piece) for piece in self.pieces]

    @cached_property
    def bends(self) -> list[Bend]:
        """Every point and every turn, from left to right: between two of them the curve only rises or only falls."""
        found = []
        for span in self.spans:
            found.append(Bend(span.piece.lo, fraction(span.power[0], span.scale)))
            if polynomials.variations([b - a for a, b in pairwise(span.control)]):
                _, c1, c2, c3 = span.power
                turns, exact = polynomials.quadratic_roots((c1, 2 * c2, 3 * c3))
                for s in turns:
                    if 0 < s < 1:
                        height = polynomials.numerator_at(span.power, s.numerator, s.denominator)
                        bend = Bend(span.at(s), fraction(height, span.scale * s.denominator**3))
                        found.append(bend if exact else Bend(round(bend.at, 30), round(bend.value, 20)))
        last = self.spans[-1]
        return [*found, Bend(last.piece.hi, fraction(sum(last.power), last.scale))]


def _span(piece: Piece) -> IntegerPiece:
    width = piece.hi - piece.lo
    c0, c1, c2, c3 = piece.coefficients
    c1, c2, c3 = c1 * width, c2 * width**2, c3 * width**3
    control, scale = polynomials.scaled((c0, c0 + c1 / 3, c0 + (2 * c1 + c2) / 3, c0 + c1 + c2 + c3))
    (one, start, length), _ = polynomials.scaled((fraction(1), piece.lo, width))
    return IntegerPiece(piece, one, start, length, control, polynomials.from_bernstein(control), scale)


def curve(points: Sequence[Point], smoothing: str) -> CubicCurve:
    """The curve through 2 or more points whose x rise strictly, smoothed in one of the known ways.

    Two points give the straight line between them under each. ValueError for fewer points, x that do not rise, or
    another smoothing.
    """
    return _curve(tuple(points), smoothing)


@lru_cache(maxsize=1024)
def _curve(points: tuple[Point, ...], smoothing: str) -> CubicCurve:
    x, y = [p[0] for p in points], [p[1] for p in points]
    h = [b - a for a, b in pairwise(x)]
    if not h or min(h) <= 0:
        raise ValueError("a curve needs two points or more, their inputs strictly rising")
    chords = [fraction(b - a) / width for (a, b), width in zip(pairwise(y), h, strict=True)]
    kind = smoothings().get(smoothing)
    if kind is None:
        raise ValueError(f"no smoothing is called {smoothing}")
    if kind.slopes is None or len(points) == 2:
        cubics = [(height, chord, fraction(0), fraction(0)) for height, chord in zip(y, chords, strict=False)]
    else:
        m = kind.slopes(h, chords)
        cubics = [
            (y[i], m[i], (3 * chords[i] - 2 * m[i] - m[i + 1]) / h[i], (m[i] + m[i + 1] - 2 * chords[i]) / h[i] ** 2)
            for i in range(len(h))
        ]
    return CubicCurve(tuple(Piece(a, b, c) for (a, b), c in zip(pairwise(x), cubics, strict=False)))


def value(c: CubicCurve, x: Fraction) -> Fraction:
    """The curve at x."""
    return value_at(c, x.numerator, x.denominator)


def value_at(c: CubicCurve, n: int, d: int) -> Fraction:
    """The curve at n/d; d is positive, n/d need not be in lowest terms."""
    span = next((span for span in reversed(c.spans) if span.a * n >= span.b * d), c.spans[0])
    top, bottom = span.local(n, d)
    top = min(max(top, 0), bottom)
    return fraction(polynomials.numerator_at(span.power, top, bottom), span.scale * bottom**3)
