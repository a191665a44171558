"""Advice that is followed makes nothing worse: every edit that a rule gives on its own examples, applied."""

from __future__ import annotations

import pytest

from setuplint.book import rulebook
from setuplint.findings import Finding, Report
from setuplint.formats.patch import edited_text
from tests import once
from tests.rules.edits import example_text

SIGNALS = ("notice", "caution", "danger")
SPEAKING = [
    pytest.param(name, number, id=f"{name}-{number}")
    for name in rulebook.rules()
    for number, example in enumerate(rulebook.page(name).examples)
    if example.speaks and example.beside is None
]


def graver(before: Report, after: Report, than: Finding) -> list[str]:
    """What is reported now, was not before, and is graver than the finding that gave the edit."""
    known = {(finding.rule, finding.subject) for finding in before.findings}
    found = [x for x in after.findings if (x.rule, x.subject) not in known]
    return [f"{x.rule} {x.subject}" for x in found if SIGNALS.index(x.signal) > SIGNALS.index(than.signal)]


@pytest.mark.quick(6)
@pytest.mark.parametrize(("name", "number"), SPEAKING)
def test_an_edit_brings_nothing_graver(name: str, number: int) -> None:
    text = example_text(rulebook.page(name).examples[number])
    before = once.lint_text(text)
    for finding in before.findings:
        if finding.rule != name or finding.edit is None:
            continue
        after = edited_text(before.document, finding.edit)
        if after is not None:
            assert graver(before, once.lint_text(after), finding) == [], finding.edit
