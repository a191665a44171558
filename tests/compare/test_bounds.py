"""What a comparison may cost: counts of work on files that double it at every line."""

from __future__ import annotations

import setuplint
from setuplint.comparison.matching import control_uses
from setuplint.comparison.result import compare
from setuplint.findings import Report

MOTOR = """[channels.m]
drives = "motor"
from = "throttle"
[overrides.h]
channel = "m"
value = -100
when = "{when}"
[intent]
hold = "s is on"
"""


def ladder(count: int) -> setuplint.Setup:
    """Conditions that each name the two before."""
    lines = ["format = 1", "[craft]", "motor-off = -95", "[switches.s]", 'kind = "two-position"']
    for n in range(count):
        when = ("s is on", "s is off")[n] if n < 2 else f"c{n - 1} or c{n - 2}"
        lines += [f"[conditions.c{n}]", f'when = "{when}"', "after = 0.1"]
    return setuplint.load_text("\n".join([*lines, MOTOR.format(when=f"c{count - 1}")]))


def test_what_a_control_is_used_for_does_not_double_with_each_condition() -> None:
    few, many = (len(repr(control_uses(ladder(count).model, "s"))) for count in (9, 27))
    assert many <= 2 * few


def test_a_ladder_of_conditions_is_compared() -> None:
    setup = ladder(40)
    report = Report("ladder.toml", setup.texts)
    comparison = compare(setup.model, setup.model, report, report)
    assert not comparison.differs
    assert not comparison.open
