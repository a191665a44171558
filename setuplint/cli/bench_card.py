"""`setuplint bench-card`: what to check on the bench, step by step, with the output that each channel must show."""

from __future__ import annotations

import argparse
from datetime import date

from setuplint.bench.stages import bench_card
from setuplint.cli import single
from setuplint.pages.card import written
from setuplint.pages.card_written import as_html, as_json, as_markdown


def run(args: argparse.Namespace) -> int:
    form = single.form(args.out, args.format)
    today = args.today or date.today()
    given = single.whole(args.file)
    setup = given.setup
    made = bench_card(setup.model)
    warning = single.warning(given, today, "card")
    told = written(made, setup.texts.values, setup.document.name, str(today), warning)
    text = as_html(told) if form == "html" else as_json(told, made) if form == "json" else as_markdown(told)
    single.write(args.out, text)
    return 0
