"""A sum of several sticks of which one value alone will do: outputs are rounded half to even, so both ends may belong to it."""

from __future__ import annotations

from fractions import Fraction

import pytest

import setuplint
from setuplint.curves.shape import Shape
from setuplint.engine.decider import Decider
from setuplint.setup import formulas as f
from setuplint.solver import sums
from setuplint.solver.sat import Sat

# x rounds 9.9999995 up to 10, y rounds -29.9999985 up to -29.999998: both are even. A hair more or less is too much for one.
TWO = """format = 1
[channels.x]
from = "aileron"
rate = 10
mix = [{ from = "elevator", rate = 14 }]
[channels.y]
from = "aileron"
rate = -30
mix = [{ from = "elevator", rate = -42 }]
"""


@pytest.mark.parametrize(("y", "verdict"), [("-29.999998", "found"), ("-29.999997", "impossible")])
def test_one_value_alone(y: str, verdict: str) -> None:
    setup = setuplint.load_text(TWO)
    both = f.both(f.OutputCompare("x", ">=", Fraction(10)), f.OutputCompare("y", ">=", Fraction(y)))
    assert Decider(setup.model).find(both).verdict == verdict


def test_a_value_that_is_not_met_is_not_said_to_be_none() -> None:
    """A curve takes it where no decimals are."""
    shapes = tuple((name, Shape.of(None, None, Fraction(rate), Fraction(30))) for name, rate in (("a", 30), ("b", 43)))
    box = {name: (Fraction(-100), Fraction(100)) for name, _ in shapes}
    wanted: list[sums.Wanted] = [(shapes, Fraction(7), True, Fraction(7), True)]
    with pytest.raises(sums.Touching):
        sums.solve(box, wanted, Sat())
    assert not sums.impossible(box, wanted, Sat())


def test_next_to_such_a_value_there_are_others() -> None:
    setup = setuplint.load_text(TWO.replace("rate = 10\n", "rate = 10\nexpo = 30\n"))
    both = f.both(f.OutputCompare("x", ">=", Fraction(10)), f.OutputCompare("x", "<=", Fraction(10)))
    assert Decider(setup.model).find(both).found
