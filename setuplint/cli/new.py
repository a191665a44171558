"""`setuplint new`: a safe starting setup from options, and what a lint says of it."""

from __future__ import annotations

import argparse
import os
import sys
from dataclasses import replace

from setuplint import library
from setuplint.cli import files, whole_files
from setuplint.cli.console import flush_out, stdout_look, write_error, write_out
from setuplint.cli.starting import Wishes, setup_text
from setuplint.cli.trouble import Trouble, complain
from setuplint.findings import Report
from setuplint.formats.reports import text as text_form
from setuplint.formats.summary import summary_of

LATE = "voltage-alarm-late"
DEFAULTS = {
    "hold_switch": "hold",
    "rescue_switch": "save",
    "flight_switch": "flight",
    "pack_sensor": False,
    "link_sensor": False,
    "without_rescue": False,
    "number": [],
}


def run(args: argparse.Namespace) -> int:
    if args.ask or (args.rotor is None and sys.stdin.isatty()):
        from setuplint.cli.questions import ask

        if args.file != "-" and os.path.lexists(args.file):
            raise Trouble(f"{args.file} exists already: nothing is overwritten")
        ask(
            args,
            {option for option, value in vars(args).items() if value is not None and value != DEFAULTS.get(option)},
            lambda args: _text(_wishes(args)),
        )
    if args.rotor is None:
        raise Trouble("--rotor collective or --rotor fixed is needed; --ask asks for that and all else")
    if not args.file:
        raise Trouble(files.NO_PATH)
    printed = args.file == "-"
    text, report = made(_wishes(args), "stdout" if printed else files.printable(args.file))
    words = text_form.section(report, stdout_look()) + text_form.closing(summary_of(report), stdout_look())
    if printed:
        write_out(text)
        flush_out()
        write_error(words)
    else:
        _write(args.file, text)
        name = files.printable(args.file)
        after = f"Next: setuplint sheet {name} (what to enter), then setuplint bench-card {name} (what to check).\n"
        write_out(f"Written: {name}\n\n{words}{after}")
    return summary_of(report).status


def made(wishes: Wishes, name: str) -> tuple[str, Report]:
    """The text, and what a lint says of it. The pack's alarm is set higher where the lint finds that it would leave too
    little time to land, and nothing else comes of it."""
    text = _text(wishes)
    report = library.lint_text(text, name=name)
    for finding in report.findings:
        if finding.rule == LATE and finding.edit is not None:
            earlier = _text(replace(wishes, land_below=str(finding.edit.value).rpartition(" ")[2].strip('"')))
            better = library.lint_text(earlier, name=name)
            if len(better.findings) < len(report.findings):
                return earlier, better
    return text, report


def _text(wishes: Wishes) -> str:
    try:
        return setup_text(wishes)
    except ValueError as error:
        raise Trouble(f"--soften {wishes.soften}: {error}") from None


def _wishes(args: argparse.Namespace) -> Wishes:
    wishes = {key: value for key, value in vars(args).items() if key not in ("command", "file", "number", "ask")}
    numbers = dict(args.number)
    if len(set(numbers.values())) < len(args.number):
        raise Trouble("--number gives two channels one place, or one channel two")
    if args.rotor == "fixed":
        for option in ("hover_collective", "rescue_pitch", "lift", "idle_up"):
            if wishes[option] is not None:
                raise Trouble(f"--{option.replace('_', '-')} is for a collective rotor")
    if args.without_rescue:
        for option in ("level", "rescue_power", "lift", "rescue_pitch"):
            if wishes[option] is not None:
                raise Trouble(f"--{option.replace('_', '-')} is for a rescue: leave out --without-rescue")
    if args.soften is not None:
        if args.hover_throttle is None and args.hover_collective is None:
            raise Trouble("--soften needs --hover-throttle, or --hover-collective: it is the slope there")
        if args.throttle_trim is not None and float(args.throttle_trim) >= 50 and args.hover_throttle is not None:
            raise Trouble("--soften leaves a throttle trim less than 50 of the stick")
    if args.lift and args.rescue_pitch is not None:
        raise Trouble("--lift unit and --rescue-pitch exclude each other: one of the two moves the collective")
    if args.pack_sensor and not (args.cells and args.chemistry):
        raise Trouble("--pack-sensor needs --cells and --chemistry: its alarm is worked out from them")
    if None not in (args.motor_off, args.hover_throttle) and float(args.hover_throttle) <= float(args.motor_off):
        raise Trouble(
            f"--hover-throttle {args.hover_throttle} is not above --motor-off {args.motor_off}: it would be stopped"
        )
    used = [args.hold_switch, *([] if args.without_rescue else [args.rescue_switch])]
    used += [] if args.idle_up is None else [args.flight_switch]
    if len(set(used)) < len(used):
        raise Trouble(f"hold, rescue and flight each need a switch of their own, not {', '.join(used)}")
    return Wishes(**wishes, numbers=numbers)


def _write(path: str, text: str) -> None:
    try:
        whole_files.create(path, text.encode())
    except FileExistsError:
        raise Trouble(f"{path} exists already: nothing is overwritten") from None
    except OSError as error:
        complain(f"cannot write {path}: {error.strerror or error}")
        raise Trouble("nothing was written") from None
