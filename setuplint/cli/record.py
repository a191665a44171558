"""`setuplint record`: a record held against its setup; with --write the measured numbers go into the file."""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterable, Sequence
from datetime import date

from setuplint import library
from setuplint.book.record_file import BenchRecord, RecordError, read_record
from setuplint.cli import files, single_setup
from setuplint.cli.console import stdout_look, write_out
from setuplint.cli.trouble import Trouble
from setuplint.formats.remedies import diff
from setuplint.formats.terminal import plain, wrap
from setuplint.pages.papers import paper_text
from setuplint.pages.sheet import changed_sheet, sheet_paper, whole_sheet
from setuplint.records.checked import is_to_come
from setuplint.records.measured import MeasuredNumber, MeasureError, measured_numbers, with_numbers
from setuplint.records.record_text import record_lines, record_values
from setuplint.setup.fingerprint import fingerprint
from setuplint.setup.model import Setup as Model
from setuplint.setup.problems import capitalised
from setuplint.source import Document


def run(args: argparse.Namespace) -> int:
    """0: it proves something, and all in it is as the setup says; 1: something differs, or it is of another setup."""
    if args.write and args.file == "-":
        raise Trouble("standard input cannot be written to")
    given = single_setup.readable_setup(args.file)
    record = _record(args.record)
    check = library.check_record(given.setup, record)
    numbers = measured_numbers(record, given.setup.model)
    look = stdout_look()
    if args.format == "json":
        if args.write:
            raise Trouble("--write prints what it does as text: leave --format json out")
        write_out(json.dumps(record_values(check, numbers), indent=1) + "\n")
    else:
        _say(record_lines(check, numbers, given.setup.model.craft, look.width))
        _write_numbers(args, given, record, numbers)
    to_come = is_to_come(record, args.today or date.today())
    if to_come and args.format == "text":
        _say(["Its day is to come: it proves nothing until then."])
    return 0 if check.holds and not to_come else 1


def _record(path: str) -> BenchRecord:
    found = single_setup.candidate(path)
    try:
        return read_record(files.content(found), found.name)
    except OSError as error:
        raise Trouble(files.cannot_read(found.name, error)) from None
    except RecordError as error:
        raise Trouble(str(error)) from None


def _write_numbers(
    args: argparse.Namespace, given: single_setup.ReadableSetup, record: BenchRecord, numbers: Sequence[MeasuredNumber]
) -> None:
    """Writes the numbers that are new, all or none; without --write it says that there are some."""
    new = tuple(each for each in numbers if each.was != each.now)
    model, document = given.setup.model, given.setup.document
    if not new:
        if args.write:
            _say(["There is nothing to write: the file has every number that was measured."])
        return
    if not args.write:
        _say(["To put what was measured into the file: --write."])
        return
    if record.fingerprint != fingerprint(model) or record.craft != model.craft.name:
        raise Trouble(f"nothing was written: the record is not of {document.name} as it is")

    def load(text: str) -> tuple[Document, Model, str]:
        setup = library.load_text(text, document.name, given.beside)
        wrong = [fault.message for each in setup.texts for fault in each.problems] + [p.message for p in setup.problems]
        return setup.document, setup.model, wrong[0] if wrong else ""

    try:
        after, notes = with_numbers(document, model, new, load)
    except MeasureError as error:
        raise Trouble(f"nothing was written: {error}") from None
    single_setup.write_back(args.file, given, after)
    _say_what_follows(args, document, model, after, load(after)[1], notes)


def _say_what_follows(
    args: argparse.Namespace, document: Document, old: Model, text: str, new: Model, notes: Sequence[str]
) -> None:
    """What was written, what of the sheet changes, and what follows from that."""
    look, day = stdout_look(), str(args.today or date.today())
    lines = [f"Written: {document.name}", *diff(document.text, text, document.name).split("\n")]
    for note in notes:
        lines += wrap(f"{capitalised(note)}.", look.width)
    changed = changed_sheet(whole_sheet(new, document.name, day), whole_sheet(old, document.name, day))
    if changed.tables:
        lines += ["", *paper_text(sheet_paper(changed, new), "markdown").split("\n")]
    if fingerprint(new) != fingerprint(old):
        words = (
            f"The fingerprint is {fingerprint(new)} now: enter these lines, prove them by a new card, and record again."
        )
        lines += wrap(words, look.width)
    else:
        lines += wrap(
            "Nothing changes at the transmitter. Lint the file again: rules rest on these numbers.", look.width
        )
    _say(lines)


def _say(lines: Iterable[str]) -> None:
    """Records come from strangers: nothing in one drives a terminal."""
    write_out("".join(f"{plain(line)}\n" for line in lines))
