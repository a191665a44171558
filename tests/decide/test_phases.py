"""A run after a movement out of power-up, phase by phase as literals, against the timed simulator: every switch, some places."""

from __future__ import annotations

from fractions import Fraction
from itertools import product

import pytest

import setuplint
from setuplint.engine.decider import Decider
from setuplint.engine.literals import Frame
from setuplint.plain.evaluate import evaluate
from setuplint.plain.simulate import simulate
from setuplint.plain.state import State
from setuplint.setup import formulas as f

LIMIT = Fraction(2)
PLACES = (Fraction(-100), Fraction(-40), Fraction(30))
OFF = Fraction(-60)
SWITCHES = """
format = 1
craft = { motor-off = -60 }
switches.hold = { kind = "two-position", positions = ["off", "on"] }
switches.flight = { kind = "three-position", positions = ["low", "mid", "high"] }
switches.extra = { kind = "two-position", positions = ["off", "on"] }
curves.up = { points = [[-100, 20], [100, 60]] }
channels.motor.drives = "motor"
channels.motor.from = "throttle"
overrides.held = { channel = "motor", value = STOPPED, when = "hold is on or staying", priority = 9 }
intent.hold = "hold is on"
"""
TURNED = "turned round"
TIMED = {
    "one lingers": 'conditions.staying = { when = "hold is on and flight is mid", stays = 2.005 }',
    "one is late": 'conditions.staying = { when = "hold is off and flight is not low", after = 2 }',
    "a debounced one": 'conditions.staying = { when = "extra is on or hold is on and flight is high", after = 0.7, stays = 0.9 }',
    "one on another": """
        conditions.first = { when = "hold is on or extra is on", stays = 0.35 }
        conditions.second = { when = "not first and flight is mid", after = 1.2 }
        conditions.staying = { when = "second", stays = 5 }""",
    "a latch on a delay": """
        conditions.first = { when = "hold is off", after = 0.004 }
        conditions.staying = { when = "not first and throttle > 0", until = "first and flight is high" }""",
    "a toggle on a delay": """
        conditions.first = { when = "hold is off and flight is mid", after = 1.99 }
        conditions.second = { when = "first", toggles = true }
        conditions.staying = { when = "not second and extra is on" }""",
    "modes that come late": """
        conditions.soon = { when = "hold is off", after = 0.5 }
        conditions.staying = { when = "extra is on", stays = 1 }
        modes.up = { when = "soon and flight is high", idle-up = true }
        modes.down = {}
        channels.motor.in.up = { curve = "up", ramp-up = 3 }""",
    "a ramp that is slow from some places": """
        conditions.staying = { when = "extra is on and hold is on", stays = 0.8 }
        channels.motor.ramp-up = 9
        overrides.warm = { channel = "motor", value = -75, when = "hold is on and flight is high", priority = 10 }
        overrides.warmer = { channel = "motor", value = -90, when = "hold is on and flight is mid", priority = 10 }""",
    "a ramp down": """
        conditions.staying = { when = "extra is on", after = 0.3 }
        channels.motor.ramp-down = 4
        overrides.high = { channel = "motor", value = 0, when = "hold is on and flight is high", priority = 10 }""",
    TURNED: """
        conditions.staying = { when = "extra is on and hold is on", stays = 1 }
        channels.motor.reversed = true
        channels.motor.ramp-down = 6
        channels.motor.ramp-up = 1""",
}

# Where a phase takes the output back at once, before it climbs again, the literals do not know how far.
OPEN = {"a ramp that is slow from some places": 2, "modes that come late": 2}


def pin(state: State) -> f.Formula:
    throttle = state.sticks["throttle"]
    places = [f.Compare("throttle", op, throttle) for op in (">=", "<=")]
    return f.both(*(f.SwitchIs(name, at) for name, at in state.positions.items()), *places)


def exceeds(decider: Decider, state: State) -> tuple[bool, bool]:
    """Whether the run is told to go above for sure, and perhaps, after the hold is released."""
    motor, driven = decider.setup.channels["motor"], f.OutputCompare("motor", ">", OFF)

    def asked(side: int) -> bool:
        def after(frame: Frame, moved: Frame) -> int:
            true, false = decider.run_after(frame, moved, [driven], LIMIT).exceeds(motor, OFF)
            return -false if side else true

        before = pin(state)
        return decider.ask_movement(
            lambda frame: frame.truth(before)[0], after, [("hold", "off")], [before, driven], at_power_up=True
        ).found

    return asked(0), asked(1)


def is_run_above(decider: Decider, state: State) -> bool:
    after = State({**state.positions, "hold": "off"}, state.sticks, state.readings, state.cell)
    memory = evaluate(decider.setup, state).memory
    run = list(simulate(decider.setup, state, memory, [(Fraction(0), after)], LIMIT))[1:]
    return any((value := moment.evaluation.outputs["motor"]) is not None and value > OFF for moment in run)


@pytest.mark.parametrize("name", TIMED)
def test_what_a_run_may_do_and_does_for_sure(name: str) -> None:
    setup = setuplint.load_text(SWITCHES.replace("STOPPED", "100" if name == TURNED else "-100") + TIMED[name])
    decider = setuplint.decide(setup)
    told, open_ = set[bool](), 0
    for flight, extra, throttle in product(("low", "mid", "high"), ("off", "on"), PLACES):
        positions = {"hold": "on", "flight": flight, "extra": extra}
        state = State(positions, {**decider.rest.sticks, "throttle": throttle}, {}, None)
        sure, perhaps = exceeds(decider, state)
        shown = is_run_above(decider, state)
        assert sure <= shown <= perhaps, (positions, throttle)
        open_ += sure != perhaps
        told.add(shown)
    assert told == {True, False}
    assert open_ <= OPEN.get(name, 0)
