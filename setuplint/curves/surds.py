"""Places on a stick that no decimal names, compared exactly with decimals and with one another."""

from __future__ import annotations

from fractions import Fraction

from setuplint.curves import polynomials
from setuplint.curves.polynomials import Ints, sign
from setuplint.fraction import fraction
from setuplint.named_tuple import NamedTuple

FINER = 2**20


class Surd(NamedTuple):
    """The root of a polynomial between two fractions, the only one there and a simple one."""

    polynomial: Ints
    lo: Fraction
    hi: Fraction

    @property
    def near(self) -> Fraction:
        """The middle: the root is less than `error` from it."""
        return (self.lo + self.hi) / 2

    @property
    def error(self) -> Fraction:
        """Half of what is between the two fractions."""
        return (self.hi - self.lo) / 2

    def side(self, x: Fraction) -> int:
        """The sign of x less the root."""
        if x <= self.lo:
            return -1
        return 1 if x >= self.hi else _sign(self.polynomial, x) * _sign(self.polynomial, self.hi)

    def finer(self) -> Surd:
        """The same root between two closer fractions."""
        start, step = self.lo, (self.hi - self.lo) / FINER
        below, _ = polynomials.locate(lambda n: self.side(start + n * step), FINER // 2)
        return Surd(self.polynomial, start + (below - 1) * step, start + (below + 1) * step)


Place = Fraction | Surd


def shifted(place: Place, by: Fraction) -> Place:
    """A place so much further up."""
    if isinstance(place, Fraction):
        return place + by
    (one, offset), d = polynomials.scaled((fraction(1), -by))
    moved = polynomials.primitive(polynomials.composed(place.polynomial, (offset, one), d))
    return Surd(moved, place.lo + by, place.hi + by)


def _sign(p: Ints, x: Fraction) -> int:
    return sign(polynomials.numerator_at(p, x.numerator, x.denominator))


def compared(one: Place, other: Place) -> int:
    """The sign of one less the other."""
    if isinstance(one, Fraction):
        return sign(one - other) if isinstance(other, Fraction) else other.side(one)
    if isinstance(other, Fraction):
        return -one.side(other)
    while one.lo < other.hi and other.lo < one.hi:
        if _same(one, other):
            return 0
        one, other = one.finer(), other.finer()
    return -1 if one.hi <= other.lo else 1


def _same(one: Surd, other: Surd) -> bool:
    """Whether both are the same number: a root of what their polynomials have in common, which has no other root there."""
    if one.polynomial == other.polynomial:
        shared = one.polynomial
    else:
        shared = polynomials.common_divisor(one.polynomial, other.polynomial)
    if len(shared) == 1 or _sign(shared, one.lo) == _sign(shared, one.hi):
        return False
    return one.side(other.lo) < 0 < one.side(other.hi)
