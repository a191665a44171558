"""A control or a motor that comes late behind its stick, in whatever state: against the timed simulator in many of them."""

from __future__ import annotations

import random
from fractions import Fraction
from itertools import product
from typing import Any

import pytest

import setuplint
from setuplint.findings import Finding
from setuplint.plain.evaluate import evaluate, truth
from setuplint.plain.simulate import simulate
from setuplint.plain.state import OFF, State
from setuplint.setup import formulas as f
from setuplint.setup.model import Setup
from tests.checks.linted import TEXT, said
from tests.rules.edits import edited

F = Fraction
LAGS, SLOWLY = "motor-lags", "control-slow"
FIXED = ("craft.hover-collective", "channels.pitch", "curves.pitch-calm", "curves.pitch-wide", "failsafe.pitch")
FLAT = {"craft.rotor": "fixed", "curves.spool-flat.points": [[-100, 40], [100, 40]], "knobs.fine": {}}
PLACES = [F(x) for x in (-100, -60, 0, 60, 100)]
FREE = f.both(f.Not(f.Predicate("hold called")), f.Not(f.Predicate("rescue called")))


def limit(channel: str, when: str, **numbers: int) -> dict[str, Any]:
    return {
        "overrides.kept": {"channel": channel, "when": when, **{k.replace("_", "-"): v for k, v in numbers.items()}}
    }


def roll(**keys: Any) -> dict[str, Any]:
    own = {"number": 1, "drives": "aileron", "from": "aileron"}
    return {"knobs.fine": {}, "channels.roll": own | {key.replace("_", "-"): value for key, value in keys.items()}}


# -- states that a look at one of each line missed


def test_a_knob_lets_a_motor_through_the_hover_that_does_not_get_there_at_rest() -> None:
    low = {"curves.hover-soft.points": [[-100, -100], [0, 0], [100, 20]], "channels.motor.ramp-up": 4}
    mixed = {**FLAT, **low, "channels.motor.mix": [{"from": "fine", "rate": 20}]}
    (found,) = said(LAGS, mixed, FIXED)
    assert float(str(found.witness["fine"])) >= 30
    assert said(LAGS, {**mixed, "channels.motor.mix": [{"from": "fine", "rate": 5}]}, FIXED) == []


def test_a_limit_that_is_on_at_rest_hides_no_slow_motor() -> None:
    slow = {**FLAT, "channels.motor.ramp-up": 4}
    (found,) = said(LAGS, {**slow, **limit("motor", "rates is soft", at_most=20)}, FIXED)
    assert found.witness["rates"] == "full"
    (found,) = said(LAGS, {**slow, **limit("motor", "rates is soft", at_least=10)}, FIXED)
    assert found.witness["rates"] == "full"


def test_a_knob_lengthens_the_way_of_a_control_that_its_limit_shortens() -> None:
    """The ramp comes from where the sum asked for more than the servo gives."""
    keys = {"ramp_down": 0.4, "low": 0, "mix": [{"from": "fine", "rate": 100}]}
    (found,) = said(SLOWLY, roll(**keys))
    assert found.witness["fine"] != 0
    assert said(SLOWLY, roll(**{**keys, "mix": [{"from": "fine", "rate": 40}]})) == []


def chosen_by_stick(left: dict[str, Any], right: dict[str, Any], **keys: Any) -> dict[str, Any]:
    """A roll in two modes, one for each half of its own stick."""
    modes = {"left": {"when": "aileron < 0", "voice": "left"}, "right": {"voice": "right"}}
    flat = {f"channels.{name}.in": {} for name in ("motor", "pitch", "tail-gain")}
    start = {"start.requires": "hold is on and throttle < -95", "claims": [], "modes": modes}
    return {**flat, **start, **roll(rate=20, **{"in": {"left": left, "right": right}}, **keys)}


@pytest.mark.parametrize("left", [{"mix": [{"from": "fine", "rate": 60}]}, {"mix": [{"from": "fine", "rate": 11}]}])
def test_a_knob_makes_the_way_into_a_mode_that_the_stick_chooses_long(left: dict[str, Any]) -> None:
    (found,) = said(SLOWLY, chosen_by_stick(left, {"ramp-up": 1.2}))
    assert found.witness["fine"] != 0
    assert found.witness["aileron"] == -100


def test_a_knob_that_the_mode_entered_reads_takes_what_the_servo_still_gives() -> None:
    right = {"ramp-up": 1.2, "mix": [{"from": "fine", "rate": 60}]}
    (found,) = said(SLOWLY, chosen_by_stick({}, right))
    assert float(str(found.witness["fine"])) > 0
    assert said(SLOWLY, chosen_by_stick({}, right, high=30)) == []


def test_into_a_mode_a_control_may_go_against_its_own_way() -> None:
    (found,) = said(SLOWLY, chosen_by_stick({"mix": [{"from": 100}]}, {"ramp-down": 1.2}))
    assert "ramp-down" in found.message


def test_an_override_has_the_control_where_the_way_begins() -> None:
    held = {"overrides.kept": {"channel": "roll", "value": -90, "when": "aileron < -90"}}
    (found,) = said(SLOWLY, {**roll(rate=20, ramp_up=1.2), **held})
    assert found.witness["aileron"] == -100


def test_another_limit_of_the_same_priority_is_on_at_the_other_end() -> None:
    left = {"channel": "roll", "at-most": 90, "when": "aileron < 0"}
    right = {"channel": "roll", "at-most": 80, "when": "aileron >= 0"}
    (found,) = said(SLOWLY, {**roll(ramp_up=1), "overrides.left": left, "overrides.right": right})
    assert found.witness["aileron"] == -100


# -- and against many states


def states(setup: Setup) -> list[State]:
    switches = {"rates": ("soft", "full"), "flight": ("normal", "idle-up-1")}
    rest = {s.name: s.positions[0] for s in setup.switches.values()}
    sticks = {s.name: s.rest for s in setup.sticks.values()}
    found = []
    for positions, fine, rudder in product(product(*switches.values()), PLACES, (F(-100), F(0), F(100))):
        at = rest | dict(zip(switches, positions, strict=True))
        found.append(State(at, {**sticks, "fine": fine, "rudder": rudder}, dict.fromkeys(setup.sensors, F(90))))
    return found


def is_free(setup: Setup, state: State) -> bool:
    return truth(setup, FREE, state, evaluate(setup, state, OFF)) is True


def is_slow(setup: Setup, state: State) -> bool:
    for start in (F(-100), F(100)):
        before = State(state.positions, {**state.sticks, "aileron": start}, state.readings)
        after = State(state.positions, {**state.sticks, "aileron": -start}, state.readings)
        *_, last = simulate(setup, before, OFF, [(F(0), after)], F("0.3"))
        if is_free(setup, before) and last.evaluation.outputs["roll"] != last.target.outputs["roll"]:
            return True
    return False


def is_lagging(setup: Setup, state: State) -> bool:
    """From the highest place of a grid at or under +6 % to the lowest at or over +26 %: somewhat further than the limit says."""
    puts = [State(state.positions, {**state.sticks, "throttle": F(x)}, state.readings) for x in range(-100, 101, 2)]
    given = [(evaluate(setup, put, OFF).outputs["motor"] or F(0), put) for put in puts]
    under, over = [x for x in given if x[0] <= 6], [x for x in given if x[0] >= 26]
    if not under or not over or not is_free(setup, state):
        return False
    before, after = max(under, key=lambda x: x[0])[1], min(over, key=lambda x: x[0])[1]
    ramp = setup.channels["motor"].line(evaluate(setup, after, OFF).mode).ramp_up
    *_, last = simulate(setup, before, OFF, [(F(0), after)], F("0.2"))
    value = last.evaluation.outputs["motor"]
    return value is not None and value < 26 and 20 * ramp / 200 > F("0.2")


def drawn(seed: int) -> tuple[dict[str, Any], dict[str, Any]]:
    """A roll and a motor of a fixed-pitch craft, each with mixes, a limit, and ramps about as slow as is allowed."""
    pick = random.Random(seed)
    mixed = [{"from": x, "rate": pick.choice([-100, -40, 30, 100])} for x in ("fine", "rudder") if pick.random() < 0.6]
    own = roll(mix=mixed, ramp_up=pick.choice([0, 0.3, 0.35, 0.6]), ramp_down=pick.choice([0, 0.3, 0.45]))
    ends = {"low": pick.choice([-100, -30, 0]), "high": pick.choice([0, 20, 100]), "rate": pick.choice([100, -60, 90])}
    own["channels.roll"] |= ends
    motor: dict[str, Any] = {"number": 2, "drives": "motor", "from": "throttle", "ramp-up": pick.choice([1, 2, 2.5, 4])}
    motor |= {"curve": "hover-soft", "mix": [{"from": "fine", "rate": pick.choice([-30, 10, 40])}]}
    motor["in.idle-up"] = {"ramp-up": pick.choice([0, 3])}
    top = pick.choice([12, 22, 60, 100])
    shape = {"channels.motor": motor, "curves.hover-soft.points": [[-100, -100], [0, min(top, 10)], [100, top]]}
    for edit, channel in ((own, "roll"), (shape, "motor")):
        if pick.random() < 0.6:
            key = pick.choice(["at_least", "at_most"])
            edit |= limit(channel, pick.choice(["rates is soft", "fine > 20"]), **{key: pick.choice([-50, 8, 20, 40])})
    return own, {**FLAT, **shape}


@pytest.mark.parametrize("seed", range(24))
def test_random_ones(seed: int) -> None:
    own, shape = drawn(seed)
    for rule, edit, judge in ((SLOWLY, own, is_slow), (LAGS, shape, is_lagging)):
        remove = FIXED if rule == LAGS else ()
        setup = setuplint.load_text(
            edited(TEXT, edit, (*remove, "curves.spool-flat", "channels.motor.in")[: len(remove)])
        ).model
        found: list[Finding] = said(rule, edit, remove)
        if any(judge(setup, state) for state in states(setup)):
            assert found, f"{rule}: some state shows it"
        for finding in found:
            sticks = {name: F(str(finding.witness.get(name, 0))) for name in ("fine", "rudder")}
            positions = {name: str(finding.witness.get(name, places[0]))
                         for name, places in (("rates", ("soft",)), ("flight", ("normal",)))}  # fmt: skip
            state = states(setup)[0]
            here = State({**state.positions, **positions}, {**state.sticks, **sticks}, state.readings)
            assert rule == LAGS or judge(setup, here), f"{rule}: shown where it is not"
