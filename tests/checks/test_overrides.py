"""Overrides of which something cannot be read."""

from __future__ import annotations

import pytest

import setuplint
from tests.checks.linted import TEXT, unjudged


@pytest.mark.parametrize("key", ["value", "priority", "channel"])
@pytest.mark.parametrize("rule", ["override-conflict", "override-shadowed"])
def test_an_override_that_cannot_be_read_may_be_any(rule: str, key: str) -> None:
    """It was silent: of another at the same time, with the same priority, or a higher one."""
    edit = {
        f"overrides.rescue-power.{key}": ["x"],
        "overrides.lamp": {"channel": "roll", "value": 0, "when": "rates is full"},
    }
    assert "overrides.rescue-power cannot be read" in unjudged(rule, edit)


def test_an_override_that_meets_no_other_is_in_no_conflict() -> None:
    assert unjudged("override-conflict", {"overrides.rescue-level.value": "level"}) == []


def test_a_file_that_is_not_all_toml_is_judged_as_far_as_it_goes() -> None:
    """A heading without a name may be that of any table: all of the file is damaged then."""
    report = setuplint.lint_text(
        TEXT.replace("[overrides.held]", "[]"), only=["not-toml", "override-conflict", "hold-slow"]
    )
    assert {finding.rule for finding in report.findings} == {"not-toml"}
    assert "hold-slow" in {note.rule for note in report.not_judged}
