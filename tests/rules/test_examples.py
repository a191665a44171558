"""Every example of every rule's file: the rule speaks on it, or is silent. Of the others: test_companions."""

from __future__ import annotations

import pytest

import setuplint
from setuplint.book import rule_file, rulebook
from setuplint.book.choices import Choices
from setuplint.club.examples import Texts, outcome
from setuplint.findings import Report
from tests.rules.edits import REFERENCE

EXAMPLES = [
    pytest.param(name, example, id=f"{name}-{number}-{'speaks' if example.speaks else 'silent'}")
    for name in rulebook.rules()
    for number, example in enumerate(rulebook.page(name).examples)
]


def linted(texts: Texts) -> list[Report]:
    asked = any(name.endswith(".record.json") for name in texts)
    return setuplint.lint_together(texts, choices=Choices(require_record=asked))


@pytest.mark.quick(120)
@pytest.mark.parametrize(("name", "example"), EXAMPLES)
def test_example(name: str, example: rule_file.Example) -> None:
    assert outcome(name, example, linted).wrong == ()


def test_the_reference_is_silent() -> None:
    (report,) = linted({"reference.toml": REFERENCE.read_text(encoding="utf-8")})
    assert report.findings == ()
