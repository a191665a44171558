"""What is made of a very large setup grows as it does: cells of tables, looks at formulas, movements, and one budget for all."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from fractions import Fraction
from itertools import combinations
from types import SimpleNamespace
from typing import Any

import pytest

import setuplint
from setuplint import budget
from setuplint.bench import ground as ground_module
from setuplint.bench import routes as routes_module
from setuplint.bench import walk as walk_module
from setuplint.bench.questions import CardQuestions
from setuplint.bench.routes import Home, first_route
from setuplint.bench.stages import bench_card
from setuplint.bench.walk import Walk, nominal_readings
from setuplint.bench.work import LOOKS_A_STAGE, CardWork
from setuplint.book import rulebook
from setuplint.checks.overrides import equal_pairs
from setuplint.comparison.joined import joined_setups
from setuplint.comparison.matching import Matching
from setuplint.comparison.outputs import ChannelPair, written_alike
from setuplint.comparison.renames import full_matching
from setuplint.curves.shape import Shape
from setuplint.dataclass import replace
from setuplint.engine import decider as decider_module
from setuplint.engine import delays as delays_module
from setuplint.engine import search as search_module
from setuplint.engine.decider import Decider
from setuplint.engine.equality import MOST_ASKED, Equal
from setuplint.notes.handling import handling_notes
from setuplint.pages.curve_charts import channel_charts
from setuplint.pages.override_map import MOST_NAMED, override_ranks
from setuplint.pages.report import report_page
from setuplint.pages.report_battery import battery_figures
from setuplint.pages.report_curves import curves_section
from setuplint.pages.sheet import whole_sheet
from setuplint.plain import quiet, settings
from setuplint.plain.resting import rest
from setuplint.setup import cone as cone_module
from setuplint.setup import formulas as f
from setuplint.setup.cone import Cones
from setuplint.setup.formulas import Predicate
from setuplint.solver import sums
from setuplint.solver.encoding import Encoding
from setuplint.solver.sat import TRUE, Sat
from tests.shapes import (
    REFERENCE,
    chain,
    modes,
    overrides_alike,
    overrides_of_many,
    overrides_of_one,
    packs,
    sensors,
    xor,
)


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


def test_what_rests_on_thousands_of_alarms_is_not_copied_for_each(monkeypatch: pytest.MonkeyPatch) -> None:
    """One by one, the alarms that came before were copied with every alarm."""
    copied = [0]

    class Counting(frozenset[Any]):
        def __or__(self, more: Any) -> frozenset[Any]:
            return self.union(more)

        def union(self, *more: Any) -> frozenset[Any]:
            copied[0] += len(self) + sum(map(len, more))
            return Counting(super().union(*more))

    monkeypatch.setattr(cone_module, "NOTHING", Counting())
    cones = Cones(setuplint.load_text(sensors(300)).model)
    sounds = [f.Sounds(f"a{n}") for n in range(300)]
    assert len(cones.of_formula(f.either(*sounds))[1]) == len(cones.of(sounds).besides) == 300
    assert copied[0] <= 600


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


def test_what_thousands_of_sensors_read_on_a_bench_is_not_tried_of_each(monkeypatch: pytest.MonkeyPatch) -> None:
    setup = setuplint.load_text(sensors(600)).model
    seen = counted(monkeypatch, walk_module, "evaluate")
    assert set(nominal_readings(setup)) == set(setup.sensors)
    assert seen[0] < 300


class Counting(dict[str, Any]):
    """A table that counts how often all of it is gone through."""

    times = 0

    def values(self) -> Any:
        Counting.times += 1
        return super().values()


def test_the_overrides_of_each_channel_are_not_looked_for_among_all(monkeypatch: pytest.MonkeyPatch) -> None:
    setup = setuplint.load_text(overrides_of_many(80)).model
    monkeypatch.setattr(Counting, "times", 0)
    cones = Cones(replace(setup, overrides=Counting(setup.overrides)))
    Encoding(cones.setup, cones=cones)
    for name in setup.channels:
        cones.part(("channel", name))
    assert Counting.times <= 4  # of 25 channels


def test_what_two_setups_share_is_looked_up(monkeypatch: pytest.MonkeyPatch) -> None:
    """All overrides were gone through for each channel, and all names for each finding."""
    monkeypatch.setattr(Counting, "times", 0)
    loaded = setuplint.load_text(overrides_of_many(80))
    setup = loaded.model
    joined = joined_setups(setup, setup, full_matching(setup, setup))
    joined.setup = replace(joined.setup, overrides=Counting(joined.setup.overrides))
    for old, new in joined.old.setup.channels.items():
        pair = ChannelPair(joined.setup.channels[f"old {old}"], joined.setup.channels[f"new {new.name}"])
        assert written_alike(joined, pair)
    assert Counting.times == 1
    names = Matching(switches=Counting({"a": "b", "c": "c"}))
    assert list(names.called(["a is c"] * 50)) == [{"a is c", "b is c"}] * 50
    assert Counting.times == 1


def test_conditions_that_are_told_apart_are_counted() -> None:
    """Each from all: what comes of thousands that are written otherwise is that they are others."""
    old, new = (setuplint.load_text(chain(300).replace("[sensors.pack]", f"[sensors.{name}]").replace("s0 is on", when))
                for name, when in (("pack", "s0 is on"), ("pack", "s1 is off")))  # fmt: skip
    spent = budget.Spent()
    full_matching(old.model, new.model, spent)
    equal = Equal(old.model)
    equal.asked = MOST_ASKED + 1
    assert equal.is_spent
    assert spent.work > 300 * 300 // 2 // budget.PART


def test_sums_are_charged_by_their_sticks_and_wherever_they_are_worked_out() -> None:
    line = Shape.of(None, None, Fraction(100), Fraction(0))

    def charged(sticks: int, wanted: Fraction) -> int:
        sat = Sat(budget.Spent())
        shapes = tuple((f"stick {n}", line) for n in range(sticks))
        box = {name: (Fraction(-100), Fraction(100)) for name, _ in shapes}
        sums.solve(box, [(shapes, wanted, True, wanted + Fraction(1, 10**20), True)], sat)
        return sat.file.work

    odd = Fraction(1, 3)  # which many halvings come to
    assert charged(1, odd) > budget.BOX + 60 * budget.PLACE
    assert charged(4, odd) - budget.BOX >= 4 * (charged(1, odd) - budget.BOX)
    assert charged(1, Fraction(0)) > budget.BOX + 3 * budget.PLACE  # digits that will do are tried


def test_a_conflict_of_a_large_solver_costs_what_it_takes(monkeypatch: pytest.MonkeyPatch) -> None:
    """One search of 2,081 of them took four seconds and cost what a tenth of one does."""

    def work() -> tuple[budget.Spent, Sat]:
        sat = Sat(budget.Spent())
        holes = [[sat.variable() for _ in range(6)] for _ in range(7)]
        for pigeon in holes:
            sat.clause(*pigeon)
        for a, b in combinations(holes, 2):
            for x, y in zip(a, b, strict=True):
                sat.clause(-x, -y)
        return sat.file, sat

    spent, sat = work()
    begun = spent.work
    assert not sat.solve([])
    cheap, conflicts = spent.work - begun, spent.conflicts
    monkeypatch.setattr(budget, "MANY", 10)
    monkeypatch.setattr(budget, "VARIABLES_OF_MANY", 1)
    spent, sat = work()
    begun = spent.work
    assert not sat.solve([])
    assert spent.work - begun >= conflicts * sat.variables > 10 * cheap
    monkeypatch.setattr(budget, "WORK_A_QUESTION", sat.variables * 3)
    spent, sat = work()
    sat.new_question()
    with pytest.raises(budget.OutOfBudget, match="its 2 conflicts"):
        sat.solve([])


def test_gates_and_questions_cost_though_they_are_known() -> None:
    sat = Sat(budget.Spent())
    a, b = sat.variable(), sat.variable()
    gate = sat.both((a, b))
    before = sat.file.work
    assert sat.both((b, a)) == gate
    assert sat.file.work == before + budget.GATE
    decider = Decider(setuplint.load_text(REFERENCE).model)
    before = decider.work
    decider.ask(lambda frame: TRUE, decider.cone([]))
    assert decider.work >= before + budget.QUESTION


def test_each_rule_goes_through_the_file_and_that_counts() -> None:
    work = [
        setuplint.lint_text(REFERENCE + waiver, "x.toml").work for waiver in ("", '[[waivers]]\nrule = "mode-jump"\n')
    ]
    loaded = setuplint.load_text(REFERENCE)
    assert work[0] > 90 * (len(loaded.model.declared) // 4)
    assert work[1] >= work[0]


def test_delays_are_summed_once_a_switch_and_names_once_a_setup(monkeypatch: pytest.MonkeyPatch) -> None:
    summed = counted(monkeypatch, delays_module, "waits")
    named = counted(monkeypatch, search_module, "names_of_setup")
    decider = Decider(setuplint.load_text(REFERENCE).model)
    for channel in ("motor", "pitch"):
        decider.find("hold called")
        decider.find("rescue called")
        decider.delay("hold called", channel)
        decider.delay("rescue called", channel)
    assert 0 < summed[0] <= len(decider.setup.switches)
    assert named == [1]


@pytest.mark.parametrize("most", range(1_000, 20_000, 900))
def test_a_solver_that_is_made_again_ends_wherever_the_budget_does(most: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """It was a traceback where that ended among the places of the sticks."""
    monkeypatch.setattr(decider_module, "MANY", 0)
    spent = budget.Spent()
    decider = Decider(setuplint.load_text(REFERENCE).model, spent)
    decider.find("output motor > 20 and throttle < 12 and pack < 20")
    spent.most = spent.work + most
    renewed = decider.renewed()
    assert renewed is decider or not spent.over


def test_a_report_draws_a_hundred_curves_and_packs_and_says_what_is_left() -> None:
    lines = [
        f'[channels.x{n}]\nnumber = {20 + n}\ndrives = "other"\nfrom = "elevator"\ncurve = "y{n}"' for n in range(103)
    ]
    lines += [f"[curves.y{n}]\npoints = [[-100, {n - 100}], [100, 100]]" for n in range(103)]
    page = curves_section(setuplint.load_text("\n".join([REFERENCE, *lines])).model)
    assert page.count("<figure") == 100
    assert "The first 100 drawings" in page
    assert 'id="curve-y102"' in page
    page = battery_figures(setuplint.load_text(packs(102)).model, rulebook.rules())
    assert page.count("<figure") == 101
    assert "2 packs are not drawn" in page
    first = next(channel_charts(setuplint.load_text(modes(101)).model))[0]
    assert "drawn for the first 100 modes" in first.remarks


def test_a_card_asks_nothing_once_its_work_is_spent(monkeypatch: pytest.MonkeyPatch) -> None:
    made = counted(monkeypatch, walk_module, "nominal_readings")
    monkeypatch.setattr(routes_module, "nominal_readings", walk_module.nominal_readings)
    setup = setuplint.load_text(REFERENCE).model
    monkeypatch.setattr(ground_module, "REFUSAL_LOOKS", LOOKS_A_STAGE)
    spent = budget.Spent()
    refused = [each for each in bench_card(setup, spent).left if each.item.kind == "refused"]
    assert any(each.undecided for each in refused)
    assert made == [1]
    asked = counted(monkeypatch, Decider, "find")
    questions = CardQuestions(Decider(setup), CardWork(most=-1))
    first_route(questions, [f.Predicate("hold called")] * 50)
    assert asked[0] <= 1


def test_pairs_of_equal_overrides_are_counted() -> None:
    """Of 16,000 there are 130 million: a list of them took 3.4 GB."""
    known = [o for o in setuplint.load_text(overrides_alike(300)).model.overrides.values() if o.name.startswith("o")]
    spent = budget.Spent(most=20_000)
    asking: Any = SimpleNamespace(decider=spent)
    with pytest.raises(budget.OutOfBudget):
        list(equal_pairs(asking, known))
    few = list(equal_pairs(SimpleNamespace(decider=budget.Spent()), known[:4]))  # type: ignore[arg-type]
    assert few == [(0, 1), (0, 2), (0, 3), (1, 2), (1, 3), (2, 3)]
