"""The oracle held against itself and against examples worked by hand from MEANING.md (sections named beside them)."""

from __future__ import annotations

import ast
import tomllib
from fractions import Fraction
from functools import cache
from pathlib import Path
from random import Random

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from . import smt
from .cone import Cone
from .formula import And, Condition
from .meaning import World
from .paths import replay
from .search import Found, Impossible, TooBig, Unknown, admits, find
from .setups import formulas, random_formula, random_setup, setups
from .simulator import longest_wait, run

F = Fraction


def test_nothing_of_the_product_is_imported() -> None:
    for path in Path(__file__).parent.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = [a.name for a in node.names] if isinstance(node, ast.Import) else []
            names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            assert not [name for name in names if name.startswith("setuplint")], path


# Whole answers, on random setups


@cache
def case(seed: int) -> tuple[World, str]:
    text = random_setup(seed)
    return World(text), random_formula(seed, text)


@pytest.mark.slow
@pytest.mark.parametrize("first", range(0, 100, 50))
def test_search_agrees_with_z3(first: int) -> None:
    """Both directions, and the same fewest steps. The model knows no lag; answers that need one are left out."""
    compared = 0
    for seed in range(first, first + 50):
        world, formula = case(seed)
        if not smt.accepts(world, formula):
            continue
        try:
            answer = find(world, formula)
            if isinstance(answer, Found) and answer.used_lag:
                continue
            asked = world if admits(world) else world.without_start()
            depth = answer.count if isinstance(answer, Found) else 2
            steps = smt.find(asked, formula, depth)
            free = smt.find_free(world, formula)
        except (TooBig, TimeoutError):
            continue
        compared += 1
        assert steps == (answer.count if isinstance(answer, Found) else None), (seed, formula)
        assert free or not isinstance(answer, Found), (seed, formula)
        if isinstance(answer, Impossible):
            assert smt.find(asked, formula, 2, unknown=True) is None, (seed, formula)
        if isinstance(answer, Unknown):
            assert smt.find(asked, formula, 4, unknown=True) is not None, (seed, formula)
    assert compared >= 30


def anywhere(world: World, random: Random, heard: bool) -> dict[str, Fraction | str]:
    """A random state of the controls, sticks and sensors often at a round number."""
    controls: dict[str, Fraction | str] = {name: random.choice(words) for name, words in world.switches.items()}
    for name in world.analogs:
        controls[name] = F(random.choice([-100, -95, -60, 0, 50, 95, 100, random.randint(-100, 100)]))
    volts = F(random.choice([0, 300, 325, 330, 350, 360, 420, random.randint(0, 500)]), 100)
    for name in world.sensors:
        factor = world.cell_factor(name)
        low, high = map(int, world.range_of(name))
        shown = volts * factor if factor else F(random.choice([low, high, random.randint(low, high)]))
        controls[name] = "unheard" if not heard else "lost" if random.random() < 0.2 else shown
    return controls


@pytest.mark.slow
@pytest.mark.parametrize("first", range(0, 80, 20))
def test_the_search_misses_nothing_that_random_walks_meet(first: int) -> None:
    met = 0
    for seed in range(first, first + 20):
        world, formula = case(seed)
        answer = find(world, formula)
        if isinstance(answer, Found):
            assert replay(world, formula, answer), (seed, formula)
        asked = world if admits(world) else world.without_start()
        random = Random(seed)
        for _ in range(15):
            controls, memory, heard = anywhere(asked, random, False), asked.memory_off, False
            if not asked.allowed(asked.settle(asked.full(controls), memory)):
                continue
            for step in range(4):
                values = asked.truths(formula, controls, memory)
                if True in values:
                    met += 1
                    assert isinstance(answer, Found), (seed, formula)
                    assert answer.used_lag or answer.count <= step, (seed, formula)
                assert None not in values or not isinstance(answer, Impossible), (seed, formula)
                memory = asked.settle(asked.full(controls), memory).memory
                heard = heard or random.random() < 0.6
                controls = anywhere(asked, random, heard)
    assert met >= 10


@given(st.data())
@settings(max_examples=15, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
def test_hypothesis_makes_setups_and_claims_that_can_be_asked(data: st.DataObject) -> None:
    text = data.draw(setups())
    formula = data.draw(formulas(text))
    world = World(text)
    try:
        answer = find(world, formula)
    except TooBig:
        return
    assert not isinstance(answer, Found) or replay(world, formula, answer)


def test_the_same_seed_makes_the_same_setup_and_three_hundred_have_every_part() -> None:
    texts = [random_setup(seed) for seed in range(300)]
    assert texts[:20] == [random_setup(seed) for seed in range(20)]
    assert random_formula(3, texts[3]) == random_formula(3, texts[3])
    written = "\n".join(texts)
    for word in (
        "toggles",
        "until",
        "stays",
        "after",
        "in.",
        "mix",
        "expo",
        "rate",
        "reversed",
        "travel",
        "sub-trim",
        "low",
        "unknown",
        "cardinal",
        "natural",
        "priority",
        "requires",
        "alarms",
        "failsafe",
        "level",
        "lift",
        "hold",
        "selector",
        "momentary",
        "three-position",
        "knobs",
        "cells",
        "rotor-free",
        "ramp-up",
    ):
        assert word in written, word
    tables = [tomllib.loads(text) for text in texts]
    assert any("from" not in c for t in tables for c in t["channels"].values())
    assert any("start" not in t for t in tables)
    assert any(not admits(World(text)) for text in texts)


def timed_under_memory(world: World) -> bool:
    return bool(Cone(world, And(tuple(Condition(name) for name in world.conditions))).timed_under_memory)


@pytest.mark.slow
def test_after_a_long_wait_the_simulator_has_settled() -> None:
    """Without timed conditions under memory (they may be caught while they lag); seeds as they come."""
    for seed in range(25):
        world, random = case(seed)[0], Random(seed)
        if timed_under_memory(world):
            continue
        wait = longest_wait(world)
        steps = [anywhere(world, random, k > 1) for k in range(4)]
        samples = run(world, [(wait * k, controls) for k, controls in enumerate(steps)], wait * 4)
        memory = world.memory_off
        for k, controls in enumerate(steps):
            settled, end = world.settled(controls, memory), samples[int(wait * (k + 1) * 100) - 1]
            memory = settled.memory
            assert (end.conditions, end.mode, end.memory) == (settled.conditions, settled.mode, settled.memory), seed
            for channel, values in settled.outputs.items():
                assert end.outputs[channel] in ({None} if values is None else values), (seed, channel)
