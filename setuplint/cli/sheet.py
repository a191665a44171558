"""`setuplint sheet`: what to enter at the transmitter, in a safe order, with a place to read each number back."""

from __future__ import annotations

import argparse
from datetime import date

from setuplint.cli import single_setup
from setuplint.dataclass import replace
from setuplint.library import Setup
from setuplint.pages.papers import hazard_warning, paper_text
from setuplint.pages.sheet import Sheet, changed_sheet, sheet_paper, whole_sheet


def run(args: argparse.Namespace) -> int:
    form = single_setup.page_form(args.out, args.format)
    today = args.today or date.today()
    given = single_setup.readable_setup(args.file)
    made = _sheet(given.setup, today)
    if args.since is not None:
        made = changed_sheet(made, _sheet(single_setup.readable_setup(args.since).setup, today))
    made = replace(made, warning=hazard_warning(single_setup.linted(given, today), "sheet"))
    single_setup.write_page(args.out, paper_text(sheet_paper(made, given.setup.model), form))
    return 0


def _sheet(setup: Setup, today: date) -> Sheet:
    return whole_sheet(setup.model, setup.document.name, str(today))
