"""What is wrong with a shared part by itself, and a report without it."""

from __future__ import annotations

from collections.abc import Collection

from setuplint.book import rulebook
from setuplint.book.loading import loading_findings
from setuplint.dataclass import replace
from setuplint.findings import Finding, Report
from setuplint.setup import built_setup, shared_files
from setuplint.setup.file_sources import Folder
from setuplint.source import Document, Span

Told = tuple[str, str, Span]


def without_part_mistakes(report: Report, told: Collection[str]) -> Report:
    """The report without those mistakes in shared parts of these names that the parts have by themselves."""
    own = {document.name: part_mistakes(document) for document in report.texts.shared if document.name in told}

    def new(finding: Finding) -> bool:
        where = report.where(finding.primary)
        return (finding.rule, finding.message, where.span) not in own.get(where.name, ())

    return replace(report, findings=tuple(filter(new, report.findings)))


def part_mistakes(document: Document) -> set[Told]:
    """Rule, message and place of what is wrong in a text, whichever setups extend it."""
    texts = shared_files.texts_with_shared_files(document, Folder(document.name))
    if shared_files.is_shared_file(document):
        texts = shared_files.texts_of_shared_file(texts)
    report = Report(document.name, texts, tuple(loading_findings(texts, built_setup(texts).problems, rulebook.rules())))
    places = ((finding, report.where(finding.primary)) for finding in report.findings)
    return {(finding.rule, finding.message, where.span) for finding, where in places if where.document is document}
