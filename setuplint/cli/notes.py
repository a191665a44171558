"""`setuplint notes`: what is good to know about a craft, each sentence decided."""

from __future__ import annotations

import argparse
import os
from datetime import date

from setuplint.cli import single_setup
from setuplint.cli.console import stdout_look
from setuplint.cli.options import PAPERS
from setuplint.pages.notes_paper import notes_page, notes_paper, notes_text
from setuplint.pages.papers import paper_text
from setuplint.setup.fingerprint import fingerprint


def run(args: argparse.Namespace) -> int:
    ending = os.path.splitext(args.out or "")[1].lower()
    text_asked = args.format == "text" or (args.format is None and ending not in PAPERS)
    form = "text" if text_asked else single_setup.page_form(args.out, args.format)
    setup = single_setup.readable_setup(args.file).setup
    notes = setup.notes()
    if form == "text":
        single_setup.write_page(args.out, notes_text(notes, setup.name, stdout_look()))
        return 0
    facts = (setup.document.name, str(args.today or date.today()), f"fingerprint {fingerprint(setup.model)}")
    paper = notes_paper(notes, setup.name, facts)
    single_setup.write_page(args.out, notes_page(paper) if form == "html" else paper_text(paper, form))
    return 0
