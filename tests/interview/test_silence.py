"""Whatever a pilot answers, the setup lints silently; what is not known is left out, and nothing else is wrong with it."""

from __future__ import annotations

import tomllib

import pytest

import setuplint
from setuplint.interview.course import course
from setuplint.interview.text import setup_text
from tests.interview.random_replies import random_replies

FLAT = "voltage-alarm-nervous"  # LiFePO4 is so flat that what is in time may be far from empty
PILOTS = range(40)


def lint(seed: int, unknown: float = 0) -> tuple[setuplint.Report, str]:
    found = course(random_replies(seed, unknown), asking=False)
    assert [step.complaint for step in found.steps if step.complaint] == []
    text = setup_text(found)
    return setuplint.lint_text(text), text


@pytest.mark.quick(10)
@pytest.mark.parametrize("seed", PILOTS)
def test_all_is_known_and_nothing_is_found_or_left_open(seed: int) -> None:
    report, text = lint(seed)
    life = tomllib.loads(text).get("battery", {}).get("chemistry") == "life"
    assert [f.message for f in report.findings if not (life and f.rule == FLAT)] == [], text
    assert report.not_judged == (), text


@pytest.mark.quick(6)
@pytest.mark.parametrize("seed", PILOTS)
def test_some_is_not_known_and_only_that_is_said(seed: int) -> None:
    """An alarm without a timer on LiFePO4, and telemetry without the link, are the pilot's own."""
    report, text = lint(seed, unknown=0.3)
    own = {"dangers-not-judged", "link-alarm-missing", "voltage-warns-late", "voltage-alarm-missing", FLAT}
    assert [(f.rule, f.message) for f in report.findings if f.rule not in own] == [], text
