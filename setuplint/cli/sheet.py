"""`setuplint sheet`: what to enter at the transmitter, in a safe order, with a place to read each number back."""

from __future__ import annotations

import argparse
from datetime import date

from setuplint.cli import Trouble, complain, single
from setuplint.formats.sheet import Sheet, changed, sheet
from setuplint.formats.sheet_written import as_html, as_json, as_markdown
from setuplint.formats.text import counted
from setuplint.library import Setup

ENDINGS = {".html": "html", ".htm": "html", ".md": "markdown", ".json": "json"}


def run(args: argparse.Namespace) -> int:
    setup = _readable(args.file)
    made = _sheet(setup, args)
    if args.since is not None:
        made = changed(made, _sheet(_readable(args.since), args))
    form = args.format or next((form for end, form in ENDINGS.items() if (args.out or "").endswith(end)), "markdown")
    text = as_html(made, setup.model) if form == "html" else as_json(made) if form == "json" else as_markdown(made)
    single.write(args.out, text)
    return 0


def _readable(path: str) -> Setup:
    """The set-up; Trouble where something of it cannot be read: a sheet with holes is no sheet."""
    setup = single.load(path)
    wrong = len(setup.problems) + sum(len(document.problems) for document in setup.texts)
    if not setup.document.values or wrong:
        complain(f"{setup.document.name}: {counted(wrong, 'mistake')} in the file: see lint")
        raise Trouble("nothing was written")
    return setup


def _sheet(setup: Setup, args: argparse.Namespace) -> Sheet:
    return sheet(setup.model, setup.document.name, str(args.today or date.today()))
