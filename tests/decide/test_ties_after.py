"""Cases in which overrides tie: the controls that let the winner be on, and those above it off, are among those that matter."""

from __future__ import annotations

import pytest

import setuplint
from setuplint.dataclass import replace
from setuplint.plain.evaluate import OFF, evaluate
from setuplint.plain.resting import rest

TIED = """\
format = 1
[switches.armed]
kind = "two-position"
[switches.calls]
kind = "two-position"
[channels.motor]
drives = "motor"
from = 0
[overrides.one]
channel = "motor"
value = 40
when = "armed is on"
[overrides.other]
channel = "motor"
value = -100
when = "elevator > 50"
[overrides.above]
channel = "motor"
value = 100
when = "calls is on and elevator <= 50"
priority = 10
"""


@pytest.mark.parametrize("after", ["output motor < -50", "output motor < 50"])
def test_all_that_a_tie_after_the_movement_stands_on_is_named(after: str) -> None:
    """Whoever puts the named controls so, and leaves all else at rest, sees what is said."""
    setup = setuplint.load_text(TIED).model
    answer = setuplint.decide(setup).find_movement("output motor > 39", f"calls is on and {after}", [("calls", "on")])
    assert answer.case is not None
    named, still = answer.case.matters, rest(setup)
    positions = {**still.positions, **{n: str(v) for n, v in named.items() if n in still.positions}, "calls": "on"}
    sticks = {**still.sticks, **{n: v for n, v in named.items() if n in still.sticks and not isinstance(v, str)}}
    ties = answer.case.after.ties if answer.case.after is not None else {}
    there = evaluate(setup, replace(still, positions=positions, sticks=sticks, ties=ties), OFF)
    assert answer.case.after_evaluation is not None
    assert there.outputs == answer.case.after_evaluation.outputs


def test_what_keeps_higher_overrides_off_is_named() -> None:
    """Of two of one priority above the tie neither is on: that is no choice, but where their switches stand."""
    higher = TIED.replace('when = "armed is on"', 'when = "armed is off"\npriority = 20')
    higher = higher.replace(
        'when = "calls is on and elevator <= 50"\npriority = 10', 'when = "calls is off"\npriority = 20'
    )
    lower = '[overrides.low]\nchannel = "motor"\nvalue = -30\nwhen = "rudder < 50"\n'
    case = setuplint.decide(setuplint.load_text(higher + lower).model).find("output motor < -50").case
    assert case is not None
    assert {"armed", "calls", "elevator"} <= case.matters.keys()
