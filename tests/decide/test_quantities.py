"""Stretches of a quantity, and sticks that are put somewhere inside a sum of several."""

from __future__ import annotations

from fractions import Fraction

import setuplint
from setuplint.curves.surds import Surd
from setuplint.setup import formulas as f
from setuplint.solver.quantities import Fixed, Quantity
from setuplint.solver.sat import Sat

SUM = """
format = 1
[channels.motor]
drives = "motor"
from = "throttle"
rate = 50
mix = [{ from = "rudder", rate = 50 }]
"""


def test_cells_cover_the_range_once() -> None:
    quantity = Quantity(Sat(), Fraction(-100), Fraction(100))
    quantity.cut(Fraction(0))
    quantity.cut(Surd((-100, 3), Fraction(99, 3), Fraction(101, 3)))
    cells = [(c.lo, c.hi, c.lo_closed, c.hi_closed) for c in quantity.cells()]
    third = Fraction(100, 3)
    assert cells == [(-100, 0, True, False), (0, 0, True, True), (0, third, False, False), (third, 100, False, True)]


def test_what_is_put_somewhere_is_one_cell() -> None:
    point, stretch = Fixed(Sat(), Fraction(5), Fraction(5)), Fixed(Sat(), Fraction(0), Fraction(5))
    assert [(c.lo, c.hi, c.lo_closed) for c in point.cells()] == [(5, 5, True)]
    assert [(c.lo, c.hi, c.lo_closed) for c in stretch.cells()] == [(0, 5, False)]


def test_a_stick_put_somewhere_inside_a_sum() -> None:
    """50 % of the throttle and of the rudder: with the throttle put at 20 the sum reaches 60 and no more."""
    decider = setuplint.decide(setuplint.load_text(SUM))
    cone = decider.cone([f.OutputCompare("motor", ">", Fraction(0))])

    def over(number: int) -> bool:
        asked = f.OutputCompare("motor", ">", Fraction(number))
        answer = decider.ask(lambda frame: frame.shadow(decider.at(throttle=Fraction(20))).truth(asked)[0], cone)
        return bool(answer.found)

    assert over(59)
    assert not over(60)
