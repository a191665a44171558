"""`setuplint sheet`: what to enter at the transmitter, in a safe order, with a place to read each number back."""

from __future__ import annotations

import argparse
from dataclasses import replace
from datetime import date

from setuplint.cli import single_setup
from setuplint.library import Setup
from setuplint.pages.sheet import Sheet, changed, sheet
from setuplint.pages.sheet_written import as_html, as_json, as_markdown


def run(args: argparse.Namespace) -> int:
    form = single_setup.page_form(args.out, args.format)
    today = args.today or date.today()
    given = single_setup.readable_setup(args.file)
    made = _sheet(given.setup, today)
    if args.since is not None:
        made = changed(made, _sheet(single_setup.readable_setup(args.since).setup, today))
    made = replace(made, warning=single_setup.hazard_warning(given, today, "sheet"))
    model = given.setup.model
    text = as_html(made, model) if form == "html" else as_json(made) if form == "json" else as_markdown(made)
    single_setup.write_page(args.out, text)
    return 0


def _sheet(setup: Setup, today: date) -> Sheet:
    return sheet(setup.model, setup.document.name, str(today))
