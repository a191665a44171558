"""Every example of every rule's file: the rule speaks on it, or is silent, and no rule beside it but those named."""

from __future__ import annotations

import pytest

import setuplint
from setuplint.book import rulebook
from setuplint.book.choices import Choices
from setuplint.club.examples import Texts, wrong
from setuplint.findings import Report
from tests.rules.edits import REFERENCE

EXAMPLES = [
    pytest.param(name, example, id=f"{name}-{number}-{'speaks' if example.speaks else 'silent'}")
    for name in rulebook.rules()
    for number, example in enumerate(rulebook.page(name).examples)
]


# Rules of thumb, and arithmetic on estimates; all others are proved.
ADVICE = {"lift-before-level", "voltage-alarm-nervous", "voltage-alarm-late", "flight-time-too-long"}


def linted(texts: Texts) -> list[Report]:
    """Reports in which what is advice is marked as that."""
    reports = setuplint.lint_together(texts)
    found = [finding for report in reports for finding in report.findings]
    assert {x.rule for x in found if x.status == "advice"} == {x.rule for x in found} & ADVICE
    return reports


@pytest.mark.parametrize(("name", "example"), EXAMPLES)
def test_example(name: str, example: rulebook.Example) -> None:
    assert list(wrong(name, example, Choices(), linted)) == []


def test_the_reference_is_silent() -> None:
    (report,) = linted({"reference.toml": REFERENCE.read_text(encoding="utf-8")})
    assert report.findings == ()
