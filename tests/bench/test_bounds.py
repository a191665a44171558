"""What a card may cost: counts of work. What is beyond them is left out, and the card and the command say so."""

from __future__ import annotations

from pathlib import Path

import pytest

import setuplint
from setuplint.bench import maker, order, proof, walk
from setuplint.bench.card_model import Card
from setuplint.bench.questions import CardQuestions
from setuplint.bench.stages import bench_card
from setuplint.bench.work import BEYOND, setup_size
from setuplint.budget import OutOfBudget
from setuplint.cli import main
from setuplint.engine.answers import FOUND, Answer, Case
from setuplint.engine.decider import Decider
from setuplint.plain import ties

REFERENCE = Path(__file__).parents[2] / "examples" / "reference.toml"
UNTOLD = "which movement it is could not be told within the budget"
STAGES = 11  # that may cost something: what is needed of the modes, then ten


def left_undecided(card: Card) -> dict[str, str]:
    return {"/".join(filter(None, each.item.key)): each.because for each in card.left if each.undecided}


def wide(switches: int) -> str:
    """A setup of many switches, each with an override of one channel: each override needs a state of its own."""
    lines = ["format = 1", "[craft]", "motor-off = -95", "[switches.hold]", 'kind = "two-position"']
    lines += ["[channels.motor]", 'drives = "motor"', 'from = "throttle"', "[intent]", 'hold = "hold is on"']
    lines += ["[overrides.held]", 'channel = "motor"', "value = -100", 'when = "hold is on"', "priority = 1000"]
    for n in range(switches):
        lines += [f"[switches.s{n}]", 'kind = "two-position"', f"[overrides.o{n}]", 'channel = "motor"']
        lines += ["value = -100", f'when = "s{n} is on"', f"priority = {n}"]
    return "\n".join(lines) + "\n"


def counting_on(toggles: int) -> str:
    """A setup in which each of a row of toggles is driven by the one before: the last asks for as many steps."""
    lines = [wide(0), "[switches.button]", 'kind = "two-position"']
    for n in range(toggles):
        when = f"c{n - 1}" if n else "button is on"
        lines += [f"[conditions.c{n}]", f'when = "{when}"', "toggles = true"]
    lines += ["[overrides.last]", 'channel = "motor"', "value = 50", f'when = "c{toggles - 1}"', ""]
    return "\n".join(lines)


@pytest.mark.slow
def test_a_path_of_hundreds_of_steps_is_no_recursion_as_deep() -> None:
    model = setuplint.load_text(counting_on(150)).model
    assert left_undecided(bench_card(model))


def counted_calls(monkeypatch: pytest.MonkeyPatch, owner: object, name: str) -> list[object]:
    called: list[object] = []
    function = getattr(owner, name)

    def counting(*args: object, **named: object) -> object:
        called.append(args)
        return function(*args, **named)

    monkeypatch.setattr(owner, name, counting)
    return called


@pytest.fixture
def untold(monkeypatch: pytest.MonkeyPatch) -> None:
    """The engine finds movements and cannot tell within its budget which they are."""

    def show() -> Case:
        raise OutOfBudget(UNTOLD)

    monkeypatch.setattr(CardQuestions, "find_movement", lambda self, *_: self._shown(lambda: Answer(FOUND, show)))


def test_a_case_that_cannot_be_shown_is_left_out_with_its_reason(untold: None) -> None:
    card = bench_card(setuplint.load(REFERENCE).model)
    left = left_undecided(card)
    assert {key for key in left if key.startswith("rescue-in/")}
    assert set(left.values()) == {UNTOLD}
    assert list(proof.faults(card)) == []


def test_the_command_says_in_a_line_that_something_is_left_out(
    untold: None, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["bench-card", str(REFERENCE)]) == 0
    out, err = capsys.readouterr()
    assert UNTOLD in out
    (line,) = err.splitlines()
    assert "the card leaves out" in line


def test_what_is_beyond_the_budget_is_left_out_and_no_stage_takes_what_another_needs(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(maker, "LOOKS_A_STAGE", 2_000)
    card = bench_card(setuplint.load_text(wide(20)).model)
    assert BEYOND in left_undecided(card).values()
    shown = {item.key for step in card.steps for item in step.shows}
    left = {each.item.key for each in card.left}
    assert {item.key for item in card.items} <= shown | left
    assert ("hold", "", "") in shown
    assert list(proof.faults(card)) == []


def test_the_questions_of_a_card_are_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    setup = setuplint.load_text(wide(200)).model
    questions = 20
    monkeypatch.setattr(maker, "QUESTIONS_A_STAGE", questions * setup_size(setup))
    asked = counted_calls(monkeypatch, Decider, "find")
    assert BEYOND in left_undecided(bench_card(setup)).values()
    assert len(asked) <= STAGES * questions


@pytest.mark.slow
def test_the_evaluations_of_a_card_are_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    """Also where each reading hangs on how its curves are smoothed."""
    setup = setuplint.load_text(wide(60)).model
    monkeypatch.setattr(maker, "LOOKS_A_STAGE", 20 * setup_size(setup))
    seen = [counted_calls(monkeypatch, module, "evaluate") for module in (walk, proof)]
    assert BEYOND in left_undecided(bench_card(setup)).values()
    assert sum(map(len, seen)) <= 2 * STAGES * 20 + 200


def test_a_thousand_steps_are_not_put_in_order(monkeypatch: pytest.MonkeyPatch) -> None:
    wants = [{"flight": str(n % 3)} for n in range(1_000)]
    counted = counted_calls(monkeypatch, order, "_moves_needed")
    assert order.shortest_order(wants, {"flight": "0"}) == list(range(1_000))
    assert len(counted) <= 1_000


def test_a_row_is_worked_out_a_few_times_however_many_tie(monkeypatch: pytest.MonkeyPatch) -> None:
    """What cannot be told so is not known, and the card does not ask for it."""
    tied = "".join(
        f'[overrides.t{n}]\nchannel = "motor"\nvalue = {n}\nwhen = "hold is off"\npriority = 600\n' for n in range(60)
    )
    setup = setuplint.load_text(REFERENCE.read_text(encoding="utf-8") + tied).model
    asked = counted_calls(monkeypatch, ties, "evaluate")
    walker = walk.Walk(setup)
    assert walker.row_size == walker.size * (2 + walk.MOST_TIED)
    assert walk.readings(setup, walker.state, walker.memory)["motor"].values == ()
    assert len(asked) == walk.MOST_TIED
