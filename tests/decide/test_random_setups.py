"""The engine on random setups of the whole format, held against brute force (tests/oracle, written from MEANING.md alone),
against z3, and against itself under other hash seeds and another solver."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

import setuplint
from setuplint.decide import sat
from tests.decide.against import disagreement, found_by_seed
from tests.oracle import smt
from tests.oracle.meaning import World
from tests.oracle.search import admits
from tests.oracle.setups import random_formula, random_setup

ROOT = Path(__file__).parent.parent.parent


def asked(seed: int) -> tuple[str, str]:
    text = random_setup(seed)
    return text, random_formula(seed, text)


@pytest.mark.parametrize("first", range(0, 360, 60))
def test_verdicts_witnesses_and_steps_are_those_of_brute_force(first: int) -> None:
    assert found_by_seed(range(first, first + 60), lambda seed: disagreement(*asked(seed))) == {}


def test_the_comparison_can_fail(monkeypatch: pytest.MonkeyPatch) -> None:
    from setuplint.decide.frame import Frame

    honest = Frame.delayed
    monkeypatch.setattr(Frame, "delayed", lambda self, condition: honest(self, condition)[::-1])
    wrong = 0
    for seed in range(40):
        try:
            wrong += disagreement(*asked(seed)) is not None
        except AssertionError:
            raise
        except Exception:  # the replay objects
            wrong += 1
    assert wrong > 0


def test_verdicts_are_those_of_z3() -> None:
    compared = 0
    for seed in range(1000, 1080):
        text, formula = asked(seed)
        world = World(text)
        if not smt.accepts(world, formula) or not admits(world):
            continue
        answer = setuplint.decide(setuplint.load_text(text)).find(formula)
        if answer.impossible:
            assert smt.find(world, formula, 3) is None, seed
        elif answer.found and answer.case is not None and len(answer.case.states) <= 4 and not answer.case.assumed:
            steps = smt.find(world, formula, 3)
            assert steps is not None, seed
            if answer.case.steps:
                assert steps == len(answer.case.states) - 1, seed
        compared += 1
    assert compared > 40


def told(seed: int) -> list[object]:
    text, formula = asked(seed)
    answer = setuplint.decide(setuplint.load_text(text)).find(formula)
    case = answer.case
    if case is None:
        return [seed, answer.verdict]
    steps = [{n: str(v) for n, v in step.items()} for step in case.steps]
    return [seed, answer.verdict, {n: str(v) for n, v in case.matters.items()}, steps, list(case.assumed)]


def all_told() -> str:
    return json.dumps([told(seed) for seed in range(30)])


def test_the_same_under_three_hash_seeds() -> None:
    code = "from tests.decide.test_random_setups import all_told; print(all_told())"
    outputs = set()
    for hash_seed in ("0", "1", "4242"):
        environment = {**os.environ, "PYTHONHASHSEED": hash_seed}
        done = subprocess.run(
            [sys.executable, "-c", code], cwd=ROOT, env=environment, capture_output=True, text=True, check=True
        )
        outputs.add(done.stdout)
    assert len(outputs) == 1


@pytest.mark.parametrize("solver", ["glucose4", "minicard"])
def test_the_same_under_another_solver(solver: str, monkeypatch: pytest.MonkeyPatch) -> None:
    before = all_told()
    original = sat.Solver
    monkeypatch.setattr(sat, "Solver", lambda name: original(name=solver))
    assert all_told() == before
