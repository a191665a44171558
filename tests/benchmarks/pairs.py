"""Pairs of overrides of a large made setup: can both be active? Ours against z3, in one run.

40 three-position switches, 400 conditions, 200 overrides of ten channels; then the same with six latches (ours alone: from
power-up, through memory). First the pairs that share a channel, which a rule asks about (aims: under a second, and under
two), then all 19,900.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from itertools import combinations
from time import process_time

import z3  # type: ignore[import-untyped]

import setuplint
from setuplint.engine.decider import Decider
from setuplint.setup import formulas as f
from setuplint.setup.model import Setup

SWITCHES, CONDITIONS, OVERRIDES, CHANNELS = 40, 400, 200, 10


def made(latches: int) -> str:
    """A setup of that size, the same each time."""
    draw = random.Random(1)

    def atom(below: int) -> str:
        if below and draw.random() < 0.5:
            return ("not " if draw.random() < 0.3 else "") + f"c{draw.randrange(below)}"
        return f"s{draw.randrange(SWITCHES)} is {draw.choice(['up', 'middle', 'down'])}"

    lines = ["format = 1"]
    for n in range(SWITCHES):
        lines += [f"[switches.s{n}]", 'kind = "three-position"']
    for n in range(CONDITIONS):
        joined = draw.choice([" and ", " or "]).join(atom(n) for _ in range(draw.choice([2, 2, 3])))
        lines += [f"[conditions.c{n}]", f'when = "{joined}"']
        if latches and n % (CONDITIONS // latches) == 5:
            lines.append(f'until = "{atom(0)}"')
    for n in range(CHANNELS):
        lines += [f"[channels.ch{n}]", "from = 0"]
    for n in range(OVERRIDES):
        when = f"{atom(CONDITIONS)} and {atom(CONDITIONS)}"
        lines += [f"[overrides.o{n}]", f'channel = "ch{n % CHANNELS}"', f"value = {n - 100}", f'when = "{when}"']
    return "\n".join(lines)


Pairs = list[tuple[str, str]]


def ours(setup: Setup, pairs: Pairs) -> list[str]:
    decider = Decider(setup)
    names = list(setup.overrides)
    place = {name: n for n, name in enumerate(names)}
    found = decider.find_pairs([f.Active(name) for name in names], ((place[a], place[b]) for a, b in pairs))
    return [
        verdict or decider.find(f.both(f.Active(names[a]), f.Active(names[b]))).verdict for (a, b), verdict in found
    ]


def theirs(setup: Setup, pairs: Pairs) -> list[str]:
    solver = z3.Solver()
    positions = {(s.name, p): z3.Bool(f"{s.name} {p}") for s in setup.switches.values() for p in s.positions}
    for s in setup.switches.values():
        literals = [positions[s.name, p] for p in s.positions]
        solver.add(z3.Or(literals), *(z3.Not(z3.And(a, b)) for a, b in combinations(literals, 2)))
    conditions: dict[str, z3.BoolRef] = {}

    def told(formula: f.Formula) -> z3.BoolRef:
        match formula:
            case f.And(items):
                return z3.And([told(i) for i in items])
            case f.Or(items):
                return z3.Or([told(i) for i in items])
            case f.Not(item):
                return z3.Not(told(item))
            case f.SwitchIs(switch, position):
                return positions[switch, position]
            case f.Holds(name):
                return conditions[name]
        raise AssertionError(formula)

    for c in setup.conditions.values():
        conditions[c.name] = z3.Bool(c.name)
        solver.add(conditions[c.name] == told(c.when))
    active = {o.name: z3.Bool(f"{o.name} active") for o in setup.overrides.values()}
    solver.add([active[o.name] == told(o.when) for o in setup.overrides.values()])
    return ["found" if solver.check(active[a], active[b]) == z3.sat else "impossible" for a, b in pairs]


def timed(way: Callable[[Setup, Pairs], list[str]], setup: Setup, pairs: Pairs) -> tuple[float, list[str]]:
    start = process_time()
    verdicts = way(setup, pairs)
    return process_time() - start, verdicts


def main() -> None:
    plain = setuplint.load_text(made(0)).model
    latched = setuplint.load_text(made(6)).model
    every = list(combinations(plain.overrides, 2))
    sharing = [(a, b) for a, b in every if plain.overrides[a].channel == plain.overrides[b].channel]
    for name, pairs in (("of one channel", sharing), ("all", every)):
        mine, verdicts = timed(ours, plain, pairs)
        peer, others = timed(theirs, plain, pairs)
        memory, _ = timed(ours, latched, pairs)
        if verdicts != others:
            raise SystemExit("the verdicts differ")
        print(f"{len(pairs)} pairs, {name}")
        print(f"  ours                {mine:7.2f} s")
        print(f"  z3                  {peer:7.2f} s   ratio {mine / peer:.2f}")
        print(f"  ours, six latches   {memory:7.2f} s   ratio to none {memory / mine:.2f}")


if __name__ == "__main__":
    main()
