"""What is made of a very large setup grows as it does: cells of tables, looks at formulas, movements, and one budget for all."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest

import setuplint
from setuplint import budget
from setuplint.bench.routes import Home
from setuplint.bench.stages import bench_card
from setuplint.bench.walk import Walk
from setuplint.comparison.renames import full_matching
from setuplint.notes.handling import handling_notes
from setuplint.pages.override_ranks import MOST_NAMED, override_ranks
from setuplint.pages.report import report_page
from setuplint.pages.sheet import whole_sheet
from setuplint.plain import quiet, settings
from setuplint.plain.resting import rest
from setuplint.setup.cone import Cones
from setuplint.setup.formulas import Predicate
from tests.shapes import REFERENCE, modes, overrides_alike, overrides_of_one, xor


def counted(monkeypatch: pytest.MonkeyPatch, owner: object, name: str) -> list[int]:
    calls, function = [0], getattr(owner, name)

    def counting(*args: Any, **named: Any) -> Any:
        calls[0] += 1
        return function(*args, **named)

    monkeypatch.setattr(owner, name, counting)
    return calls


@pytest.mark.parametrize("shape", [overrides_of_one, overrides_alike])
def test_overrides_of_one_channel_make_no_table_of_pairs(shape: Callable[[int], str]) -> None:
    """With 600 each name stood 300 times."""
    setup = setuplint.load_text(shape(600)).model
    ranks = {each.override.name: each for each in override_ranks(o for o in setup.overrides.values())}
    assert max(len(each.lower) + len(each.equal) for each in ranks.values()) <= 2 * (MOST_NAMED + 1)
    cells = [cell for table in whole_sheet(setup, "", str(date.min)).tables for row in table.rows for cell in row]
    assert sum(cell.split(", ").count("o300") for cell in cells) < 2 * MOST_NAMED + 3


def test_who_is_below_and_as_high() -> None:
    setup = setuplint.load_text(overrides_alike(3)).model
    ranks = {each.override.name: (each.lower, each.equal) for each in override_ranks(setup.overrides.values())}
    assert ranks["held"] == (["o0", "o1", "o2", "rescue-power", "rescue-level"], [])
    assert ranks["o1"] == (["rescue-power", "rescue-level"], ["o0", "o2"])
    assert ranks["rescue-power"] == ([], ["rescue-level"])


def test_the_state_of_rest_is_looked_for_once(monkeypatch: pytest.MonkeyPatch) -> None:
    setup = setuplint.load_text(REFERENCE).model
    made = counted(monkeypatch, quiet.Quiet, "__init__")
    assert all(rest(setup) is rest(setup) for _ in range(3))
    Walk(setup)
    assert made == [1]


def test_what_stands_already_is_not_moved(monkeypatch: pytest.MonkeyPatch) -> None:
    """A state of thousands of switches takes long to make, and every way back puts all of them back."""
    setup = setuplint.load_text(xor(200)).model
    walk, home = Walk(setup), Home.__new__(Home)
    home.controls = {**walk.state.positions, **walk.state.sticks}
    home.order = ([], [], ["throttle"], [])
    made = counted(monkeypatch, settings, "moved")
    home.reset(walk)
    assert made == [0]
    home.controls["s7"] = "on"
    home.reset(walk)
    assert made == [2]  # tried, and done
    assert walk.state.positions["s7"] == "on"


def test_a_cone_is_gone_through_once() -> None:
    """By the text of its bits: bit by bit each would be as long as all."""
    cones = Cones(setuplint.load_text(xor(300)).model)
    cone = cones.of([Predicate("motor runs")])
    assert [node for node in cones.nodes if node in cone] == list(cone)
    assert list(cones.in_order(cone.bits, "condition")) == [f"c{n}" for n in range(300)]


@pytest.mark.parametrize("most", [0, 1_000, 3_000, 10_000, 30_000, 60_000])
def test_a_card_ends_wherever_its_budget_does(most: int) -> None:
    setup = setuplint.load_text(REFERENCE).model
    spent = budget.Spent(most=most)
    try:
        card = bench_card(setup, spent)
    except budget.OutOfBudget:
        assert most < 3_000  # not enough to begin with: no file of a megabyte comes to that
        return
    assert any(each.undecided for each in card.left)
    assert spent.work < most + 20_000


def test_one_budget_serves_a_page(monkeypatch: pytest.MonkeyPatch) -> None:
    """What the lint took is not there for notes and outputs, and they say so."""
    loaded = setuplint.load_text(REFERENCE)
    report = setuplint.lint_text(REFERENCE)
    monkeypatch.setattr(budget, "WORK_A_FILE", report.work)
    page = report_page(report, loaded.model)
    assert "not decided (this file used up its" in page
    assert handling_notes(loaded.model, loaded.texts.values, budget.Spent(most=0))[0].decided is False


def test_modes_that_are_compared_are_counted() -> None:
    """Each names all before it: of 6,000 that was a minute and 849 MB, counted by nobody."""
    setup = setuplint.load_text(modes(400)).model
    spent = budget.Spent(most=300_000)
    with pytest.raises(budget.OutOfBudget):
        full_matching(setup, setup, spent)
    assert spent.work < 400_000


def test_the_cells_of_a_line_are_looked_for_once() -> None:
    setup = setuplint.load_text(REFERENCE).model
    cones = Cones(setup)
    motor = setup.channels["motor"]
    assert cones.line_cells(motor) is cones.line_cells(motor)
    assert cones.line_cells(motor) == {("channels", "motor"), ("curves", "hover-soft"), ("curves", "spool-flat")}
