"""`setuplint bench-card`: what to check on the bench, step by step, with the output that each channel must show."""

from __future__ import annotations

import argparse
from datetime import date

from setuplint.bench.stages import bench_card
from setuplint.cli import single
from setuplint.pages.card_paper import card_paper
from setuplint.pages.card_text import card_text
from setuplint.pages.papers import paper_text


def run(args: argparse.Namespace) -> int:
    form = single.form(args.out, args.format)
    today = args.today or date.today()
    given = single.readable_input(args.file)
    setup = given.setup
    card = bench_card(setup.model)
    text = card_text(card, setup.texts.values, setup.document.name, str(today), single.warning(given, today, "card"))
    single.write(args.out, paper_text(card_paper(text, card), form))
    return 0
