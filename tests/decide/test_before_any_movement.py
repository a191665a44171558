"""What is proved of every moment from power-up until the first movement, against runs of the simulator from every position."""

from __future__ import annotations

import random
from fractions import Fraction
from itertools import product

import pytest

import setuplint
from setuplint.plain.evaluate import truth
from setuplint.plain.simulate import simulate
from setuplint.plain.state import OFF, State

SWITCHES = """
format = 1
switches.one = { kind = "two-position", positions = ["off", "on"] }
switches.two = { kind = "two-position", positions = ["off", "on"] }
switches.save = { kind = "momentary", positions = ["released", "pulled"] }
"""
ATOMS = ("one is on", "one is off", "two is on", "two is off", "save is pulled", "save is released")
TIMES = ("after = 0.3", "stays = 0.5", "after = 0.2, stays = 1", "after = 0.5", "toggles = true", "")


def formula(rng: random.Random, names: list[str]) -> str:
    found = ""
    for _ in range(rng.choice((1, 2, 2, 3))):
        name = rng.choice(names) if names and rng.random() < 0.6 else rng.choice(ATOMS)
        atom = f"not {name}" if rng.random() < 0.3 else name
        found = f"({found}) {rng.choice(('and', 'or'))} {atom}" if found else atom
    return found


def drawn(seed: int) -> tuple[str, str]:
    """A setup of a few conditions that rest on each other and on a mode, and a question."""
    rng, names, text = random.Random(seed), list[str](), SWITCHES
    for number in range(rng.choice((2, 3, 4))):
        if number == 1 and rng.random() < 0.5:
            text += f'modes.first = {{ when = "{formula(rng, names)}" }}\nmodes.second = {{}}\n'
            names.append("mode is first")
        timed = rng.choice((*TIMES, f'until = "{formula(rng, names)}"'))
        text += f'conditions.c{number} = {{ when = "{formula(rng, names)}"{", " if timed else ""}{timed} }}\n'
        names.append(f"c{number}")
    return text, " and ".join(f"({formula(rng, names)})" for _ in range(3))


@pytest.mark.parametrize("first", range(0, 1200, 300))
def test_what_is_proved_happens_in_no_run(first: int) -> None:
    verdicts = []
    for seed in range(first, first + 300):
        text, question = drawn(seed)
        decider = setuplint.decide(setuplint.load_text(text))
        asked = decider.formula(question)
        verdicts.append(decider.find_moment(asked, Fraction(0), at_start=True).verdict)
        if verdicts[-1] != "impossible":
            continue
        for one, two, save in product(("off", "on"), ("off", "on"), ("released", "pulled")):
            state = State({"one": one, "two": two, "save": save}, decider.rest.sticks)
            for moment in simulate(decider.setup, state, OFF, [], Fraction(6), from_power_up=True, jump=True):
                assert truth(decider.setup, asked, state, moment.target) is False, (seed, state.positions)
    assert verdicts.count("impossible") >= 100
    assert verdicts.count("not-decided") <= 30
