"""What a comparison may cost: counts of work on files that double it at every line."""

from __future__ import annotations

from fractions import Fraction

import pytest

import setuplint
from setuplint import budget
from setuplint.budget import OutOfBudget, Spent
from setuplint.comparison import outputs, regions, result
from setuplint.comparison.changes import Comparison
from setuplint.comparison.matching import control_uses
from setuplint.comparison.outputs import ChannelComparison
from setuplint.comparison.result import compare
from setuplint.engine.answers import FOUND, Answer, Case
from setuplint.engine.decider import Decider
from setuplint.findings import Report
from tests import shapes

MOTOR = """[channels.m]
drives = "motor"
from = "throttle"
[overrides.h]
channel = "m"
value = -100
when = "{when}"
[intent]
hold = "s is on"
"""


def ladder(count: int) -> setuplint.Setup:
    """Conditions that each name the two before."""
    lines = ["format = 1", "[craft]", "motor-off = -95", "[switches.s]", 'kind = "two-position"']
    for n in range(count):
        when = ("s is on", "s is off")[n] if n < 2 else f"c{n - 1} or c{n - 2}"
        lines += [f"[conditions.c{n}]", f'when = "{when}"', "after = 0.1"]
    return setuplint.load_text("\n".join([*lines, MOTOR.format(when=f"c{count - 1}")]))


def test_what_a_control_is_used_for_does_not_double_with_each_condition() -> None:
    few, many = (len(repr(control_uses(ladder(count).model, "s"))) for count in (9, 27))
    assert many <= 2 * few


def test_a_ladder_of_conditions_is_compared() -> None:
    setup = ladder(40)
    report = Report("ladder.toml", setup.texts)
    comparison = compare(setup.model, setup.model, report, report)
    assert not comparison.differs
    assert not comparison.open


def sums(channels: int, value: int) -> setuplint.Setup:
    """Channels that mix three sticks, each with an override beyond a threshold of its own."""
    lines = ["format = 1", "[craft]", "motor-off = -95"]
    for n in range(channels):
        mixed = f'mix = [{{ from = "aileron", rate = {20 + n % 9} }}, {{ from = "elevator", rate = {21 + n % 9} }}]'
        lines += [f"[channels.k{n}]", 'drives = "other"', 'from = "throttle"', mixed, f"[overrides.o{n}]"]
        lines += [f'channel = "k{n}"', f"value = {value}", f'when = "throttle > {n}"']
    return setuplint.load_text("\n".join(lines) + "\n")


def compared(old: setuplint.Setup, new: setuplint.Setup) -> Comparison:
    return compare(old.model, new.model, Report("old.toml", old.texts), Report("new.toml", new.texts))


def test_places_that_are_tried_are_counted_and_what_is_left_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    tried: list[int] = []
    differ = ChannelComparison._differ

    def counting(self: ChannelComparison, *args: object) -> Fraction:
        tried.append(1)
        return differ(self, *args)  # type: ignore[arg-type]

    monkeypatch.setattr(ChannelComparison, "_differ", counting)
    monkeypatch.setattr(outputs, "MOST_WORK", 8_000)
    found = compared(sums(40, 3), sums(40, 4))
    assert found.changes
    assert {each.because for each in found.open} == {"there is more to compare than one comparison may cost"}
    assert len(tried) <= 8_100


def test_questions_are_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[int] = []
    ask = Decider.ask

    def counting(self: Decider, *args: object, **named: object) -> Answer:
        asked.append(1)
        return ask(self, *args, **named)  # type: ignore[arg-type]

    monkeypatch.setattr(Decider, "ask", counting)
    monkeypatch.setattr(outputs, "MOST_WORK", 4_000)
    assert compared(sums(8, 3), sums(8, 4)).open
    assert len(asked) <= 8 * 4_000 / outputs.QUESTION


def test_widening_ends_for_the_whole_comparison(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(regions, "MOST_IN_ALL", 1)
    found = compared(sums(3, 3), sums(3, 4))
    assert len(found.changes) == 3


def test_a_case_that_cannot_be_shown_is_not_compared(monkeypatch: pytest.MonkeyPatch) -> None:
    def show() -> Case:
        raise OutOfBudget("it was too much")

    monkeypatch.setattr(Decider, "ask", lambda *_, **__: Answer(FOUND, show))
    found = compared(sums(2, 3), sums(2, 4))
    assert found.changes == ()
    assert {each.because for each in found.open} == {"it was too much"}


def test_both_lints_and_the_comparison_have_one_budget(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(budget, "WORK_A_FILE", 120_000)
    spent: list[Spent] = []

    def kept(before: int, after: int) -> Spent:
        spent.append(budget.for_comparison(before, after))
        return spent[-1]

    monkeypatch.setattr(result, "for_comparison", kept)
    text = shapes.chain(160)
    edited = text.replace("value = 55", "value = 54", 1)
    found = setuplint.compare(setuplint.load_text(text), setuplint.load_text(edited))
    assert 72_000 < spent[0].work < 90_000  # a whole budget for each of the three came to three times as much
    assert {each.because for each in found.open} == {"the two files used up their 72,000 units of work"}
    assert not [each for each in (*found.gained, *found.lost) if each.rule == "not-decided"]  # judged alike


def test_controls_renamed_in_their_hundreds_are_not_matched_and_that_is_said() -> None:
    def renamed(name: str) -> setuplint.Setup:
        lines = [f'[switches.{name}{n}]\nkind = "two-position"' for n in range(120)]
        return setuplint.load_text("\n".join(["format = 1", *lines]))

    found = compared(renamed("s"), renamed("t"))
    (left,) = found.open
    assert left.because == "120 controls are gone and 120 are new: too many to tell which was renamed"
