"""A sum of what several sticks do to one channel: its extremes over a box are sums of extremes."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from setuplint.curves.shape import STRAIGHT, Shape
from setuplint.fraction import fraction

NEAR = fraction(1, 10**9)
Shapes = tuple[tuple[str, Shape], ...]
Box = Mapping[str, tuple[Fraction, Fraction]]


def scaled(shapes: Shapes) -> tuple[Shapes, Fraction]:
    """Plain proportional sums in a common scale, so that twin servos and elevons share one sum, and the factor."""
    if any(shape.curve is not STRAIGHT or shape.expo != 0 or abs(shape.rate) > 100 for _, shape in shapes):
        return shapes, fraction(1)
    factor = max(abs(shape.rate) for _, shape in shapes) / 100
    if shapes[0][1].rate < 0:
        factor = -factor
    return tuple((name, Shape.of(None, None, shape.rate / factor, fraction(0))) for name, shape in shapes), factor


def limits(shapes: Shapes, box: Box) -> tuple[Fraction, Fraction]:
    """The least and greatest of a sum over a closed box: sums of the extremes."""
    pairs = [shape.extremes(*box[name]) for name, shape in shapes]
    return sum((low[1] for low, _ in pairs), fraction(0)), sum((high[1] for _, high in pairs), fraction(0))
