"""The first page of several reports: each set-up, what was found in it, and what could not be judged."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from setuplint.findings import SIGNALS, Report
from setuplint.formats.numbers import counted
from setuplint.formats.summary import CAUTION
from setuplint.pages.html import html_page, html_table, tag, text
from setuplint.pages.report import verdict


@dataclass(frozen=True, slots=True)
class IndexEntry:
    """A set-up's report, and the file name of its page."""

    report: Report
    craft: str
    page: str


def index_page(entries: Sequence[IndexEntry]) -> str:
    """Links are file names in the same folder."""
    rows = [
        [
            tag("a", text(each.report.name), href=each.page),
            text(each.craft),
            verdict(each.report),
            text(f"{len(each.report.waived)}" if each.report.waived else "-"),
            text(f"{len({open_.rule for open_ in each.report.not_judged})}" if each.report.not_judged else "-"),
        ]
        for each in entries
    ]
    body = tag("h1", "Set-ups")
    body += tag("p", _sum(entries), class_="verdict") + tag("p", text(CAUTION), class_="careful")
    body += html_table(["Set-up", "Craft", "Found", "Waived", "Rules not judged"], rows, "Each with a page of its own")
    return html_page("Set-ups: reports", tag("main", body))


def _sum(entries: Sequence[IndexEntry]) -> str:
    counts = {signal: sum(f.signal == signal for e in entries for f in e.report.findings) for signal in SIGNALS}
    found = [
        tag("strong", text(counted(count, signal)), class_=f"signal {signal}")
        for signal, count in counts.items()
        if count
    ]
    said = ", ".join(found) or tag("strong", "Nothing found", class_="signal good")
    return text(f"{counted(len(entries), 'set-up')}: ") + said
