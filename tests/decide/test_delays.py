"""`delay` against the timed simulator run over every reachable state and every movement of small setups."""

from __future__ import annotations

import random
from collections.abc import Iterator
from fractions import Fraction
from itertools import product
from typing import Any

import pytest
import tomli_w

import setuplint
from setuplint.engine import delays
from setuplint.engine.decider import Decider
from setuplint.engine.search import moved_state
from setuplint.plain.evaluate import Evaluation, evaluate, truth
from setuplint.plain.simulate import settle_time, simulate
from setuplint.plain.state import OFF, State
from setuplint.setup import Setup
from setuplint.setup import formulas as f
from tests.rules.edits import REFERENCE, edited

STEP = Fraction(1, 100)
SWITCHES = {
    "a": ("two-position", ["off", "on"]),
    "b": ("three-position", ["up", "middle", "down"]),
    "c": ("momentary", ["released", "pulled"]),
}
TIMES = (0.1, 0.2, 0.35, 0.5, 0.8)


class Maker:
    """A small setup without sticks, so that all of it can be tried."""

    def __init__(self, seed: int) -> None:
        self.random = random.Random(seed)
        self.conditions: dict[str, Any] = {}

    def atom(self) -> str:
        if self.conditions and self.random.random() < 0.55:
            return ("not " if self.random.random() < 0.3 else "") + self.random.choice(list(self.conditions))
        switch = self.random.choice("abc")
        return f"{switch} is {self.random.choice(SWITCHES[switch][1])}"

    def formula(self) -> str:
        return self.random.choice((" and ", " or ")).join(self.atom() for _ in range(self.random.choice((1, 1, 2, 3))))

    def condition(self) -> dict[str, Any]:
        pick = self.random
        keys = pick.choice(("", "after", "stays", "after stays", "after", "stays", "until", "toggles", "until after"))
        made: dict[str, Any] = {"when": self.formula()}
        for key in keys.split():
            made[key] = {"until": self.formula, "toggles": lambda: True}.get(key, lambda: pick.choice(TIMES))()
        return made

    def setup(self) -> Setup:
        pick = self.random
        for n in range(pick.randint(1, 4)):
            self.conditions[f"k{n}"] = self.condition()
        motor: dict[str, Any] = {"drives": "motor", "from": pick.choice((-100, 0, 80))}
        if pick.random() < 0.5:
            motor |= {"from": "b", "values": {p: pick.choice((-100, -50, 0, 50, 100)) for p in SWITCHES["b"][1]}}
        motor |= {"ramp-up": pick.choice((0, 0, 0.5, 2.0)), "ramp-down": pick.choice((0, 0, 0.5, 1.0))}
        motor |= {"reversed": pick.random() < 0.3, "travel": pick.choice(([100, 100], [80, 60]))}
        text: dict[str, Any] = {
            "format": 1,
            "switches": {name: {"kind": kind} for name, (kind, _) in SWITCHES.items()},
            "conditions": self.conditions,
            "channels": {"motor": motor},
            "overrides": {
                f"o{n}": {
                    "channel": "motor",
                    "value": pick.choice((-100, -30, 40, 100)),
                    "when": self.formula(),
                    "priority": 10 * pick.randint(1, 4) + n,
                }
                for n in range(pick.randint(1, 3))
            },
            "intent": {"hold": self.formula()},
        }
        if pick.random() < 0.5:
            text["modes"] = {"first": {"when": self.formula()}, "last": {}}
            motor["in"] = {"first": {"ramp-up": pick.choice((0, 1.0)), "ramp-down": pick.choice((0, 0.4))}}
        loaded = setuplint.load_text(tomli_w.dumps(text))
        assert not loaded.problems
        return loaded.model


def controls(setup: Setup) -> Iterator[State]:
    for picked in product(*(switch.positions for switch in setup.switches.values())):
        yield State(dict(zip(setup.switches, picked, strict=True)), {n: s.rest for n, s in setup.sticks.items()})


def reached(setup: Setup) -> list[tuple[State, Evaluation]]:
    """Every settled state with the memory it can have, by settled steps."""
    waiting = [(state, evaluate(setup, state, OFF)) for state in controls(setup)]
    met: dict[object, tuple[State, Evaluation]] = {}
    while waiting:
        state, evaluation = waiting.pop()
        key = (tuple(state.positions.items()), evaluation.memory)
        if key not in met:
            met[key] = state, evaluation
            waiting += [(other, evaluate(setup, other, evaluation.memory)) for other in controls(setup)]
    return list(met.values())


def longest(setup: Setup, formula: f.Formula, at_most: Fraction | None, given: f.Formula = f.TRUE) -> Fraction:
    """The longest run there is, to the simulator's step, of those that settle where the settled meaning says."""
    worst = Fraction(0)
    until = settle_time(setup) + 10 * STEP
    for state, before in reached(setup):
        if truth(setup, given, state, before) is not True:
            continue
        for switch, position in [(s.name, p) for s in setup.switches.values() for p in s.positions]:
            after = moved_state(state, (switch, position))
            settled = evaluate(setup, after, before.memory)
            final = settled.outputs["motor"]
            assert final is not None
            if truth(setup, formula, state, before) is not False or truth(setup, formula, after, settled) is not True:
                continue
            if position == state.positions[switch] or (at_most is not None and final > at_most):
                continue
            run = list(simulate(setup, state, before.memory, [(Fraction(0), after)], until))[1:]
            outputs = [(moment.at, moment.evaluation.outputs["motor"]) for moment in run]
            away = [at for at, out in outputs if out is None or (out != final if at_most is None else out > at_most)]
            if not away or away[-1] != outputs[-1][0]:
                worst = max(worst, (away[-1] if away else -STEP) + STEP)
    return worst


@pytest.mark.quick(4)
@pytest.mark.parametrize("at_most", [None, Fraction(-20)])
@pytest.mark.parametrize("seed", [*range(16), 100, 122, 150, 151, 214])  # the last: a way or a mode on the way counts
def test_no_run_exceeds_the_bound_and_the_longest_is_shown(seed: int, at_most: Fraction | None) -> None:
    setup = Maker(seed).setup()
    formula = setup.intent.hold
    assert formula is not None
    there = [] if at_most is None else [f.OutputCompare("motor", "<=", at_most)]
    then = there[0] if there else f.TRUE
    found = delays.delay(Decider(setup), formula, "motor", then=then, there=there)
    seen = longest(setup, formula, at_most)
    assert seen <= found.bound + (STEP if seen else 0)  # a run tells a time to its step
    assert found.shown <= found.bound
    assert min(seen, found.bound) - STEP <= found.shown <= seen


def small(conditions: dict[str, Any], when: str) -> Setup:
    """A motor at +80 % that one override stops, and a switch that asks for it."""
    text: dict[str, Any] = {
        "format": 1,
        "switches": {"a": {"kind": "two-position"}},
        "conditions": conditions,
        "channels": {"motor": {"drives": "motor", "from": 80}},
        "overrides": {"stop": {"channel": "motor", "value": -100, "when": when}},
        "intent": {"hold": "a is on"},
    }
    loaded = setuplint.load_text(tomli_w.dumps(text))
    assert not loaded.problems
    return loaded.model


@pytest.mark.parametrize(
    ("conditions", "seconds"),
    [
        # on before and on once settled, but off while the other lingers, and then for its own wait
        ({"k1": {"when": "a is off", "stays": 0.3}, "k2": {"when": "a is off or not k1", "after": 0.2}}, "0.5"),
        # a latch that is reset on the way, and set again only after a longer wait than the reset's
        (
            {
                "k1": {"when": "a is off", "stays": 0.3},
                "k3": {"when": "a is on", "after": 0.6},
                "k2": {"when": "k3", "until": "k1 and a is on"},
            },
            "0.6",
        ),
    ],
)
def test_what_comes_back_is_waited_for(conditions: dict[str, Any], seconds: str) -> None:
    setup = small(conditions, "k2")
    formula = setup.intent.hold
    assert formula is not None
    stopped = f.OutputCompare("motor", "<=", Fraction(-100))
    found = delays.delay(Decider(setup), formula, "motor", given=f.Holds("k2"), then=stopped, there=[stopped])
    assert found.bound == found.shown == Fraction(seconds)
    assert longest(setup, formula, Fraction(-100), f.Holds("k2")) == found.shown


def delay(edit: dict[str, Any], formula: str = "hold called", channel: str = "motor") -> delays.Delay:
    text = edited(REFERENCE.read_text(encoding="utf-8"), edit)
    return setuplint.decide(setuplint.load_text(text)).delay(formula, channel)  # type: ignore[no-any-return,operator]


def test_a_wait_and_then_a_ramp() -> None:
    """After 3 s of lingering the motor rises from -100 to +55 in idle-up: 155 of 200 points in 2 s."""
    edit = {"conditions.holding": {"when": "hold is on", "stays": 3}, "overrides.held.when": "holding"}
    found = delay(edit, "not hold called")
    assert found.bound == found.shown == Fraction(455, 100)
    assert found.parts == (
        (("conditions", "holding", "stays"), Fraction(3)),
        (("channels", "motor", "in", "idle-up", "ramp-up"), Fraction(155, 100)),
    )
    assert found.case is not None
    assert found.case.movement == ("hold", "off")


def test_a_condition_that_only_lingers_does_not_delay_what_it_starts() -> None:
    edit = {"conditions.holding": {"when": "hold is on", "stays": 3}, "overrides.held.when": "holding"}
    assert delay(edit).bound == 0


def test_only_what_the_movement_can_change_is_on_the_way() -> None:
    """The pack's alarm waits 1.5 s, and no switch moves it."""
    assert delay({"overrides.held.when": "hold is on or pack-low"}).bound == 0


def test_a_hold_that_waits_an_hour_is_bounded_and_not_followed_to_its_end() -> None:
    edit = {"conditions.holding": {"when": "hold is on", "after": 3600}, "overrides.held.when": "holding"}
    found = delay(edit | {"start.requires": "hold is on and flight is normal and throttle <= -100"})
    assert found.bound == 3600
    assert 29 < found.shown < 31


def test_no_channel_of_that_name() -> None:
    with pytest.raises(KeyError):
        delay({}, channel="nothing")
