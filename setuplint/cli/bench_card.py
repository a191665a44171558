"""`setuplint bench-card`: what to check on the bench, step by step, with the output that each channel must show."""

from __future__ import annotations

import argparse
from datetime import date

from setuplint import library
from setuplint.bench.stages import card
from setuplint.cli import Trouble, complain, files, single
from setuplint.findings import SIGNALS, Report
from setuplint.formats.card import written
from setuplint.formats.card_written import as_html, as_json, as_markdown
from setuplint.formats.text import counted

ENDINGS = {".html": "html", ".htm": "html", ".md": "markdown", ".json": "json"}


def run(args: argparse.Namespace) -> int:
    name, data = single.read(args.file)
    beside = files.beside(single.named(args.file))
    setup = library.load_text(data, name, beside)
    wrong = len(setup.problems) + sum(len(document.problems) for document in setup.texts)
    if not setup.document.values or wrong:
        complain(f"{name}: {counted(wrong, 'mistake')} in the file: see lint")
        raise Trouble("nothing was written")
    today = args.today or date.today()
    report = library.lint_text(data, name, today=today, beside=beside)
    made = card(setup.model)
    told = written(made, setup.texts.values, name, str(today), warning(report))
    form = args.format or next((form for end, form in ENDINGS.items() if (args.out or "").endswith(end)), "markdown")
    text = as_html(told) if form == "html" else as_json(told, made) if form == "json" else as_markdown(told)
    single.write(args.out, text)
    return 0


def warning(report: Report) -> str:
    """What lint finds of hazards: the card shows what the file says, and that is then no good thing to show."""
    grave = [signal for signal in SIGNALS if signal != "notice"]
    counts = {signal: sum(finding.signal == signal for finding in report.findings) for signal in grave}
    found = " and ".join(counted(number, signal) for signal, number in counts.items() if number)
    return (
        f"Lint finds {found} in this file. Mend it first: a card shows what the file says, hazards too."
        if found
        else ""
    )
