"""Papers to print, each in HTML, in Markdown and in JSON."""

from __future__ import annotations

import json
from collections.abc import Sequence

from setuplint.findings import Report
from setuplint.formats.document import Block, Division, Facts, Heading, Paper, Paragraph, Phrase
from setuplint.formats.document_markdown import document_markdown
from setuplint.formats.markdown_text import escaped
from setuplint.formats.summary import summary_of
from setuplint.pages.document_html import document_html
from setuplint.pages.html import asset, html_page, tag, text

MOST_NAMED = 5  # dangers on top of a paper


def paper_text(paper: Paper, form: str) -> str:
    """The paper as `html`, `markdown` or `json`."""
    if form == "json":
        return json.dumps(paper.values, indent=1) + "\n"
    if form == "markdown":
        return document_markdown(paper.blocks, paper.escape or escaped)
    known = {key: paper.values[key] for key in ("craft", "file", "fingerprint")}
    inside = document_html(paper.blocks) + RECORD.format(
        fingerprint=text(known["fingerprint"]), by="" if "boxes" in paper.values else BY
    )
    return html_page(
        paper.title,
        tag("main", inside),
        data=json.dumps(known),
        script=asset("paper.js"),
        styles=("paper.css", *paper.styles),
    )


def paper_head(title: str, facts: Sequence[str], careful: str, warning: str, *more: Block) -> Division:
    """What stands on top: what is wrong with the file before all else, then what it is of, and what to take care of first."""
    warnings = [Paragraph(Phrase(warning, strong=True), "careful bad")] if warning else []
    blocks = (*warnings, Heading(1, title), Facts(facts), Paragraph(careful, "careful"), *more)
    return Division(blocks, element="header")


def hazard_warning(report: Report, made: str) -> str:
    """What lint comes to, for a card or a sheet: they show what the file says, hazards too; each danger is named. Empty where
    nothing graver than a notice was found, and all was judged."""
    tally = summary_of(report).tally
    if not report.at_least("caution"):
        return f"Lint of this file: {tally.text()}." if tally.not_judged or tally.not_decided else ""
    dangers = [finding.message for finding in report.findings if finding.signal == "danger"]
    named = "".join(f" Danger: {message}." for message in dangers[:MOST_NAMED])
    named += f" And {len(dangers) - MOST_NAMED} more." if len(dangers) > MOST_NAMED else ""
    return f"Lint of this file: {tally.text()}. Mend it first: a {made} shows what the file says, hazards too.{named}"


BY = """<p><label>Entered by <input type="text" class="blank long" autocomplete="off" data-field="by"></label>
<label>on <input type="date" class="blank" data-field="on"></label></p>"""
RECORD = """<section class="record script" id="record" hidden><h2>The record</h2>
<p>What you tick and type here stays on this device, in this browser, for fingerprint {fingerprint}, also when the page is
loaded again: sheet and card of one fingerprint share it. It goes nowhere else until you save or copy it.</p>
<p><label>Numbers are typed as the transmitter shows them, <select data-field="scale">
<option value="percent">from -100 to +100</option><option value="of-100">from 0 to 100</option>
<option value="pulse-us">as pulses, in µs</option></select></label></p>
{by}
<p><label class="notes">Notes <textarea data-field="notes" rows="3"></textarea></label></p>
<p class="ways"><button type="button" id="save">Save it as a file</button> <button type="button" id="copy">Copy it</button>
<button type="button" id="clear">Clear it</button></p>
<p id="said" role="status"></p>
<details><summary>It as text</summary><textarea readonly id="text" rows="12" aria-label="The record as text"></textarea></details>
<p class="soft">Put the file beside the setup, and run <code>setuplint record SETUP RECORD</code>: it says what is proved,
and what explains what reads otherwise.</p></section>
<p class="kept script" hidden><span id="count"></span> <a href="#record">Record</a></p>"""
