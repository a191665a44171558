"""`setuplint new`: a safe starting setup from an interview or from options, and what a lint says of it."""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path

from setuplint import library
from setuplint.cli import files, single_setup, whole_files
from setuplint.cli.console import expect_document, flush_out, stdout_look, write_error, write_out
from setuplint.cli.new_options import option_name, option_replies
from setuplint.cli.trouble import Trouble, complain
from setuplint.formats.reports import text as text_form
from setuplint.formats.summary import summary_of
from setuplint.formats.terminal import wrap
from setuplint.interview.course import course, setup_text
from setuplint.interview.data import interview

CLAIMED = "Its claims say which way the sticks move the craft: only you know that. Try it, and turn a wrong sign round."


def run(args: argparse.Namespace) -> int:
    if not args.file:
        raise Trouble(files.NO_PATH)
    given = option_replies(args)
    ways = [args.page, args.readings_page, args.from_readings is not None, args.ask]
    if sum(ways) > 1 or (given and (args.readings_page or args.from_readings is not None)):
        raise Trouble("--ask, --page, --readings-page, --from-readings: one of them; with readings no other option")
    if args.page:
        return _page(args.file, given)
    if args.readings_page:
        from setuplint.pages.interview_page import readings_page

        return _written_page(args.file, readings_page(), "on it a transmitter is read, and it saves what was read")
    if args.from_readings is not None:
        from setuplint.cli.from_readings import setup_from_readings

        return _written_setup(args.file, *setup_from_readings(args.from_readings))
    if not (args.ask or ("rotor" not in given and sys.stdin.isatty())):
        return _written(args.file, given)
    from setuplint.cli.asking import TerminalInterview

    if args.file != "-" and os.path.lexists(args.file):
        raise Trouble(_exists(args.file))
    if args.file != "-" and not os.path.isdir(os.path.dirname(args.file) or os.curdir):
        raise Trouble(f"cannot write {args.file}: there is no such folder, and it is better said before the questions")
    asking = TerminalInterview(args.file, given)
    status = _written(args.file, asking.replies())
    asking.draft.remove()
    return status


def _page(file: str, given: dict[str, str]) -> int:
    """Writes the page, with what the options say filled in."""
    from setuplint.cli.radio_habits import suggested_switches
    from setuplint.pages.interview_page import interview_page

    page = interview_page(given, suggested_switches(Path(file).parent, given.get("radio", "")))
    return _written_page(file, page, "it asks, and writes the setup")


def _written_page(file: str, page: str, does: str) -> int:
    single_setup.write_page(None if file == "-" else file, page)
    if file != "-":
        write_out(f"Written: {files.printable(file)}. Open it in a browser: {does}.\n")
    return 0


def _written(file: str, replies: dict[str, str]) -> int:
    return _written_setup(file, text_of(replies))


def _written_setup(file: str, text: str, note: str = "") -> int:
    """Writes a setup, and says what a lint says of it; the status is the lint's."""
    printed = file == "-"
    report = library.lint_text(text, name="stdout" if printed else files.printable(file))
    words = text_form.report_text(report, stdout_look())
    if printed:
        expect_document()
        write_out(text)
        flush_out()
        write_error(note + words)
    else:
        _write(file, text)
        name = files.printable(file)
        after = [CLAIMED] if "[[claims]]" in text else []
        after += [f"Next: setuplint sheet {name} (what to enter), then setuplint bench-card {name} (what to check)."]
        lines = [line for each in after for line in wrap(each, stdout_look().width)]
        write_out(f"Written: {name}\n\n{note}{words}" + "".join(f"{line}\n" for line in lines))
    return summary_of(report).status


def text_of(replies: dict[str, str]) -> str:
    """The setup that replies make, by the keys of their questions; what is not replied to is as by default. Trouble where they
    do not go together."""
    if "rotor" not in replies:
        raise Trouble("--rotor collective or --rotor fixed is needed; --ask asks for that and all else")
    found = course(replies, asking=False)
    for step in found.steps:
        if step.complaint:
            raise Trouble(f"{option_name(step.question.key)} {step.reply or ''}: {step.complaint}")
    only = {question.key: question.only for question in interview().questions}
    for key in replies:
        if key not in found.asked:
            word, _, item = key.partition(" ")
            why = f"it is for {only[word]}{f', and {item} is none' if item else ''}"
            raise Trouble(f"{option_name(word)} does not go with the rest: {why}")
    return setup_text(found)


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
