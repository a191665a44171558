"""The report of one set-up as a page: verdict, findings with their cases, curves, battery, who takes what, and an explorer;
and the first page of several reports."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence

from setuplint import budget
from setuplint.book import rulebook
from setuplint.book.rule_file import Rule
from setuplint.dataclass import dataclass
from setuplint.findings import Report, shortened
from setuplint.formats.decided_document import decided_document
from setuplint.formats.document import Grid, Heading, Paragraph, Phrase, Words
from setuplint.formats.numbers import counted
from setuplint.formats.summary import CAUTION, Summary, summary_of
from setuplint.named_tuple import NamedTuple
from setuplint.notes.handling import handling_notes
from setuplint.pages import explorer
from setuplint.pages.document_html import document_html, words_html
from setuplint.pages.html import asset, html_page, tag, text
from setuplint.pages.notes_paper import TITLE, note_blocks
from setuplint.pages.report_battery import battery_figures
from setuplint.pages.report_channels import outputs_section, overrides_section
from setuplint.pages.report_curves import curves_section
from setuplint.pages.report_findings import findings_html
from setuplint.plain.resting import rest_doubt
from setuplint.setup import built_setup
from setuplint.setup.fingerprint import fingerprint
from setuplint.setup.model import Setup
from setuplint.setup.problems import capitalised


class ReportSection(NamedTuple):
    """A section of the page, with its anchor. Without a script, what needs one is hidden."""

    name: str
    title: str
    inside: str
    needs_script: bool = False


def page_alone(report: Report) -> str:
    """The page of a report of which no more is at hand."""
    return report_page(report, built_setup(report.texts).setup)


def report_page(report: Report, setup: Setup, rules: Mapping[str, Rule] | None = None) -> str:
    """The whole page, for the set-up that the report is of. `rules` are those that it was judged by, with a club's limits;
    without them, those of the book."""
    for_notes = budget.after(report.work)
    said = () if report.texts.is_unread else handling_notes(setup, report.values, for_notes)
    notes = document_html(note_blocks(said, 3))
    for_outputs = budget.after(for_notes.work)
    all_sections = (
        ReportSection("findings", "Findings", findings_html(report, setup)),
        ReportSection("explorer", "Try a state", _rest_doubt(setup) + EXPLORER, needs_script=True),
        ReportSection("notes", TITLE, notes),
        ReportSection("curves", "Curves", curves_section(setup)),
        ReportSection("battery", "Battery", battery_figures(setup, rules or rulebook.rules())),
        ReportSection("overrides", "Who can take which channel", overrides_section(setup)),
        ReportSection("channels", "What each channel puts out", outputs_section(setup, for_outputs)),
        ReportSection("decided", "What was decided", document_html(decided_document(report))),
    )
    sections = [section for section in all_sections if section.inside]
    body = _head(report, setup, sections)
    body += tag("main", "\n".join(map(_section_html, sections)), id="main")
    body += tag("footer", tag("p", text(f"Made by setuplint from {report.name}.")))
    data = {
        "model": explorer.explorer_model(setup),
        "cases": [
            {**explorer.case_moves(each), "moments": explorer.run_values(setup, each, report.values)}
            if each.timing is not None
            else explorer.case_moves(each)
            for each in shortened(report.findings).findings
        ],
        "places": explorer.decider_places(report, setup),
    }
    return html_page(f"{setup.craft.name}: report", body, data=json.dumps(data), script=asset("explorer.js"))


def _rest_doubt(setup: Setup) -> str:
    doubt = rest_doubt(setup)
    return doubt and tag("p", text(f"{capitalised(doubt)}."), class_="careful")


def _section_html(section: ReportSection) -> str:
    """One that needs the script takes the focus when the script leads there."""
    attributes = {"class_": "script", "hidden": True, "tabindex": "-1"} if section.needs_script else {}
    return tag("section", f"{tag('h2', text(section.title))}\n{section.inside}", id=section.name, **attributes)


def _head(report: Report, setup: Setup, sections: Sequence[ReportSection]) -> str:
    items = []
    for section in sections:
        link = tag("a", text(section.title), href=f"#{section.name}")
        items.append(tag("li", link, class_="script" if section.needs_script else None, hidden=section.needs_script))
    tally = summary_of(report).tally
    more = " " + tag("a", "What was decided", href="#decided") if tally.not_judged or tally.hidden else ""
    about = tag("code", text(report.name)) + text(f" · fingerprint {fingerprint(setup)}")
    return tag(
        "header",
        tag("h1", text(setup.craft.name))
        + tag("p", about, class_="soft")
        + tag("p", words_html(tally.words()) + more, class_="verdict")
        + tag("p", text(CAUTION), class_="careful")
        + tag("nav", tag("ul", "".join(items)), aria_label="On this page"),
    )


EXPLORER = """<p class="soft">Set the controls; what every channel puts out is worked out here, in the page.
Ramps and delays have run out; in a run of a finding, delays are as they are just then.</p>
<p><button type="button" id="still">All at rest</button> <button type="button" id="power">Switch on again</button>
<span id="said" role="status"></span></p>
<div class="try"><div class="controls" id="controls"></div>
<div class="live" tabindex="0" role="region" aria-label="Outputs in this state"><table>
<caption>Outputs in this state</caption>
<thead><tr><th scope="col">Channel</th><th scope="col">Puts out</th><th scope="col">From -150 to +150</th>
<th scope="col">Decided by</th></tr></thead>
<tbody id="outputs"></tbody></table>
<p id="standing"></p></div></div>
<ol id="run"></ol>"""


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
