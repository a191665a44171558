"""The first page of several reports: each set-up, what was found in it, and what could not be judged."""

from __future__ import annotations

from collections.abc import Sequence

from setuplint.dataclass import dataclass
from setuplint.findings import Report
from setuplint.formats.document import Grid, Heading, Paragraph, Phrase, Words
from setuplint.formats.numbers import counted
from setuplint.formats.summary import CAUTION, Summary, summary_of
from setuplint.pages.document_html import document_html
from setuplint.pages.html import html_page, tag


@dataclass(frozen=True, slots=True)
class IndexEntry:
    """A set-up's report, and the file name of its page in the same folder."""

    report: Report
    craft: str
    page: str


def index_page(entries: Sequence[IndexEntry]) -> str:
    total = Summary()
    for entry in entries:
        total.add(summary_of(entry.report))
    heads = ("Set-up", "Craft", "Lint")
    blocks = (
        Heading(1, "Set-ups"),
        Paragraph([f"{counted(len(entries), 'set-up')}: ", *total.tally.words()], "verdict"),
        Paragraph(CAUTION, "careful"),
        Grid(heads, list(map(_row, entries)), "Each with a page of its own"),
    )
    return html_page("Set-ups: reports", tag("main", document_html(blocks)))


def _row(entry: IndexEntry) -> list[Words]:
    return [Phrase(entry.report.name, link=entry.page), entry.craft, summary_of(entry.report).tally.words()]
