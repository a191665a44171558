"""Arithmetic of `fraction` against Python's `Fraction`: the same values, types and errors, whatever is on the other side."""

from __future__ import annotations

import copy
import operator
import pickle
from decimal import Decimal
from fractions import Fraction
from itertools import product
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from setuplint.fraction import Exact, fraction

TWO = ("add", "sub", "mul", "truediv", "floordiv", "mod", "pow", "eq", "ne", "lt", "le", "gt", "ge")
ONE = ("neg", "pos", "abs", "hash", "bool", "float", "int", "repr", "round")
BUILT_IN = {name: getattr(__import__("builtins"), name) for name in ("hash", "bool", "float", "int", "repr", "round")}
OTHERS: list[Any] = [0, 1, -3, True, 10**30, 0.5, float("nan"), float("inf"), 2j, None, "x", Decimal("0.5")]
NUMBERS = st.one_of(st.fractions(max_denominator=100), st.fractions(), st.integers().map(Fraction))


def outcome(of: Any, *values: Any) -> Any:
    try:
        found = of(*values)
    except Exception as error:
        return type(error)
    kind = Fraction if isinstance(found, Fraction) else type(found)
    return kind, repr(found)


def agree(a: Fraction, b: Any) -> None:
    ours = fraction(a)
    for name in TWO:
        if name == "pow" and any(isinstance(x, int | Fraction) and abs(x) >= 20 for x in (a, b)):
            continue
        of = getattr(operator, name)
        theirs = b if not isinstance(b, Fraction) else fraction(b)
        for mine, his in product((ours, a), (theirs, b)):
            assert outcome(of, mine, his) == outcome(of, a, b), (name, mine, his)
            assert outcome(of, his, mine) == outcome(of, b, a), (name, his, mine)


@pytest.mark.slow
@given(NUMBERS, NUMBERS)
def test_two_numbers(a: Fraction, b: Fraction) -> None:
    agree(a, b)


@given(NUMBERS, st.integers())
def test_a_number_and_a_whole_one(a: Fraction, b: int) -> None:
    agree(a, b)


@pytest.mark.parametrize("other", OTHERS, ids=repr)
def test_a_number_and_something_else(other: Any) -> None:
    for a in (Fraction(0), Fraction(7), Fraction(-3, 4)):
        agree(a, other)


@given(NUMBERS)
def test_one_number(a: Fraction) -> None:
    for name in ONE:
        of = BUILT_IN.get(name) or getattr(operator, name)
        assert outcome(of, fraction(a)) == outcome(of, a), name
    for places in (-2, 0, 1, 6):
        assert outcome(round, fraction(a), places) == outcome(round, a, places), places
    for again in (pickle.loads(pickle.dumps(fraction(a))), copy.copy(fraction(a)), copy.deepcopy(fraction(a))):
        assert (again, type(again)) == (a, Exact)
    assert {a: 1}[fraction(a)] == 1
    assert isinstance(fraction(a), Fraction)


@pytest.mark.parametrize("given", ["7", "-0.25", "1e3", 3, Decimal("1.10"), Fraction(2, 6)])
def test_what_a_number_is_made_of(given: Any) -> None:
    assert fraction(given) == Fraction(given)
    assert type(fraction(given)) is Exact


def test_a_number_of_two() -> None:
    assert fraction(4, -6) == Fraction(-2, 3)
    with pytest.raises(ZeroDivisionError):
        fraction(1, 0)


def test_arithmetic_stays_with_the_quick_kind() -> None:
    a, b = fraction(1, 3), Fraction(1, 6)
    assert {type(x) for x in (a + b, b + a, a - 1, 1 - a, a * b, b / a, 2 / a, -a, abs(-a), sum([a, a]))} == {Exact}
