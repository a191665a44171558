"""Papers to print, each in HTML, in Markdown and in JSON."""

from __future__ import annotations

import json
from collections.abc import Sequence

from setuplint.formats.document import Block, Division, Facts, Heading, Paper, Paragraph, Phrase
from setuplint.formats.document_markdown import document_markdown
from setuplint.formats.markdown_text import escaped
from setuplint.pages.document_html import document_html
from setuplint.pages.html import html_page, tag


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
