"""Every example of every rule's file: the rule speaks on it, or is silent; what other rules say of it is right, as the judges of
tests/mutants work it out, which know RULES.md and the brute-force oracle alone (so a new rule is named in no other's file); and
advice that is followed makes nothing worse."""

from __future__ import annotations

import pytest

import setuplint
from setuplint.book import rule_file, rulebook
from setuplint.book.choices import Choices
from setuplint.book.run import RADIO
from setuplint.club import examples
from setuplint.findings import Finding, Report
from setuplint.formats.patch import edited_text
from setuplint.setup.file_sources import RECORD
from tests import once
from tests.mutants.mutants import Mutant, outcome
from tests.rules.edits import REFERENCE

SIGNALS = ("notice", "caution", "danger")
EXAMPLES = [
    pytest.param(name, example, id=f"{name}-{number}-{'speaks' if example.speaks else 'silent'}")
    for name in rulebook.rules()
    for number, example in enumerate(rulebook.page(name).examples)
]


def linted(name: str, texts: examples.Texts) -> list[Report]:
    """The lint of an example of a rule. One that is a single setup is linted by itself where the rule compares no setups."""
    if len(texts) == 1 and RADIO not in rulebook.rules()[name].needs:
        return [once.lint_text(text, file) for file, text in texts.items()]
    asked = any(file.endswith(RECORD) for file in texts)
    return setuplint.lint_together(texts, choices=Choices(require_record=asked))


@pytest.mark.quick(20)
@pytest.mark.parametrize(("name", "example"), EXAMPLES)
def test_example(name: str, example: rule_file.Example) -> None:
    """Whether others say enough is what the mutants ask; here none may say what is not there."""
    reports: list[Report] = []

    def kept(texts: examples.Texts) -> list[Report]:
        reports.extend(linted(name, texts))
        return reports

    assert examples.outcome(name, example, kept).wrong == ()
    if example.beside is None:
        report = reports[0]
        found = outcome(Mutant("reference", name, "", report.document.text), report, but=name)
        assert [line for line in found.wrong if is_said_in_vain(line)] == []
        assert intents_marked(report) <= set(report.document.values.get("intent", {}))
        for finding in report.findings:
            if finding.rule == name and finding.edit is not None:
                assert graver_by_edit(report, finding) == [], finding.edit


def is_said_in_vain(line: str) -> bool:
    return line.endswith("said, and not there") or "judged of []" in line


def intents_marked(report: Report) -> set[str]:
    """What the findings show as calling hold, stop or rescue."""
    shown = [
        place for finding in report.findings for place in finding.related if place.caption.startswith("what calls ")
    ]
    return {str(place.path[1]) for place in shown}


def graver_by_edit(before: Report, than: Finding) -> list[str]:
    """What is reported after the finding's edit, was not before, and is graver than the finding."""
    assert than.edit is not None
    text = edited_text(before.document, than.edit)
    known = {(finding.rule, finding.subject) for finding in before.findings}
    after = () if text is None else once.lint_text(text, "reference.toml").findings
    found = [x for x in after if (x.rule, x.subject) not in known]
    return [f"{x.rule} {x.subject}" for x in found if SIGNALS.index(x.signal) > SIGNALS.index(than.signal)]


def test_the_reference_is_silent() -> None:
    (report,) = setuplint.lint_together({"reference.toml": REFERENCE.read_text(encoding="utf-8")})
    assert report.findings == ()
