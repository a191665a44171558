"""`off the ground` (MEANING.md 7) against brute force: setups of switches alone, every memory, one bit more."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import product
from random import Random

import pytest

import setuplint
from setuplint.book import rulebook
from setuplint.book.asking import Asking
from setuplint.checks.aloft import off_the_ground
from setuplint.engine.answers import Case
from setuplint.setup import formulas as f
from tests.oracle.meaning import Memory, World

SWITCHES = ("a", "b", "c", "d")
HOVER = 20
Controls = Mapping[str, str]


def atom(random: Random) -> str:
    return f"{random.choice(SWITCHES)} is {random.choice(['off', 'on'])}"


def formula(random: Random, names: list[str]) -> str:
    parts = [random.choice([atom(random), atom(random), *names]) for _ in range(random.choice([1, 1, 2, 3]))]
    return random.choice([" and ", " or "]).join(random.choice([part, f"not {part}"]) for part in parts)


def random_setup(seed: int) -> str:
    """A fixed-pitch craft whose motor hangs on switches, latches and modes."""
    random = Random(f"off the ground {seed}")
    lines = ["format = 1", "[craft]", 'kind = "multirotor"', f"hover-throttle = {HOVER}", "motor-off = -95"]
    for name in SWITCHES:
        lines += [f"[switches.{name}]", 'kind = "two-position"']
    names: list[str] = []
    for number in range(random.choice([0, 1, 2, 3])):
        lines += [f"[conditions.c{number}]", f'when = "{formula(random, names)}"']
        lines += [random.choice([f'until = "{formula(random, names)}"', "toggles = true", ""])]
        names.append(f"c{number}")
    values = ", ".join(f"{word} = {random.choice([-100, -100, 0, HOVER, 60])}" for word in ("off", "on"))
    lines += ["[channels.m]", 'drives = "motor"', f'from = "{random.choice(SWITCHES)}"', f"values = {{ {values} }}"]
    for number, value in enumerate(random.sample([-100, 0, HOVER, 70], random.choice([0, 1, 2]))):
        lines += [f"[overrides.o{number}]", 'channel = "m"', f"value = {value}", f'when = "{formula(random, names)}"']
        lines += [f"priority = {number}"]
    lines += ["[start]", f'requires = "{formula(random, names)}"'] if random.random() < 0.5 else []
    lines += ["[intent]", f'hold = "{formula(random, names)}"']
    lines += [f'stop = "{formula(random, names)}"'] if random.random() < 0.3 else []
    return "\n".join(lines) + "\n"


def all_controls() -> Iterator[Controls]:
    for words in product(("off", "on"), repeat=len(SWITCHES)):
        yield dict(zip(SWITCHES, words, strict=True))


class Brute:
    """Every reachable state, as its memory and whether the craft is off the ground after it, with the fewest steps."""

    def __init__(self, text: str) -> None:
        self.world = World(text)
        if not any(self.admitted(c) for c in all_controls()):
            self.world = self.world.without_start()

    def admitted(self, controls: Controls) -> bool:
        return self.world.allowed(self.world.settle(self.world.full(controls), self.world.memory_off))

    def step(self, controls: Controls, memory: Memory, air: bool) -> tuple[Memory, bool]:
        full = self.world.full(controls)
        true = self.world.truths("hold called or stop called", full, memory)
        carries = self.world.truths(f"output m >= {HOVER}", full, memory)
        return self.world.settle(full, memory).memory, True not in true and (air or True in carries)

    def fewest(self, formula: str) -> int | None:
        """The steps to the nearest state off the ground in which the formula holds; None: there is none."""
        here = {(self.world.memory_off, False)}
        seen = set(here)
        for depth in range(100):
            after = set()
            for memory, air in sorted(here):
                for controls in all_controls():
                    if depth == 0 and not self.admitted(controls):
                        continue
                    left, up = self.step(controls, memory, air)
                    if up and True in self.world.truths(formula, self.world.full(controls), memory):
                        return depth
                    after.add((left, up))
            here = after - (seen if depth else set())
            seen |= here
            if not here:
                return None
        return None


def answer(text: str, asked: str) -> tuple[bool, Case | None]:
    setup = setuplint.load_text(text, "random.toml")
    assert not setup.problems, (text, setup.problems)
    ask = Asking(setup.model, setuplint.decide(setup), rulebook.rules()["rescue-shared"], rulebook.rules())
    wanted = ask.decider.formula(asked)
    aloft = off_the_ground(ask, wanted)
    found = ask.decider.find(f.both(wanted, aloft))
    assert found.verdict in ("found", "impossible"), (text, found.because)
    return found.found, found.case


@pytest.mark.slow
@pytest.mark.parametrize("seeds", [range(n, n + 30) for n in range(0, 60, 30)], ids=str)
def test_a_state_off_the_ground_is_found_where_there_is_one(seeds: range) -> None:
    for seed in seeds:
        text, random = random_setup(seed), Random(f"asked {seed}")
        brute = Brute(text)
        names = list(brute.world.conditions)
        for asked in [formula(random, names) for _ in range(4)] + ["output m < 0", "not hold called"]:
            steps, (found, case) = brute.fewest(asked), answer(text, asked)
            assert found == (steps is not None), (asked, text)
            if case is not None and case.steps:
                assert len(case.steps) - 1 == steps, (asked, text)
                memory, air = brute.world.memory_off, False
                for state in case.states:
                    memory, air = brute.step(state.positions, memory, air)
                assert air, (asked, text)
