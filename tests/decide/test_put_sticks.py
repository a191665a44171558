"""A stick put at a place, in a sum with others: the others are held to what they add."""

from __future__ import annotations

from fractions import Fraction

import pytest

import setuplint
from setuplint.setup import formulas as f

TEXT = """
format = 1
[knobs.fine]
[channels.motor]
drives = "motor"
from = "throttle"
mix = [{ from = "fine", rate = 20 }]
"""


@pytest.mark.parametrize(("least", "found"), [(-85, True), (-83, False)])
def test_a_sum_with_a_stick_put_elsewhere(least: int, found: bool) -> None:
    decider = setuplint.decide(setuplint.load_text(TEXT))
    above = f.OutputCompare("motor", ">=", Fraction(least))
    low = f.Compare("fine", "<=", Fraction(80))
    answer = decider.ask(
        lambda frame: frame.both(
            (frame.holds(low), frame.moved(sticks=decider.at(throttle=Fraction(-100))).holds(above))
        ),
        decider.cone([above, low]),
    )
    assert answer.found == found
    if answer.case is not None:
        assert answer.case.state.sticks["fine"] >= 75
