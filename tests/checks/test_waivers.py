"""Waivers: which findings they cover, until when, and what is said of the waivers themselves."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta
from typing import Any

import pytest

import setuplint
from setuplint.book import run
from setuplint.book.choices import Choices
from setuplint.findings import Report
from setuplint.setup import loaded_setup
from tests.checks.linted import TEXT, linted
from tests.rules.edits import edited

SILENT = ("modes.normal.voice", "modes.idle-up.voice")
WAIVER = {"rule": "failsafe-runs-motor", "on": ["motor"], "reason": "a glider with a brake"}


def waived(waiver: dict[str, Any], today: date | None = None, **edit: Any) -> Report:
    return linted({"failsafe.motor": 0, **edit, "waivers": [{**WAIVER, **waiver}]}, today=today)


def by(never: Iterable[str] = (), waive: bool = True, **waiver: Any) -> Report:
    """Waived as a club chooses, on the first of April 2027."""
    text = edited(TEXT, {"failsafe.motor": 0, "waivers": [{**WAIVER, **waiver}]})
    choices = Choices(never_waive=frozenset(never), waive=waive)
    return run.lint(*loaded_setup(text, "reference.toml"), choices=choices, today=date(2027, 4, 1))


def rules(report: Report) -> list[str]:
    return [finding.rule for finding in report.findings]


def test_what_is_waived_is_kept_apart_and_nothing_else_is() -> None:
    report = waived({}, **{"failsafe.attitude": -100})
    assert rules(report) == ["failsafe-not-level"]
    assert [(finding.rule, finding.subject) for finding in report.waived] == [("failsafe-runs-motor", "motor")]


@pytest.mark.parametrize(
    ("today", "left"),
    [(date(2027, 3, 31), []), (date(2027, 4, 1), []), (date(2027, 4, 2), ["failsafe-runs-motor", "waiver-expired"])],
)
def test_the_last_day_is_included(today: date, left: list[str]) -> None:
    report = waived({"until": date(2027, 4, 1)}, today)
    assert rules(report) == left
    assert bool(report.waived) != bool(left)


def test_the_day_is_that_of_the_call() -> None:
    assert rules(waived({"until": date(2000, 1, 1)})) == ["failsafe-runs-motor", "waiver-expired"]
    assert rules(waived({"until": date(9999, 12, 31)})) == []


def test_an_expired_waiver_says_whether_anything_comes_back() -> None:
    report = linted({"waivers": [{**WAIVER, "until": date(2027, 4, 1)}]}, today=date(2027, 4, 2))
    (finding,) = report.findings
    assert finding.message == (
        "the waiver of failsafe-runs-motor on motor held until 2027-04-01: it hides nothing now, and can go"
    )
    assert finding.primary.path == ("waivers", 0, "until")


def test_a_waiver_of_another_part_names_those_that_there_are() -> None:
    report = waived({"on": ["engine"]})
    assert rules(report) == ["failsafe-runs-motor", "waiver-unneeded"]
    assert "reports only motor" in report.findings[1].message
    assert report.waived == ()


def test_no_parts_named_is_none_and_absent_is_all() -> None:
    assert set(rules(waived({"on": []}))) == {"failsafe-runs-motor", "waiver-unneeded"}
    report = linted({"waivers": [{"rule": "mode-unannounced", "reason": "no voice"}]}, remove=SILENT)
    assert report.findings == ()
    assert [finding.subject for finding in report.waived] == ["normal", "idle-up"]


def test_a_subject_of_two_parts_is_covered_where_both_are_named() -> None:
    conflict = {
        "overrides.a": {"channel": "roll", "value": 1, "when": "rates is full"},
        "overrides.b": {"channel": "roll", "value": 2, "when": "rates is full"},
    }

    def left(on: list[str]) -> list[str]:
        waiver = {"rule": "override-conflict", "on": on, "reason": "x"}
        return rules(linted({**conflict, "waivers": [waiver]}))

    assert "override-conflict" in left(["a"])
    assert "override-conflict" not in left(["a", "b"])
    assert "override-conflict" not in left(["a, b"])


def test_a_rule_that_there_is_not() -> None:
    report = waived({"rule": "failsafe-run-motor"})
    assert [f"{f.rule} {f.subject}" for f in report.findings if f.rule == "unknown-name"] == [
        "unknown-name rule failsafe-run-motor"
    ]
    (finding,) = [f for f in report.findings if f.rule == "unknown-name"]
    assert finding.remedy == "did you mean failsafe-runs-motor?"
    assert report.document.text[slice(*report.where(finding.primary).span)] == '"failsafe-run-motor"'
    assert "waiver-unneeded" not in rules(report)


def test_of_a_rule_that_was_not_judged_nothing_is_said() -> None:
    report = setuplint.lint_text(
        TEXT.replace("motor-off = -95 ", "# ").replace(
            'value = -100\nwhen = "hold is on"', 'value = -60\nwhen = "hold is on"'
        )
        + '[[waivers]]\nrule = "hold-bypassed"\nreason = "x"\n'
    )
    assert "hold-bypassed" in {note.rule for note in report.not_judged}
    assert "waiver-unneeded" not in rules(report)


def test_a_waived_condition_does_not_wake_what_follows_from_it() -> None:
    edit = {
        "conditions.any": {"when": "rates is soft or rates is full"},
        "overrides.gain": {"channel": "tail-gain", "value": 30, "when": "any"},
        "waivers": [{"rule": "condition-constant", "reason": "x"}],
    }
    assert linted(edit).findings == ()


def test_a_waiver_that_cannot_be_read_covers_nothing() -> None:
    text = TEXT.replace("motor = -100                   #", "motor = 0 #")
    text += '[[waivers]]\nrule = "failsafe-runs-motor"\nreason = "x"\nuntil = "soon"\n'
    assert rules(setuplint.lint_text(text)) == ["failsafe-runs-motor", "not-a-setup"]
    expires = text.replace('until = "soon"', "expires = 2020-01-01")  # a key that is none may end it
    assert rules(setuplint.lint_text(expires)) == ["failsafe-runs-motor", "not-a-setup"]


@pytest.mark.parametrize(
    ("days", "said"),
    [
        (31, []),
        (30, ["its last day is in 30 days"]),
        (1, ["its last day is tomorrow"]),
        (0, ["its last day is today"]),
        (-1, []),
    ],
)
def test_an_end_is_announced_thirty_days_ahead(days: int, said: list[str]) -> None:
    report = by(until=date(2027, 4, 1) + timedelta(days))
    assert [remark.message.rpartition(": ")[2] for remark in report.remarks] == said
    assert {remark.kind for remark in report.remarks} <= {"ends-soon"}
    assert bool(report.findings) == (days < 0), "what is said fails nothing before the day has passed"


def test_nothing_is_announced_of_a_waiver_that_nothing_needs() -> None:
    report = by(on=["engine"], until=date(2027, 4, 2))
    assert report.remarks == ()
    assert rules(report) == ["failsafe-runs-motor", "waiver-unneeded"]


@pytest.mark.parametrize("never", ["failsafe-runs-motor", "danger"])
def test_what_may_never_be_waived_is_reported_and_that_is_said(never: str) -> None:
    report = by([never])
    assert rules(report) == ["failsafe-runs-motor"]
    assert report.waived == ()
    assert report.findings[0].waiver is None
    (remark,) = report.remarks
    assert remark.kind == "refused"
    assert "the waiver of failsafe-runs-motor on motor hides nothing" in remark.message
    assert ("a danger" if never == "danger" else never) in remark.message


@pytest.mark.parametrize("never", ["failsafe-not-level", "caution", "notice"])
def test_others_may_be_waived_all_the_same(never: str) -> None:
    report = by([never])
    assert (rules(report), report.remarks) == ([], ())
    assert [finding.waiver.reason for finding in report.waived if finding.waiver] == ["a glider with a brake"]


def test_an_audit_reports_what_is_waived_with_its_reason() -> None:
    report = by(waive=False)
    assert rules(report) == ["failsafe-runs-motor"]
    assert report.waived == ()
    waiver = report.findings[0].waiver
    assert waiver is not None
    assert waiver.reason == "a glider with a brake"
