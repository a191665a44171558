"""Fractions with short ways for what nearly every step of arithmetic is: whole numbers, and fractions known as such.

The numbers of a file are made by `fraction`, and arithmetic of an `Exact` with a fraction or a whole number gives one. It is a
`Fraction` in all else: value, hash, repr. Python's own looks each operand up among the abstract numbers first, which was a
fifth of all work on a file (docs/scale.md).
"""

from __future__ import annotations

import operator
from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from math import gcd

from setuplint.hints import Any

_new = object.__new__


class Exact(Fraction):
    """A fraction that is quick with its own kind; made by `fraction`."""

    __slots__ = ()
    _numerator: int  # Python's own slots: its properties take as long as the arithmetic
    _denominator: int

    def __reduce__(self) -> tuple[Any, ...]:
        return _made, (self.numerator, self.denominator)

    def __repr__(self) -> str:
        return f"Fraction({self.numerator}, {self.denominator})"

    def __hash__(self) -> int:  # type: ignore[override]
        return hash(self._numerator) if self._denominator == 1 else Fraction.__hash__(self)

    def __float__(self) -> float:
        return self._numerator / self._denominator

    def __bool__(self) -> bool:
        return bool(self._numerator)

    def __neg__(self) -> Exact:
        return _made(-self._numerator, self._denominator)

    def __pos__(self) -> Exact:
        return self

    def __abs__(self) -> Exact:
        return self if self._numerator >= 0 else -self

    def __round__(self, digits: int | None = None) -> Any:
        """To the nearest number of so many decimal places, of two as near to the even one."""
        if digits is None or digits < 0:
            return Fraction.__round__(self, digits)
        if self._denominator == 1:
            return self
        power = 10**digits
        whole, rest = divmod(self._numerator * power, self._denominator)
        over = 2 * rest - self._denominator
        return _reduced(whole + (over > 0 or (over == 0 and whole & 1)), power)


def fraction(value: int | str | Decimal | Fraction, denominator: int | None = None) -> Fraction:
    """The number as an `Exact`: takes what `Fraction` takes."""
    if type(value) is int:
        if denominator is None:
            return _made(value, 1)
        if denominator > 0:
            return _reduced(value, denominator)
    found = Fraction(value) if denominator is None else Fraction(value, denominator)  # type: ignore[arg-type]
    return _made(found.numerator, found.denominator)


def _made(numerator: int, denominator: int) -> Exact:
    """Of two numbers in lowest terms, the denominator positive."""
    made: Any = _new(Exact)
    made._numerator, made._denominator = numerator, denominator
    return made  # type: ignore[no-any-return]


def _reduced(numerator: int, denominator: int) -> Exact:
    """Of any two numbers, the denominator positive."""
    if denominator != 1:
        common = gcd(numerator, denominator)
        if common != 1:
            return _made(numerator // common, denominator // common)
    return _made(numerator, denominator)


def _plus(a: int, b: int, c: int, d: int) -> Exact:
    """a/b + c/d"""
    return _reduced(a + c, b) if b == d else _reduced(a * d + c * b, b * d)


def _less(a: int, b: int, c: int, d: int) -> Exact:
    """a/b - c/d"""
    return _reduced(a - c, b) if b == d else _reduced(a * d - c * b, b * d)


def _times(a: int, b: int, c: int, d: int) -> Exact:
    """a/b * c/d"""
    return _reduced(a * c, b * d)


def _over(a: int, b: int, c: int, d: int) -> Exact:
    """a/b : c/d"""
    if not c:
        raise ZeroDivisionError(f"Fraction({a * d}, 0)")
    return _reduced(a * d, b * c) if c > 0 else _reduced(-a * d, -b * c)


def _operation(name: str, of: Callable[[int, int, int, int], Exact]) -> tuple[Any, Any]:
    """The method of an operator, and that for an `Exact` on its right."""
    others, others_right = getattr(Fraction, f"__{name}__"), getattr(Fraction, f"__r{name}__")

    def method(self: Any, other: Any) -> Any:
        kind = type(other)
        if kind is Exact or kind is Fraction:
            return of(self._numerator, self._denominator, other._numerator, other._denominator)
        if kind is int:
            return of(self._numerator, self._denominator, other, 1)
        return others(self, other)

    def right(self: Any, other: Any) -> Any:
        kind = type(other)
        if kind is int:
            return of(other, 1, self._numerator, self._denominator)
        if kind is Fraction:
            return of(other._numerator, other._denominator, self._numerator, self._denominator)
        return others_right(self, other)

    return method, right


def _comparison(name: str) -> Any:
    others, of = getattr(Fraction, f"__{name}__"), getattr(operator, name)

    def method(self: Any, other: Any) -> Any:
        kind = type(other)
        if kind is Exact or kind is Fraction:
            return of(self._numerator * other._denominator, other._numerator * self._denominator)
        if kind is int:
            return of(self._numerator, other * self._denominator)
        return others(self, other)

    return method


for _name, _of in {"add": _plus, "sub": _less, "mul": _times, "truediv": _over}.items():
    _left, _right = _operation(_name, _of)
    setattr(Exact, f"__{_name}__", _left)
    setattr(Exact, f"__r{_name}__", _right)
for _name in ("eq", "lt", "le", "gt", "ge"):
    setattr(Exact, f"__{_name}__", _comparison(_name))
