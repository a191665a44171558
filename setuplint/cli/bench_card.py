"""`setuplint bench-card`: what to check on the bench, step by step, with the output that each channel must show."""

from __future__ import annotations

import argparse
import os
from datetime import date

from setuplint import library
from setuplint.bench.since import card_since
from setuplint.bench.stages import bench_card
from setuplint.budget import OutOfBudget, after, for_one_of_two
from setuplint.cli import files, single_setup
from setuplint.cli.revisions import Tree, sides
from setuplint.cli.trouble import Trouble, complain
from setuplint.club.git_files import REGULAR, GitError
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
    try:
        card = bench_card(setup.model, spent)
    except OutOfBudget as end:  # before its first box
        raise Trouble(f"{setup.document.name}: too large for a bench card: {end}") from None
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


def older_setup(old: str, file: str) -> library.Setup:
    """The set-up in the file `old`; where there is none of that name, `file` as it was in that revision, which is taken as
    `compare --since` does. Trouble where it is neither, or cannot be read."""
    if old in ("", "-") or os.path.lexists(old):
        return single_setup.readable_setup(old).setup
    if file == "-":
        raise Trouble(f"there is no file {files.printable(old)}, and standard input is in no revision")
    try:
        tree = Tree(sides(old))
    except (Trouble, GitError) as error:
        raise Trouble(f"there is no file {files.printable(old)}, and as a revision: {error}") from None
    entry = tree.old.entries.get(tree.name(file))
    if entry is None or entry.mode not in REGULAR:
        raise Trouble(f"there was no {files.printable(file)} in {tree.old.revision}")
    beside = tree.beside(tree.old, file)
    setup = library.load_text(tree.content(entry.name), beside.called, beside)
    wrong = single_setup.mistake_count(setup)
    if wrong or not setup.document.values:
        raise Trouble(f"{beside.called}: {counted(wrong, 'mistake')} in it, so nothing was written")
    return setup
