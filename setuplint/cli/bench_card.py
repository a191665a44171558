"""`setuplint bench-card`: what to check on the bench, step by step, with the output that each channel must show."""

from __future__ import annotations

import argparse
from datetime import date

from setuplint.bench.stages import card
from setuplint.cli import single_setup
from setuplint.pages.card import written
from setuplint.pages.card_written import as_html, as_json, as_markdown


def run(args: argparse.Namespace) -> int:
    form = single_setup.page_form(args.out, args.format)
    today = args.today or date.today()
    given = single_setup.readable_setup(args.file)
    setup = given.setup
    made = card(setup.model)
    warning = single_setup.hazard_warning(given, today, "card")
    told = written(made, setup.texts.values, setup.document.name, str(today), warning)
    text = as_html(told) if form == "html" else as_json(told, made) if form == "json" else as_markdown(told)
    single_setup.write_page(args.out, text)
    return 0
