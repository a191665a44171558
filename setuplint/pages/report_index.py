"""The first page of several reports: each set-up, what was found in it, and what could not be judged."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from setuplint.findings import Report
from setuplint.formats.decided_document import verdict_words
from setuplint.formats.document import Grid, Heading, Paragraph, Phrase, Words
from setuplint.formats.numbers import counted
from setuplint.formats.summary import CAUTION
from setuplint.pages.document_html import document_html
from setuplint.pages.html import html_page, tag


@dataclass(frozen=True, slots=True)
class IndexEntry:
    """A set-up's report, and the file name of its page in the same folder."""

    report: Report
    craft: str
    page: str


def index_page(entries: Sequence[IndexEntry]) -> str:
    found = verdict_words(finding for entry in entries for finding in entry.report.findings)
    heads = ("Set-up", "Craft", "Found", "Waived", "Rules not judged")
    blocks = (
        Heading(1, "Set-ups"),
        Paragraph([f"{counted(len(entries), 'set-up')}: ", *found], "verdict"),
        Paragraph(CAUTION, "careful"),
        Grid(heads, list(map(_row, entries)), "Each with a page of its own"),
    )
    return html_page("Set-ups: reports", tag("main", document_html(blocks)))


def _row(entry: IndexEntry) -> list[Words]:
    report = entry.report
    waived, open_rules = len(report.waived), len({each.rule for each in report.not_judged})
    found = verdict_words(report.findings)
    return [Phrase(report.name, link=entry.page), entry.craft, found, f"{waived or '-'}", f"{open_rules or '-'}"]
