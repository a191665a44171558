"""Each smoothing is defined twice, for the engine and for the plain evaluator: by other means, and with one result."""

from __future__ import annotations

import ast
import inspect
from itertools import pairwise
from types import ModuleType

import numpy
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import CubicSpline, PchipInterpolator

from setuplint.setup import smoothings
from setuplint.setup.smoothings import cardinal, monotone, natural

MODULES = (monotone, cardinal, natural)
numbers = st.fractions(-150, 150, max_denominator=20)
points = st.lists(st.fractions(-100, 100, max_denominator=20), min_size=3, max_size=9, unique=True).flatmap(
    lambda x: st.lists(numbers, min_size=len(x), max_size=len(x)).map(lambda y: tuple(zip(sorted(x), y, strict=True)))
)


@pytest.mark.slow
@given(points)
def test_the_two_definitions_agree(at: smoothings.Points) -> None:
    widths = [b[0] - a[0] for a, b in pairwise(at)]
    chords = [(b[1] - a[1]) / (b[0] - a[0]) for a, b in pairwise(at)]
    for kind in smoothings.smoothings().values():
        if kind.slopes is not None and kind.plain_slopes is not None:
            assert list(kind.slopes(widths, chords)) == list(kind.plain_slopes(at)), kind.name


@pytest.mark.slow
@given(points)
def test_slopes_by_scipy(at: smoothings.Points) -> None:
    x, y = (numpy.array([float(each[n]) for each in at]) for n in (0, 1))
    assert [float(m) for m in natural.plain_slopes(at)] == pytest.approx(
        CubicSpline(x, y, bc_type="natural")(x, 1), rel=1e-6, abs=1e-6
    )
    if min(numpy.diff(x)) > 1e-3:
        assert [float(m) for m in monotone.plain_slopes(at)] == pytest.approx(
            PchipInterpolator(x, y)(x, 1), rel=1e-6, abs=1e-6
        )


@pytest.mark.parametrize("module", MODULES)
def test_the_two_definitions_share_no_code(module: ModuleType) -> None:
    functions = {n.name: n for n in ast.parse(inspect.getsource(module)).body if isinstance(n, ast.FunctionDef)}

    def reached(name: str) -> set[str]:
        found, waiting = {name}, [name]
        while waiting:
            names = {n.id for n in ast.walk(functions[waiting.pop()]) if isinstance(n, ast.Name)}
            waiting += sorted(names & functions.keys() - found)
            found |= names & functions.keys()
        return found

    assert not reached("slopes") & reached("plain_slopes")
    assert reached("slopes") | reached("plain_slopes") == functions.keys()


def test_the_order_is_that_of_the_format() -> None:
    assert smoothings.format_words() == ["none", "monotone", "cardinal", "natural", "unknown"]
    assert smoothings.possible("unknown") == ("monotone", "cardinal", "natural")
    assert smoothings.possible("natural") == ("natural",)
