"""One text of an editor, judged: what is wrong with it now, and what still stands while it is being typed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from setuplint.checks import run
from setuplint.findings import Finding, Place, Report
from setuplint.setup import Problem, Texts, load
from setuplint.setup.beside import Beside, Folder
from setuplint.setup.model import Setup


@dataclass(frozen=True, slots=True)
class Analysis:
    """A text as judged. `findings` are what the editor is to show; `report` is the lint of this very text. `whole`: all of
    it could be read. `setup` is what it means, as far as it could be read."""

    version: int
    report: Report
    setup: Setup
    problems: tuple[Problem, ...]
    findings: tuple[Finding, ...]
    whole: bool

    @property
    def texts(self) -> Texts:
        return self.report.texts


class Buffers(Folder):
    """The folder of a file, where what is open in the editor counts as it stands there. `open_texts` has texts by real path."""

    def __init__(self, path: str, open_texts: Mapping[str, str], name: str = "") -> None:
        super().__init__(path, name)
        self.open_texts = open_texts

    def read(self, path: str, most: int) -> bytes:
        data = super().read(path, most)
        text = self.open_texts.get(self.place(path))
        return data if text is None else text.encode(errors="surrogatepass")[: most + 1]


def analyse(
    text: str, name: str, version: int, beside: Beside | None = None, before: Analysis | None = None
) -> Analysis:
    """Judge a text. While a part of it cannot be read, the findings of `before`, a text that could be read, stay where
    what they speak of still is: an unfinished line makes nothing else come or go."""
    texts, setup, problems = load(text, name, beside)
    whole = not problems and not any(document.problems for document in texts)
    report = run.lint(texts, setup, problems)
    findings = report.findings
    if not whole and before is not None and before.whole:
        findings = (*_of_reading(report), *_standing(before, report))
    return Analysis(version, report, setup, problems, _in_order(report, findings), whole)


def _of_reading(report: Report) -> tuple[Finding, ...]:
    return tuple(finding for finding in report.findings if finding.rule in run.FROM_LOADING)


def _standing(before: Analysis, now: Report) -> tuple[Finding, ...]:
    """What was found before the text broke, at its places in the text of now."""
    return tuple(
        replace(finding, related=tuple(place for place in finding.related if _there(now, place)))
        for finding in before.report.findings
        if finding.rule not in run.FROM_LOADING and _there(now, finding.primary)
    )


def _there(report: Report, place: Place) -> bool:
    """Whether the part still stands in the text, unbroken."""
    if place.span is not None or not place.path:
        return place.span is None
    document = report.texts.holder(place.path, place.file)
    if any(place.path[: len(path)] == path for path in document.broken if path):
        return False
    if document.key_span(place.path) is None and document.value_span(place.path) is None:
        return False
    if place.within is None:
        return True
    try:
        document.string_offset(place.path, place.within[1])
    except KeyError:
        return False
    return True


def _in_order(report: Report, findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    return tuple(sorted(findings, key=lambda each: (report.where(each.primary).span.start, each.rule, each.subject)))
