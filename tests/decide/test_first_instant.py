"""Memory sees the first instant, in which all that comes late is off: what is found is shown by a run that begins so."""

from __future__ import annotations

import random
from itertools import groupby

import pytest

import setuplint
from setuplint.engine.answers import Case
from setuplint.engine.begun import UNBEGUN
from setuplint.plain.evaluate import Evaluation, truth
from setuplint.plain.simulate import settle_time, simulate
from setuplint.plain.state import OFF, State
from setuplint.setup import formulas as f
from setuplint.setup.model import Setup
from tests.checks.linted import linted
from tests.decide.test_before_any_movement import drawn

GUARDED = {"conditions.late": {"when": "hold is on", "after": 1}, "overrides.held.when": "hold is on and flips"}


def settled_end(setup: Setup, states: list[State]) -> Evaluation:
    """After a run from power-up in which each state is left to settle."""
    wait = settle_time(setup) + 1
    changes = [(wait * (n + 1), state) for n, state in enumerate(states[1:])]
    *_, last = simulate(setup, states[0], OFF, changes, wait * len(states), from_power_up=True, jump=True)
    return last.target


def is_shown(setup: Setup, case: Case, formula: f.Formula) -> bool:
    if case.timing is not None:
        return truth(setup, formula, case.state, case.evaluation) is True
    states = [state for state, _ in groupby(case.states)]
    return truth(setup, formula, states[-1], settled_end(setup, states)) is True


@pytest.mark.parametrize("first", range(0, 600, 150))
def test_what_is_found_is_run_to(first: int) -> None:
    verdicts = []
    for seed in range(first, first + 150):
        text, question = drawn(seed)
        decider = setuplint.decide(setuplint.load_text(text))
        asked = decider.formula(question)
        for at_power_up in (False, True):
            answer = decider.find(asked, at_power_up=at_power_up)
            verdicts.append(answer.verdict)
            if answer.case is not None and answer.case.steps:
                assert is_shown(decider.setup, answer.case, asked), (seed, at_power_up)
            elif answer.impossible and not at_power_up:
                pick = random.Random(seed)
                for _ in range(20):
                    places = {name: switch.positions for name, switch in decider.setup.switches.items()}
                    states = [
                        State({n: pick.choice(p) for n, p in places.items()}, decider.rest.sticks) for _ in range(4)
                    ]
                    assert truth(decider.setup, asked, states[-1], settled_end(decider.setup, states)) is False, seed
    assert verdicts.count("not-decided") <= 15


@pytest.mark.parametrize(
    "flips", [{"when": "not late", "toggles": True}, {"when": "not late", "until": "rates is full and late"}]
)
def test_a_hold_that_the_first_instant_lets_work_is_not_said_to_fail_at_once(flips: dict[str, object]) -> None:
    report = linted({**GUARDED, "conditions.flips": flips})
    said = [finding for finding in report.findings if finding.rule == "start-unguarded"]
    assert not any("at once" in finding.message for finding in said)
    (bypassed,) = [finding for finding in report.findings if finding.rule == "hold-bypassed"]
    assert bypassed.timing is not None, "a run that begins with what comes late off"
    undecided = [finding.message for finding in report.findings if finding.rule == "not-decided"]
    assert len(said) + sum("start-unguarded" in each for each in undecided) == 1
    assert not any(UNBEGUN in each for each in undecided)
