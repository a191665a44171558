"""Every setup ends within counts of work, whatever grows in it, and what is left out is said."""

from __future__ import annotations

from pathlib import Path

import pytest

from setuplint import budget
from setuplint.book.choices import Choices
from setuplint.book.run import asked_rules
from tests import growth
from tests.benchmarks import exponents
from tests.shapes import SHAPES, largest

# Sizes at which a lint once took most of a minute, or had no end; others are taken at a tenth of what a file may hold.
HARD = {
    "sums of 2": 100,
    "sums of 3": 40,
    "sums of 4": 36,
    "latches": 150,
    "toggles": 150,
    "delays": 2_000,
    "modes": 480,
}
MOST_CALLS = 20_000_000  # of functions, at a quarter of that: work that is not counted shows here


@pytest.mark.quick(1)
@pytest.mark.parametrize("name", sorted(SHAPES))
def test_a_lint_ends_within_counts_of_work(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """But for one shape with a quarter of what a file may take: how a lint ends does not hang on how much that is."""
    if name != "latches":
        monkeypatch.setattr(budget, "WORK_A_FILE", budget.WORK_A_FILE // 4)
    found = growth.effort(SHAPES[name], hard(name), count_calls=False)
    assert found.undecided or found.work <= budget.WORK_A_FILE


@pytest.mark.slow
@pytest.mark.parametrize(
    "name", sorted({"alarms", "delays", "modes", "overrides, one channel", "sensors"} & SHAPES.keys())
)
def test_no_work_is_left_out_of_the_count(name: str) -> None:
    assert growth.effort(SHAPES[name], hard(name) // 4).calls < MOST_CALLS


@pytest.mark.parametrize(("name", "sizes", "most"), [("conditions, xor", (20, 40), 1.3), ("latches", (9, 18), 1.3)])
def test_work_grows_hardly_faster_than_the_setup(name: str, sizes: tuple[int, int], most: float) -> None:
    """Those that once grew with the square and the fourth power."""
    assert exponents.measured(name, sizes)[1] < most


def test_long_chains_of_latches_are_decided() -> None:
    """Each can be on only after some more steps than the one before: far more than the eight that every question may take."""
    found = growth.effort(SHAPES["latches"], 60, count_calls=False)
    assert (found.undecided, found.work < budget.WORK_A_FILE // 8) == (0, True)


def hard(name: str) -> int:
    return HARD.get(name) or largest(SHAPES[name]) // 10


def test_rules_are_asked_by_signal_and_after_those_that_they_rest_on() -> None:
    rules = list(asked_rules(Choices(), None))
    place = {rule.name: n for n, rule in enumerate(rules)}
    for rule in rules:
        assert all(place[other] < place[rule.name] for other in rule.said_by if other in place), rule.name
    last_danger = max(n for n, rule in enumerate(rules) if rule.signal == "danger")
    assert [rule.name for rule in rules[:last_danger] if rule.signal == "notice"] == []


def test_the_page_names_every_shape_and_the_limit() -> None:
    text = Path(growth.DOCS, "growth.md").read_text(encoding="utf-8")
    assert f"{budget.WORK_A_FILE:,}" in text
    assert [name for name in SHAPES if f"| {name} |" not in text] == []
