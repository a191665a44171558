"""Overrides of which something cannot be read."""

from __future__ import annotations

import pytest

from tests.checks.linted import unjudged


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
