"""Loops among conditions, and their order (MEANING.md 3)."""

from __future__ import annotations

import random
from typing import Any

import pytest

from setuplint.setup import Built
from setuplint.setup.dependencies import names_in
from setuplint.setup.formulas import Unknown
from setuplint.source import Document

from .whole import culprit, load

Row = dict[str, Any]


def made(modes: dict[str, Row] | None = None, **conditions: str | Row) -> tuple[Document, Built]:
    rows = {name: {"when": row} if isinstance(row, str) else row for name, row in conditions.items()}
    return load({"format": 1, "conditions": rows, "modes": modes or {}})


def loops(modes: dict[str, Row] | None = None, **conditions: str | Row) -> list[str]:
    _document, built = made(modes, **conditions)
    assert {p.rule for p in built.problems} <= {"condition-loop"}
    return [p.message for p in built.problems]


def test_a_loop_is_shown_as_it_is_walked() -> None:
    document, built = made(a="throttle > 0 and b", b="not c", c="a or throttle < 0", d="a")
    (problem,) = built.problems
    assert (problem.rule, problem.path) == ("condition-loop", ("conditions", "a", "when"))
    assert problem.message == "the condition a depends on itself: a → b → c → a"
    assert problem.subject == "a, b, c"
    assert culprit(document, problem) == "b"
    assert problem.within == (17, 18)
    assert [other.path for other in problem.related] == [("conditions", "b", "when"), ("conditions", "c", "when")]
    setup = built.setup
    for name in "abc":
        assert setup.conditions[name].when == Unknown(f"the condition {name} depends on itself")
        assert setup.is_broken("conditions", name)
    assert not setup.is_broken("conditions", "d")


def test_a_condition_that_names_itself() -> None:
    assert loops(a="not a") == ["the condition a depends on itself: a → a"]


def test_loops_through_memory() -> None:
    document, built = made(a={"when": "throttle > 0", "until": "b"}, b="not a")
    (problem,) = built.problems
    assert problem.path == ("conditions", "a", "until")
    assert culprit(document, problem) == "b"
    assert loops(a={"when": "b", "toggles": True}, b={"when": "a", "after": 3}) == [
        "the condition a depends on itself: a → b → a"
    ]


def test_loops_through_a_mode() -> None:
    modes = {"one": {"when": "throttle > 0"}, "two": {"when": "a"}, "three": {}}
    document, built = made(modes, a="mode is one")
    (problem,) = built.problems
    assert problem.message == "the condition a depends on itself: a → the mode → a"
    assert problem.subject == "a, mode"
    assert culprit(document, problem) == "mode is one"
    assert "`when` of every mode" in problem.help
    assert [other.path for other in problem.related] == [("modes", "two", "when")]
    setup = built.setup
    assert not isinstance(setup.modes["one"].when, Unknown)
    assert isinstance(setup.modes["two"].when, Unknown)


def test_a_mode_that_names_a_mode() -> None:
    document, built = made({"one": {"when": "mode is two"}, "two": {}})
    (problem,) = built.problems
    assert (problem.rule, problem.path, problem.subject) == ("condition-loop", ("modes", "one", "when"), "mode")
    assert culprit(document, problem) == "mode is two"


def test_one_finding_a_loop() -> None:
    assert len(loops(a="b", b="a", c="d and a", d="c", e="d")) == 2
    assert loops(a="b and c", b="a", c="a") == [
        "the condition a depends on itself: a → b → a; by another way through it so does c"
    ]


def test_what_is_no_loop() -> None:
    modes = {"one": {"when": "c"}, "two": {}}
    assert loops(modes, a="mode is one and b", b="c", c="throttle > 0", d={"when": "a", "until": "b"}) == []


def test_conditions_come_after_what_they_stand_on_and_else_in_the_order_of_the_file() -> None:
    modes = {"one": {"when": "f"}, "two": {}}
    _document, built = made(modes, z="m", y="throttle > 0", m="mode is one", f="y", a="throttle < 0", k="z and a")
    assert built.problems == ()
    assert list(built.setup.conditions) == ["y", "f", "m", "z", "a", "k"]


@pytest.mark.parametrize("seed", range(40))
def test_against_walking_every_way(seed: int) -> None:
    """A condition depends on itself if it can be walked back to; the found loops are those that share a way."""
    pick = random.Random(seed)
    names = [f"c{n}" for n in range(pick.randint(1, 9))]
    rows: dict[str, str | Row] = {
        name: " or ".join(["throttle > 0", *pick.sample(names, pick.choice([0, 0, 1, 1, 2]) % (len(names) + 1))])
        for name in names
    }
    _, built = made(**rows)
    on = {name: [word for word in str(row).split() if word in names] for name, row in rows.items()}

    def reached(start: str) -> set[str]:
        found: set[str] = set()
        waiting = list(on[start])
        while waiting:
            name = waiting.pop()
            if name not in found:
                found.add(name)
                waiting += on[name]
        return found

    looping = {name for name in names if name in reached(name)}
    assert {c.name for c in built.setup.conditions.values() if isinstance(c.when, Unknown)} == looping
    together = {frozenset(other for other in looping if other in reached(n) and n in reached(other)) for n in looping}
    assert len(built.problems) == len(together)
    seen: set[str] = set()
    for condition in built.setup.conditions.values():
        assert set(names_in(condition.when)) <= seen
        seen.add(condition.name)
    assert seen == set(names)


@pytest.mark.slow
def test_long_chains_and_long_loops_are_no_trouble() -> None:
    chain: dict[str, str | Row] = {f"c{n}": f"c{n + 1}" for n in range(5000)}
    _document, built = made(**chain, c5000="throttle > 0")
    assert built.problems == ()
    assert next(iter(built.setup.conditions)) == "c5000"
    (message,) = loops(**chain, c5000="c0")
    assert message.startswith("the condition c0 depends on itself: c0 → c1 → c2")
    assert len(message) < 300
