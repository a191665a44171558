"""What a lint may cost: where its budget ends, what was not decided is said, and a new solver changes no answer."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

import setuplint
from setuplint import budget
from setuplint.book import run
from setuplint.engine import decider
from setuplint.findings import Finding, Report
from tests import once, shapes

EXAMPLES = Path(__file__).parents[2] / "examples"
FILES = [EXAMPLES / "reference.toml", *sorted((EXAMPLES / "hazards").glob("*.toml"))]


def said(report: Report) -> set[tuple[str, str, str]]:
    return {(x.rule, x.subject, x.message) for x in report.findings}


@pytest.mark.quick(10)
@pytest.mark.parametrize("work", [500, 800, 1_500, 2_500, 4_000])
@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_what_the_budget_does_not_reach_is_said(path: Path, work: int, monkeypatch: pytest.MonkeyPatch) -> None:
    text = path.read_bytes()
    whole = once.lint_text(text)
    monkeypatch.setattr(budget, "WORK_A_FILE", work)
    report = setuplint.lint_text(text)
    given_up = {subject.partition(" ")[0] for rule, subject, _ in said(report) if rule == "not-decided"}
    missing = {(x.rule, x.subject) for x in whole.findings} - {(x.rule, x.subject) for x in report.findings}
    assert {rule for rule, _ in missing} <= given_up
    assert work > 500 or given_up


@pytest.mark.quick(2)
@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_a_new_solver_before_each_rule_gives_the_same(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    text = path.read_bytes()
    whole = once.lint_text(text)
    monkeypatch.setattr(decider, "MANY", 0)
    report = setuplint.lint_text(text)
    assert said(report) == said(whole)
    assert report.states == whole.states
    assert [x.witness for x in report.findings] == [x.witness for x in whole.findings]


def test_a_start_check_too_hard_to_decide_is_asked_without(monkeypatch: pytest.MonkeyPatch) -> None:
    """More states than there are: what is proved of them holds, and nothing is called impossible for want of a start."""
    text = (EXAMPLES / "hazards" / "rescue-beats-hold.toml").read_text(encoding="utf-8")
    monkeypatch.setattr(budget, "WORK_A_FILE", 150)
    assert not setuplint.decide(setuplint.load_text(text)).start_possible


def test_packs_are_counted_and_what_is_not_reached_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    """Thousands of packs took gigabytes."""
    asked: list[str] = []
    answers = run.Run.answers

    def counting(self: run.Run, *args: Any) -> list[Finding]:
        asked.append(args[0].name)
        return answers(self, *args)

    monkeypatch.setattr(run.Run, "answers", counting)
    monkeypatch.setattr(budget, "WORK_A_FILE", 100_000)
    report = setuplint.lint_text(shapes.packs(300))
    assert len(asked) < 100_000 / budget.PACK + len(set(asked))
    left_out = [x for x in report.findings if x.rule == "not-decided" and "not of every pack" in x.message]
    assert left_out
