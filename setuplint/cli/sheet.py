"""`setuplint sheet`: what to enter at the transmitter, in a safe order, with a place to read each number back."""

from __future__ import annotations

import argparse
from dataclasses import replace
from datetime import date

from setuplint.cli import single
from setuplint.library import Setup
from setuplint.pages.sheet import Sheet, changed, sheet
from setuplint.pages.sheet_written import as_html, as_json, as_markdown


def run(args: argparse.Namespace) -> int:
    form = single.form(args.out, args.format)
    today = args.today or date.today()
    given = single.whole(args.file)
    made = _sheet(given.setup, today)
    if args.since is not None:
        made = changed(made, _sheet(single.whole(args.since).setup, today))
    made = replace(made, warning=single.warning(given, today, "sheet"))
    model = given.setup.model
    text = as_html(made, model) if form == "html" else as_json(made) if form == "json" else as_markdown(made)
    single.write(args.out, text)
    return 0


def _sheet(setup: Setup, today: date) -> Sheet:
    return sheet(setup.model, setup.document.name, str(today))
