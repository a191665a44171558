"""A budget that ends anywhere in a question is an answer, not decided, and never an exception or another verdict."""

from __future__ import annotations

from collections import Counter

import setuplint
from setuplint.budget import Spent
from setuplint.engine.decider import Decider
from setuplint.setup import formulas as f

PLACES = 9


def test_wherever_it_ends() -> None:
    lines = ["format = 1"]
    for n in range(PLACES):
        lines += [f"[switches.k{n}]", 'kind = "two-position"']
    for n in range(PLACES):
        lines += [f"[conditions.c{n}]", f'when = "k{n} is on or k{(n + 1) % PLACES} is off"']
    setup = setuplint.load_text("\n".join(lines)).model
    never = f.And((*(f.Holds(f"c{n}") for n in range(PLACES)), f.Or(())))  # its last part proves it
    whole, start = Decider(setup), Decider(setup).work
    assert whole.find(never).impossible
    told = Counter(Decider(setup, Spent(most=most)).find(never).verdict for most in range(start, whole.work + 1))
    assert set(told) == {"impossible", "not-decided"}
    assert told["not-decided"] > 50
