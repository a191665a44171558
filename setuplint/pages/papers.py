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
from setuplint.pages.html import html_page, tag

MOST_NAMED = 5  # dangers on top of a paper


def paper_text(paper: Paper, form: str) -> str:
    """The paper as `html`, `markdown` or `json`."""
    if form == "json":
        return json.dumps(paper.values, indent=1) + "\n"
    if form == "markdown":
        return document_markdown(paper.blocks, paper.escape or escaped)
    return html_page(paper.title, tag("main", document_html(paper.blocks)), styles=paper.styles)


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
