"""`setuplint bench-card`: what to check on the bench, step by step, with the output that each channel must show."""

from __future__ import annotations

import argparse
from datetime import date

from setuplint.bench.since import card_since
from setuplint.bench.stages import bench_card
from setuplint.budget import after, for_one_of_two
from setuplint.cli import single_setup
from setuplint.cli.older import older_setup
from setuplint.cli.trouble import complain
from setuplint.formats.numbers import counted
from setuplint.notes.handling import handling_notes
from setuplint.pages.card_paper import card_paper
from setuplint.pages.card_text import card_text
from setuplint.pages.papers import hazard_warning, paper_text


def run(args: argparse.Namespace) -> int:
    form = single_setup.page_form(args.out, args.format)
    today = args.today or date.today()
    given = single_setup.readable_setup(args.file)
    setup = given.setup
    report = single_setup.linted(given, today, for_one_of_two())
    spent = after(report.work)
    card = bench_card(setup.model, spent)
    undecided = sum(each.undecided for each in card.left)
    if undecided:
        left = counted(undecided, "thing")
        complain(
            f"{setup.document.name}: the card leaves out {left} that could not be decided: its end says what and why"
        )
    warning = hazard_warning(report, "card")
    since, old = None, ""
    if args.since is not None:
        before = older_setup(args.since, args.file)
        since, old = card_since(card, bench_card(before.model)), before.document.name
        card = since.card
    notes = handling_notes(setup.model, setup.texts.values, after(spent.work)) if since is None else ()
    text = card_text(
        card, setup.texts.values, setup.document.name, str(today), warning, report, notes, since=since, old=old
    )
    single_setup.write_page(args.out, paper_text(card_paper(text, card), form))
    return 0
