"""What is made of files as a stranger might send them: counts of what is done, which no size of theirs makes large."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

import pytest

import setuplint
from setuplint.bench import walk
from setuplint.bench.proof import RowEvaluation
from setuplint.bench.stages import bench_card
from setuplint.bench.work import CardWork, setup_size
from setuplint.book import rulebook
from setuplint.book.asking import Asking
from setuplint.checks import structure, warnings
from setuplint.pages import curve_charts, sheet, softening
from setuplint.pages.papers import paper_text
from setuplint.plain import evaluate as evaluate_module
from setuplint.plain import quiet, resting
from setuplint.server import lenses
from setuplint.server.parsed import ParsedText
from setuplint.setup.model import Channel
from tests.shapes import REFERENCE, with_reference
from tests.strange_shapes import alarms_out_of_range, curves, long_formulas
from tests.test_bounds_of_pages import counted


def two_curves(size: int) -> str:
    """Channels that hang on two curves of unknown smoothing each."""
    return with_reference(
        f'[curves.y{n}]\npoints = [[-100, 0], [0, 60], [50, {n}], [100, 100]]\nsmoothing = "unknown"\n'
        f'[channels.x{n}]\nfrom = "throttle"\ncurve = "y{n}"\nmix = [{{ from = "elevator", curve = "y{(n + 1) % size}" }}]'
        for n in range(size)
    )


def test_channels_with_a_curve_each_share_how_it_may_be_smoothed(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each evaluated the whole file for itself, three times for one row of a card."""
    setup = setuplint.load_text(curves(60)).model
    state, memory = walk.Walk(setup).state, evaluate_module.OFF
    made = counted(monkeypatch, evaluate_module, "evaluate_with")
    given = walk.readings(setup, state, memory)
    assert made[0] <= 4
    assert given["x7"].between or given["x7"].values
    parsed = ParsedText(curves(60), "own.toml")
    parsed.decider.find(lenses.part_formula(setup, "mode", "normal"))
    made[0] = 0
    state_json = lenses._state_json(parsed, "", [], state, evaluate_module.evaluate(setup, state))
    assert made[0] <= 5
    assert len(state_json["outputs"]) == len(setup.channels)


def test_what_hangs_on_too_many_smoothings_is_not_known(monkeypatch: pytest.MonkeyPatch) -> None:
    setup = setuplint.load_text(two_curves(12)).model
    state = walk.Walk(setup).state
    whole = walk.readings(setup, state, evaluate_module.OFF)
    assert all(whole[f"x{n}"].values for n in range(12))
    monkeypatch.setattr(walk, "MOST_SMOOTHING", 3 * len(setup.declared))
    made = counted(monkeypatch, evaluate_module, "evaluate_with")
    given = walk.readings(setup, state, evaluate_module.OFF)
    assert made[0] < 15
    assert given["x0"] == whole["x0"]
    assert not given["x11"].values


def test_a_sheet_looks_at_no_channel_for_every_curve(monkeypatch: pytest.MonkeyPatch) -> None:
    setup = setuplint.load_text(curves(40)).model
    asked = [0]
    terms = Channel.terms

    def counting(channel: Channel) -> object:
        asked[0] += 1
        return terms.fget(channel)  # type: ignore[attr-defined]

    monkeypatch.setattr(Channel, "terms", property(counting))
    tables = {table.key: table for table in sheet.whole_sheet(setup, "", str(date.min)).tables}
    assert asked[0] < 10 * len(setup.channels)
    assert tables["curve y7"].note.endswith("for x7")


def test_a_sheet_draws_so_many_curves_and_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    setup = setuplint.load_text(curves(5)).model
    monkeypatch.setattr(sheet, "MOST_DRAWN", 3)
    made = sheet.sheet_paper(sheet.whole_sheet(setup, "", str(date.min)), setup)
    page = paper_text(made, "html")
    assert page.count("Not drawn") == len(setup.curves) - 3
    assert "Not drawn" not in paper_text(made, "markdown")


def test_one_sensor_is_not_looked_at_without_end(monkeypatch: pytest.MonkeyPatch) -> None:
    """Looks were counted, and asked about only before the next sensor: of long formulas one took all of them."""
    setup = setuplint.load_text(long_formulas(12)).model
    monkeypatch.setattr(quiet, "MOST_OF_ONE", 5_000)
    made: list[quiet.Quiet] = []
    monkeypatch.setattr(resting, "Quiet", lambda *given: made.append(quiet.Quiet(*given)) or made[0])
    state = resting.rest(setup)
    assert made[0].looks < 10_000
    assert "pack may read otherwise" in resting.rest_doubt(setup)
    assert state.readings["pack"] == dict(resting._regions(setup))["pack"][0]


def test_what_other_rules_said_is_gone_through_once() -> None:
    """Of thousands of alarms about numbers out of range each went through what was said of all."""
    gone = [0]

    class Counting(frozenset[tuple[str, str]]):
        def __iter__(self) -> Iterator[tuple[str, str]]:
            gone[0] += 1
            return super().__iter__()

    setup = setuplint.load_text(REFERENCE)
    said = Counting(("value-out-of-range", f"alarms.a{n}.when: 999") for n in range(20))
    rules = rulebook.rules()
    ask = Asking(setup.model, setuplint.decide(setup), rules["alarm-never-sounds"], rules, spoken=said)
    assert all(structure.out_of_range(ask, ("alarms", f"a{n}", "when")) for n in range(20))
    assert all(structure.out_of_range(ask, ("alarms", f"a{n}")) for n in range(20))
    assert not any(structure.out_of_range(ask, ("alarms", name)) for name in ("a", "a20", "a1.whe"))
    assert "alarms.a7.when: 999" in ask.said("value-out-of-range")
    assert gone == [1]


def test_only_the_channels_of_a_curve_are_looked_at_for_its_hover(monkeypatch: pytest.MonkeyPatch) -> None:
    setup = setuplint.load_text(curves(20)).model
    made = counted(monkeypatch, curve_charts, "_chart_line")
    assert list(softening.hover_points(setup, "hover-soft"))
    assert made[0] <= len(setup.modes)


def test_a_row_held_against_another_counts_every_way_of_smoothing() -> None:
    setup = setuplint.load_text(two_curves(5)).model
    row = next(row for step in bench_card(setup).steps for row in step.rows)
    work = CardWork()
    assert not RowEvaluation(setup, row, work).tells(lambda: setup)
    assert work.done >= 5 * 9 * setup_size(setup)


def test_an_alarm_that_is_no_receivers_looks_at_no_other(monkeypatch: pytest.MonkeyPatch) -> None:
    receiver = '[sensors.rx]\nreads = "receiver-voltage"\n' + "".join(
        f'[alarms.r{n}]\nwhen = "rx < 4.5"\ntone = true\n' for n in range(20)
    )
    setup = setuplint.load_text(alarms_out_of_range(20) + receiver)
    rules = rulebook.rules()
    said = {(warnings.SUPPLY_BELOW, "rx")}
    ask = Asking(setup.model, setuplint.decide(setup), rules["alarm-never-sounds"], rules, spoken=said)
    made = counted(monkeypatch, warnings, "compares")
    alarms = setup.model.alarms
    assert not any(warnings.is_alone_for_the_supply(ask, alarms[f"a{n}"]) for n in range(20))
    assert made == [20]
    assert not warnings.is_alone_for_the_supply(ask, alarms["r7"])
    assert made[0] < 50
