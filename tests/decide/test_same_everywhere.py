"""The same answers and cases under any hash seed, under other solvers, and whatever was asked before (MEANING.md 6, 9)."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Sequence
from functools import cache
from itertools import pairwise
from pathlib import Path
from random import Random
from typing import Any

import pytest
from pysat.solvers import Solver

import setuplint
from setuplint.engine.answers import Case
from setuplint.engine.decider import Decider
from setuplint.solver import sat
from tests.oracle.setups import random_formula, random_setup

ROOT = Path(__file__).parents[2]

SUMS = """format = 1
[sticks.throttle]
trim = 10
[sticks.aileron]
trim = 5
[switches.s]
kind = "two-position"
[channels.x]
from = "throttle"
mix = [{ from = "aileron", rate = 50 }]
[channels.y]
from = "throttle"
expo = 30
mix = [{ from = "aileron", rate = -50 }, { from = "s", values = { off = 0, on = 20 } }]
"""
ABOUT_SUMS = [
    "output x > 20 and output x < 120",
    "output x > 100 and throttle <= 70 and aileron < 49",
    "output x > 30 and output y > 40",
    "output x < -20 and output y < -30 and s is on",
    "output x < -10 or output x > 10",
    "output y > 0 and throttle > -50 and aileron > 10",
]


def shown(case: Case | None) -> Any:
    if case is None:
        return None
    steps = [{name: str(value) for name, value in step.items()} for step in case.steps]
    states = [[dict(s.positions), {n: str(x) for n, x in s.sticks.items()}] for s in case.states]
    readings = [{name: str(value) for name, value in s.readings.items()} for s in case.states]
    trims = {name: str(value) for name, value in case.state.trim.items()}
    matters = {name: str(value) for name, value in case.matters.items()}
    after = None if case.after is None else dict(case.after.ties)
    return [states, readings, trims, matters, steps, list(case.assumed), case.movement, after]


def answers(text: str, formulas: list[str], channel: str) -> list[Any]:
    """Questions of every kind about a setup, and what is answered, in words."""
    decider: Decider = setuplint.decide(setuplint.load_text(text))
    told: list[Any] = []
    for formula in formulas:
        told += [(a.verdict, shown(a.case)) for a in (decider.find(formula), decider.find(formula, trim=True))]
    for before, after in pairwise(formulas):
        moved = decider.find_movement(before, after), decider.find_no_movement(before, after)
        told += [(a.verdict, shown(a.case)) for a in moved]
    ends = decider.output_range(channel)
    told.append((str(ends.least), str(ends.greatest), shown(ends.least_case), shown(ends.greatest_case)))
    return told


def asked(seed: int) -> list[Any]:
    text = random_setup(seed)
    formulas = [f for n in range(2) if "follows" not in (f := random_formula(seed + n * 10**6, text))]
    return answers(text, formulas, Random(seed).choice(list(setuplint.load_text(text).model.channels)))


@pytest.mark.slow
def test_the_same_under_every_hash_seed() -> None:
    program = f"from {__name__} import *\nprint([asked(n) for n in range(12)], answers(SUMS, ABOUT_SUMS, 'y'))"
    told = set()
    paths = os.pathsep.join([str(ROOT), str(ROOT / "tests" / "decide")])
    for seed in ("0", "4242"):
        run = subprocess.run(
            [sys.executable, "-c", program],
            env={
                **os.environ,
                "PYTHONHASHSEED": seed,
                "PYTHONPATH": paths,
            },
            cwd=ROOT,
            capture_output=True,
            text=True,
            check=True,
        )
        told.add(run.stdout)
    assert len(told) == 1
    assert len(told.pop()) > 10_000


class OtherSolver:
    """Another solver of python-sat, with the calls that `Minisat` has."""

    def __init__(self, name: str) -> None:
        self.solver = Solver(name=name)
        self.add_clause = self.solver.add_clause

    def add_conjunction(self, gate: int, inputs: Sequence[int]) -> None:
        for x in inputs:
            self.add_clause([-gate, x])
        self.add_clause([gate, *(-x for x in inputs)])

    def solved(self, assumptions: list[int], most_conflicts: int) -> bool | None:
        self.solver.conf_budget(most_conflicts)
        return self.solver.solve_limited(assumptions=assumptions)

    def propagated(self, assumptions: list[int]) -> list[int]:
        return self.solver.propagate(assumptions)[1] or []

    def refutes(self, assumptions: list[int]) -> bool:
        return not self.solver.propagate(assumptions)[0]

    def prefer(self, literals: list[int]) -> None:
        """It has its own mind."""

    def model(self) -> list[int]:
        return self.solver.get_model() or []

    def core(self) -> list[int]:
        return self.solver.get_core() or []

    def totals(self) -> tuple[int, int]:
        stats = self.solver.accum_stats()
        return stats["conflicts"], stats["propagations"]


@cache
def usual() -> tuple[list[Any], list[Any]]:
    return [asked(seed) for seed in range(30)], answers(SUMS, ABOUT_SUMS, "y")


@pytest.mark.slow
@pytest.mark.parametrize("name", ["glucose4", "minicard"])
def test_the_same_under_another_solver(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    wanted = usual()
    made = []

    def other() -> OtherSolver:
        made.append(name)
        return OtherSolver(name)

    monkeypatch.setattr(sat, "Minisat", other)
    assert ([asked(seed) for seed in range(30)], answers(SUMS, ABOUT_SUMS, "y")) == wanted
    assert len(made) >= 30


def test_no_tie_is_told_that_the_question_does_not_rest_on() -> None:
    """Asked before, about another channel: it changes nothing."""
    text = """format = 1
[switches.a]
kind = "two-position"
[channels.x]
from = "throttle"
[channels.y]
from = 0
[overrides.o]
channel = "x"
value = -50
when = "a is on"
[overrides.p]
channel = "x"
value = 50
when = "a is on"
"""
    fresh: Decider = setuplint.decide(setuplint.load_text(text))
    other: Decider = setuplint.decide(setuplint.load_text(text))
    tie = other.find("output x > 20 and a is on").case
    assert tie is not None
    assert tie.assumed == ("p wins the tie on x",)
    assert shown(other.find("output y >= 0 and a is on").case) == shown(fresh.find("output y >= 0 and a is on").case)
