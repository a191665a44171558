"""`setuplint new`: a safe starting setup from options, and what a lint says of it."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from setuplint import library
from setuplint.cli import files, whole_files
from setuplint.cli.console import flush_out, stdout_look, write_error, write_out
from setuplint.cli.starting_setup import setup_text
from setuplint.cli.trouble import Trouble, complain
from setuplint.cli.wishes import Wishes, wishes
from setuplint.dataclass import replace
from setuplint.findings import Report
from setuplint.formats.reports import text as text_form
from setuplint.formats.summary import summary_of

LATE = "voltage-alarm-late"
NOT_KNOWN = ("command", "file", "ask")  # what is given besides what is known of the craft


def run(args: argparse.Namespace) -> int:
    if not args.file:
        raise Trouble(files.NO_PATH)
    printed = args.file == "-"
    text, report = checked_text(_asked(args), "stdout" if printed else files.printable(args.file))
    summary = summary_of(report)
    words = text_form.section(report, stdout_look()) + text_form.closing(summary, stdout_look())
    if printed:
        write_out(text)
        flush_out()
        write_error(words)
    else:
        _write(args.file, text)
        name = files.printable(args.file)
        after = f"Next: setuplint sheet {name} (what to enter), then setuplint bench-card {name} (what to check).\n"
        write_out(f"Written: {name}\n\n{words}{after}")
    return summary.status


def _asked(args: argparse.Namespace) -> Wishes:
    """What options say, and what is answered where they do not. Trouble where that is too little, or contradicts itself."""
    known = {option: value for option, value in vars(args).items() if option not in NOT_KNOWN}
    if args.ask or ("rotor" not in known and sys.stdin.isatty()):
        from setuplint.cli.questions import answered

        if args.file != "-" and os.path.lexists(args.file):
            raise Trouble(_exists(args.file))
        known = answered(known, Path(args.file).parent, _check)
    if "rotor" not in known:
        raise Trouble("--rotor collective or --rotor fixed is needed; --ask asks for that and all else")
    return wishes(known)


def _check(known: Mapping[str, Any]) -> None:
    """Trouble where a setup cannot be made of it."""
    _text(wishes(known))


def checked_text(asked: Wishes, name: str) -> tuple[str, Report]:
    """The text, and what a lint says of it. The pack's alarm is set higher where the lint finds that it would leave too
    little time to land, and nothing else comes of it."""
    text = _text(asked)
    report = library.lint_text(text, name=name)
    for finding in report.findings:
        if finding.rule == LATE and finding.edit is not None:
            earlier = _text(replace(asked, land_below=str(finding.edit.value).rpartition(" ")[2].strip('"')))
            better = library.lint_text(earlier, name=name)
            if len(better.findings) < len(report.findings):
                return earlier, better
    return text, report


def _text(asked: Wishes) -> str:
    try:
        return setup_text(asked)
    except ValueError as error:
        raise Trouble(f"--soften {asked.soften}: {error}") from None


def _exists(path: str) -> str:
    return f"{path} exists already: nothing is overwritten"


def _write(path: str, text: str) -> None:
    try:
        whole_files.create(path, text.encode())
    except FileExistsError:
        raise Trouble(_exists(path)) from None
    except OSError as error:
        complain(f"cannot write {path}: {error.strerror or error}")
        raise Trouble("nothing was written") from None
