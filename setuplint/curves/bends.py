"""What the rules ask of a curve as flown: does it turn back, how steep is it?

A `Curve` stands for itself on the stick, a `Shape` for the curve with its rate and expo; x and y are percent of
travel, slopes are points of y per point of stick, without their sign. Places are within 1e-9.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from itertools import pairwise

from setuplint.curves import polynomials
from setuplint.curves.cubics import Bend, CubicCurve, IntegerPiece
from setuplint.curves.polynomials import sign
from setuplint.curves.shape import FULL, Extreme, Shape, rounded
from setuplint.fraction import fraction
from setuplint.named_tuple import NamedTuple

WOBBLE = fraction(1, 100)  # a bend of 0.01 point is none
FINE = 40  # halvings of a piece, and the 30 decimals below: a steepest place errs the slope by its square
DECIMALS = 30


class Turn(NamedTuple):
    """The greatest amount by which a curve goes the wrong way, and between which two places."""

    x_from: Fraction
    x_to: Fraction
    amount: Fraction


def _flown(c: CubicCurve | Shape) -> Shape:
    return c if isinstance(c, Shape) else Shape(c, FULL, fraction(0))


def range_over(c: CubicCurve | Shape, lo: Fraction = -FULL, hi: Fraction = FULL) -> tuple[Extreme, Extreme]:
    """The least and the greatest over [lo, hi], each as (x, y): see `Shape.extremes`."""
    return _flown(c).extremes(lo, hi)


def turns_against(
    c: CubicCurve | Shape,
    lo: Fraction = -FULL,
    hi: Fraction = FULL,
    put: Callable[[Fraction], Fraction] | None = None,
    direction: int | None = None,
) -> Turn:
    """The furthest it goes against a direction (1, -1; None: that of its ends); with equal ends, or 0, the greatest fall or rise
    there is. `put` says what becomes of y, and never falls as y rises, or never rises."""
    shape = _flown(c)
    bends = _put(shape.bends(lo, hi), put)
    direction = sign(bends[-1].value - bends[0].value) if direction is None else direction
    found = [_against(bends, d) for d in ((direction,) if direction else (1, -1))]
    start, end, amount = max(found, key=lambda turn: turn[2])
    x_from, x_to = shape.places(bends, lo, hi, (start, end))
    return Turn(x_from, x_to, amount)


def _put(bends: list[Bend], put: Callable[[Fraction], Fraction] | None) -> list[Bend]:
    return bends if put is None else [Bend(bend.at, put(bend.value)) for bend in bends]


def _against(bends: Sequence[Bend], direction: int) -> tuple[int, int, Fraction]:
    """The two bends between which it goes furthest against a direction, and how far; (0, 0, 0) if it never does."""
    worst = (0, 0, fraction(0))
    furthest = 0
    for i, bend in enumerate(bends):
        amount = direction * (bends[furthest].value - bend.value)
        if amount <= 0:
            furthest = i
        elif amount > worst[2]:
            worst = (furthest, i, amount)
    return worst


def is_valley(
    c: CubicCurve | Shape, lo: Fraction = -FULL, hi: Fraction = FULL, put: Callable[[Fraction], Fraction] | None = None
) -> bool:
    """Whether it falls to one bottom and rises from it, each by more than 0.01, with no bend over 0.01 between. `put` is as
    for `turns_against`."""
    bends = _put(_flown(c).bends(lo, hi), put)
    bottom = min(range(len(bends)), key=lambda i: bends[i].value)
    if min(bends[0].value, bends[-1].value) - bends[bottom].value <= WOBBLE:
        return False
    return _against(bends[: bottom + 1], -1)[2] <= WOBBLE and _against(bends[bottom:], 1)[2] <= WOBBLE


def slope_range(c: CubicCurve | Shape, lo: Fraction = -FULL, hi: Fraction = FULL) -> tuple[Extreme, Extreme]:
    """The least and the greatest slope over [lo, hi], up or down, as (x, slope); of several places the one nearest the middle.

    At a corner the slopes on both sides count, at lo and hi the one inside. A slope is exact where it is taken at an
    end, and at a point of the curve that needs no expo to be reached; elsewhere it is within 1e-9. ValueError unless
    lo < hi.
    """
    if not lo < hi:
        raise ValueError("a slope needs a stretch of stick")
    # Between two neighbours it does not turn: the steepness has its extremes where the slope has.
    slopes = sorted(
        ((x, abs(slope)) for x, slope in _slopes(_flown(c), lo, hi)), key=lambda extreme: (abs(extreme[0]), extreme[0])
    )
    low, high = min(slopes, key=lambda extreme: extreme[1]), max(slopes, key=lambda extreme: extreme[1])
    return (_named(low[0], lo, hi), low[1]), (_named(high[0], lo, hi), high[1])


def _named(x: Fraction, lo: Fraction, hi: Fraction) -> Fraction:
    return x if x in (lo, hi) else rounded(x)


def _slopes(shape: Shape, lo: Fraction, hi: Fraction) -> Iterator[Extreme]:
    """The slope at both ends of every stretch on which y is one polynomial, and wherever it turns inside."""
    ends = [lo, hi]
    if shape.rate:
        full = 10000 / abs(shape.rate)
        ends += [x for x in (-full, full) if lo < x < hi]
        ends += [_reached(shape, bend.at) for bend in shape.bends(lo, hi)[1:-1]]
    for start, end in pairwise(sorted(set(ends))):
        w = fraction(*shape.bent(*((start + end) / 2).as_integer_ratio()))
        span = next((span for span in shape.curve.spans if span.piece.lo < w < span.piece.hi), None)
        if span is None:
            yield from ((start, fraction(0)), (end, fraction(0)))
        else:
            yield from _slopes_of(shape, span, start, end)


def _reached(shape: Shape, w: Fraction) -> Fraction:
    """The stick that gives the curve w, exactly without expo, else to 30 decimals."""
    return w * 100 / shape.rate if not shape.expo else shape.place(w, DECIMALS)


def _slopes_of(shape: Shape, span: IntegerPiece, start: Fraction, end: Fraction) -> Iterator[Extreme]:
    """The slope at both ends of a stretch on which y is one polynomial of degree 9 at most, and wherever it turns."""
    n, d = shape.bent_polynomial()
    offset, bottom = tuple(span.a * c for c in n), span.c * d
    y = polynomials.composed(span.power, (offset[0] - span.b * d, *offset[1:]), bottom)
    slope = polynomials.derivative(y)
    change = polynomials.derivative(slope)
    scale = span.scale * bottom**3
    turns = [start + (end - start) * s for s in _turns(polynomials.local(change, start, end))]
    for x in (start, end, *(_neat(change, x) for x in turns)):
        top = polynomials.numerator_at(slope, x.numerator, x.denominator)
        yield x, fraction(top, scale * x.denominator ** (len(slope) - 1))


def _neat(p: polynomials.Ints, x: Fraction) -> Fraction:
    """The root of p near x if it has nine decimals, else x."""
    short = rounded(x)
    return x if polynomials.numerator_at(p, short.numerator, short.denominator) else short


def _turns(p: polynomials.Ints) -> Iterator[Fraction]:
    """Every s in (0, 1) at which p changes sign, to 2^-40, and perhaps some at which it does not."""
    for lo, hi in polynomials.isolate(polynomials.to_bernstein(p), FINE):
        if lo == hi:
            yield lo
            continue
        control = polynomials.to_bernstein(polynomials.local(p, lo, hi))
        rising = next(c for c in control if c) < 0
        near = polynomials.guess(p, float(lo), float(hi), rising)

        def side(x: int, lo: Fraction = lo, hi: Fraction = hi, rising: bool = rising) -> int:
            s = fraction(x, 2**FINE)
            if s <= lo:
                return -1
            return 1 if s >= hi else sign(polynomials.numerator_at(p, x, 2**FINE)) * (1 if rising else -1)

        yield fraction(polynomials.locate(side, round(near * 2**FINE))[0], 2**FINE)
