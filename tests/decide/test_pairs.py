"""Pairs of formulas asked all at once: the verdicts that each of them gets when it is asked alone."""

from __future__ import annotations

from collections import Counter
from itertools import combinations
from random import Random

import setuplint
from setuplint.engine.decider import Decider
from setuplint.setup import formulas as f


def made(draw: Random) -> str:
    """Switches, a knob, conditions of which some are latches, and overrides of them; one rests on what is not described."""
    lines = ["format = 1", "[knobs.k]"]
    for n in range(4):
        lines += [f"[switches.s{n}]", f'kind = "{draw.choice(["momentary", "three-position"])}"']

    def atom(below: int) -> str:
        if below and draw.random() < 0.5:
            return f"{draw.choice(['', 'not '])}c{draw.randrange(below)}"
        if draw.random() < 0.2:
            return f"k {draw.choice('<>')} {draw.randrange(-9, 9) * 10}"
        return f"s{draw.randrange(4)} is {draw.choice(['', 'not '])}{draw.choice(['up', 'down'])}"

    for n in range(12):
        lines += [f"[conditions.c{n}]", f'when = "{draw.choice([" and ", " or "]).join(atom(n) for _ in range(2))}"']
        if draw.random() < 0.3:
            lines.append(f'until = "{atom(0)}"')
    for n in range(10):
        lines += [f"[overrides.o{n}]", 'channel = "motor"', f"value = {n}", f'when = "{atom(12)} and {atom(12)}"']
    return "\n".join([*lines, "[channels.motor]", "from = 0"]).replace('"momentary"', '"three-position"')


def test_all_at_once_are_as_one_by_one() -> None:
    told: Counter[str] = Counter()
    for seed in range(12):
        setup = setuplint.load_text(made(Random(seed))).model
        formulas = [*(f.Active(name) for name in setup.overrides), f.Holds("c11"), f.OutputCompare("motor", ">", 3)]
        alone = Decider(setup)
        for (a, b), verdict in Decider(setup).find_pairs(formulas, combinations(range(len(formulas)), 2)):
            told[verdict] += 1
            assert verdict in ("", alone.find(f.both(formulas[a], formulas[b])).verdict), (
                seed,
                formulas[a],
                formulas[b],
            )
    assert told["found"] > 50
    assert told["impossible"] > 50
    assert told[""] > 50


def test_what_is_not_described_is_asked() -> None:
    setup = setuplint.load_text(made(Random(1))).model
    formulas = [f.Unknown("it is not described"), *(f.Active(name) for name in setup.overrides)]
    found = Decider(setup).find_pairs(formulas, [(0, n) for n in range(1, len(formulas))])
    assert {verdict for _, verdict in found} == {""}
