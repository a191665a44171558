"""A whole lint: order, the rules that are asked for, texts that are no setups, and the counts."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from dataclasses import replace
from typing import Any
from weakref import ref

import pytest

import setuplint
from setuplint.book import rulebook
from setuplint.book.asking import Asking
from setuplint.book.functions import check_of
from setuplint.book.rule_file import BookError
from setuplint.budget import OutOfBudget
from setuplint.engine.kept import Kept
from setuplint.engine.search import Disagreement
from setuplint.findings import SIGNALS, Finding
from setuplint.library import record
from setuplint.solver.frame import Frame
from tests.checks.linted import TEXT, linted
from tests.rules.edits import REFERENCE, edited

BETWEEN = [[-100, -60], [-50, -14], [0, 16], [50, 46], [100, 100]]  # at low stick nothing is certain of the motor
TWO = {"failsafe.motor": 0, "curves.old": {"points": [[-100, 0], [100, 0]]}, "overrides.held.priority": 10}
LINGERING = {  # only a longer lingering without the shorter one would set the latch, and no run shows that
    "conditions.lately": {"when": "save is pulled", "stays": 5},
    "conditions.just-now": {"when": "save is pulled", "stays": 1},
    "conditions.odd": {"when": "just-now and not lately", "until": "hold is on"},
    "claims.1": {"never": "odd and hold is off"},
}


@pytest.mark.parametrize("name", rulebook.rules())
def test_every_rule_is_a_claim_or_names_a_function_or_is_made_by_the_run(name: str) -> None:
    rule = rulebook.rules()[name]
    if rule.is_asked:
        assert callable(check_of(rule))
        assert rule.check is None or rule.check.endswith(f".{name.replace('-', '_')}"), "it can be searched for"


@pytest.mark.parametrize("check", ["hold.hold_misses", "nowhere.hold_missing", "hold_missing"])
def test_a_function_that_is_not_there_is_an_error(check: str) -> None:
    with pytest.raises(BookError, match=f"check names {check}, and there is no such function"):
        check_of(replace(rulebook.rules()["hold-missing"], check=check))


def test_the_gravest_findings_come_first_then_they_are_in_the_order_of_the_file() -> None:
    report = linted(TWO)
    order = [(SIGNALS.index(each.signal), report.where(each.primary).span.start) for each in report.findings]
    assert len(order) >= 3
    assert order == sorted(order)
    assert [start for _, start in order] != sorted(start for _, start in order)


def test_only_some_rules() -> None:
    report = linted(TWO, only=["part-unused", "failsafe-runs-motor"])
    assert [finding.rule for finding in report.findings] == ["failsafe-runs-motor", "part-unused"]
    assert report.rules == 2
    assert linted(TWO, only=["hold-slow"]).findings == ()


def test_rules_that_listen_to_others_do_so_alone_too() -> None:
    edit = {"conditions.any": {"when": "throttle >= -100"}, "timers.flight.runs": "any"}
    edit["overrides.gain"] = {"channel": "tail-gain", "value": 30, "when": "any"}
    assert linted(edit, only=["override-stuck"]).findings == ()
    edit["conditions.pack-low.when"] = "pack < 14.4"
    assert linted(edit, only=["override-stuck", "cell-count-mismatch"]).findings == (), "two rules have spoken before"


def test_what_was_not_decided_of_a_rule_is_said_with_it() -> None:
    (finding,) = linted(LINGERING, only=["claim-broken"]).findings
    assert (finding.rule, finding.subject) == ("not-decided", "claim-broken odd and hold is off")
    assert finding.primary.path == ("claims", 1)
    assert "claim-broken odd and hold is off" in {x.subject for x in linted(LINGERING, only=["not-decided"]).findings}
    assert linted(LINGERING, only=["hold-missing"]).findings == ()


def test_rules_that_were_not_decided_or_judged_are_not_counted() -> None:
    assert linted(only=["claim-broken"]).rules == 1
    assert linted(LINGERING, only=["claim-broken"]).rules == 0
    between = {"overrides.held.value": -60}
    assert linted(between, remove=("craft.motor-off",), only=["hold-bypassed"]).rules == 0


@pytest.mark.parametrize(
    ("text", "rule"),
    [
        ("", "not-a-setup"),
        ("{{{]]] nonsense", "not-toml"),
        (TEXT.replace("format = 1", "format = 2"), "not-a-setup"),
        (TEXT.replace("format = 1", 'format = "one"'), "not-a-setup"),
        ("\0\ufeff\x1b[31m", "not-toml"),
    ],
)
def test_what_is_no_setup_is_a_finding_whatever_was_asked_for(text: str, rule: str) -> None:
    for only in (None, ["hold-bypassed"]):
        report = setuplint.lint_text(text, only=only)
        assert {finding.rule for finding in report.findings} == {rule}
        assert (report.rules, report.states) == (0, 0)


def test_a_setup_of_nothing_but_its_format() -> None:
    report = setuplint.lint_text("format = 1\n")
    assert [finding.rule for finding in report.findings] == ["hold-missing"]
    assert report.not_judged


def test_a_mistake_brings_no_others_with_it() -> None:
    for old, new in [
        ('when = "pack < 21.6"', 'when = "pack < 21.6'),
        ('voice = "land now"', "voice = 7"),
        ("cells = 6", "cells = 0"),
        ("hover-collective = 30 ", "hover-collective = x "),
        ('hold = "hold is on"', 'hold = "holt is on"'),
        ("points = [[-100, 45], [100, 45]]", "points = [[-100, 45], [100, 45"),
        ("attitude = 100\n\n[timers", 'attitude = "levels"\n\n[timers'),
    ]:
        assert old in TEXT
        report = setuplint.lint_text(TEXT.replace(old, new))
        rules = {finding.rule for finding in report.findings}
        assert len(rules) == 1, (new, rules)
        assert rules <= rulebook.names_asked("loading")
        assert report.not_judged, new
        assert all(note.because for note in report.not_judged)


@pytest.mark.parametrize("end", [OutOfBudget("it was too much"), Disagreement("in some state")])
def test_a_rule_that_gives_up_is_not_decided_and_stops_no_other(
    end: Exception, monkeypatch: pytest.MonkeyPatch
) -> None:
    def one_then_no_more(ask: Asking) -> Iterator[Finding]:
        yield ask.finding("held", "one was found", ("overrides", "held"))
        raise end

    monkeypatch.setattr("setuplint.checks.overrides.override_stuck", one_then_no_more)
    report = setuplint.lint_text(TEXT.replace("priority = 100", "priority = 10"))
    found = {(x.rule, x.subject) for x in report.findings}
    assert {("override-stuck", "held"), ("not-decided", "override-stuck")} <= found
    assert "hold-bypassed" in {rule for rule, _ in found}
    (said,) = (x.message for x in report.findings if x.rule == "not-decided")
    assert ("too much" in said) == isinstance(end, OutOfBudget)
    assert ("report it" in said) == isinstance(end, Disagreement)


@pytest.mark.parametrize(
    ("edit", "because"),
    [
        (
            {"curves.hover-soft.points": [[-100, -100], [0, 16], [0, 30]]},
            "what channels.motor stands on cannot be read",
        ),
        ({"knobs.throttle": {}}, "what channels.motor stands on cannot be read"),
        ({"channels.motor.curve": "hover-sof"}, "channels.motor cannot be read"),
        ({"craft.motor-off": -200, "curves.hover-soft.points": BETWEEN}, "craft.motor-off cannot be read"),
        ({"craft.rotor-free": -200, "curves.hover-soft.points": BETWEEN}, "craft.rotor-free cannot be read"),
    ],
)
def test_what_is_given_and_broken_is_not_called_missing(edit: dict[str, object], because: str) -> None:
    report = linted(edit)
    assert {note.because for note in report.not_judged if note.rule == "motor-on-at-low-stick"} == {because}
    assert not [note for note in report.not_judged if "is not given" in note.because]


PACKS = [REFERENCE.with_name(f"{name}.toml").read_text("utf-8") for name in ("kestrel", "plover")]


@pytest.mark.parametrize("text", [edited(TEXT, LINGERING), edited(TEXT, TWO), *PACKS])
def test_what_a_file_was_judged_with_is_free_without_a_collection(text: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Of thousands of files none leaves its solvers to be looked for among all that there is."""
    made: list[ref[Frame]] = []
    begin = Frame.__init__

    def noted(self: Frame, *given: Any, **named: Any) -> None:
        made.append(ref(self))
        begin(self, *given, **named)

    monkeypatch.setattr(Frame, "__init__", noted)
    gc.disable()
    try:
        report, kept = setuplint.lint_text(text, kept=Kept()), record(text, "it")
        alive = [frame for each in made if (frame := each()) is not None]
    finally:
        gc.enable()
    assert report.rules > 20
    assert kept is not None
    assert len(made) > 4
    assert alive == []


def test_a_craft_whose_motor_is_not_in_the_file_is_not_judged_by_it() -> None:
    none = ("channels.motor", "overrides.held", "overrides.rescue-power", "failsafe.motor")
    judged = {note.rule for note in linted({}, none).not_judged}
    assert judged >= {"hold-bypassed", "hold-slow", "motor-on-at-low-stick", "rescue-slow", "rescue-too-weak",
                      "trim-lifts-motor"}  # fmt: skip


def test_a_rescue_that_leaves_the_motor_to_a_line_not_given_may_be_incomplete() -> None:
    bare = ("channels.motor.from", "channels.motor.curve", "channels.motor.in")
    for remove, rules in ((bare, set()), ((*bare, "overrides.rescue-power"), {"rescue-incomplete", "rescue-too-weak"})):
        told = {
            note.rule for note in linted({}, remove).not_judged if note.because == "channels.motor.from is not given"
        }
        assert told & {"rescue-incomplete", "rescue-too-weak"} == rules
