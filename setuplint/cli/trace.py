"""`setuplint trace`: what every channel puts out in one state, or step by step from power-up, and what decides it."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from typing import NamedTuple

from setuplint.cli import Trouble, complain, files, states
from setuplint.cli.terminal import look
from setuplint.decide.evaluate import Evaluation, evaluate, output, truth
from setuplint.decide.state import OFF, Memory, State
from setuplint.formats.bench import moves
from setuplint.formats.controls import Controls, with_unit
from setuplint.formats.look import FIXED_SPACE, Look, plain, width, wrap
from setuplint.formats.numbers import motor, percent
from setuplint.formats.text import counted
from setuplint.setup import Setup, load
from setuplint.setup.formulas import PREDICATES, Predicate
from setuplint.source import Document, Path

SMOOTHINGS = ("monotone", "cardinal", "natural")
NOT_KNOWN = "not known"


class Row(NamedTuple):
    """One channel: its name, what it gives, and what decides it."""

    channel: str
    gives: str
    decided: str


class Traced(NamedTuple):
    """A file, and a state that it is traced in."""

    document: Document
    setup: Setup
    state: State
    before: Memory


def run(args: argparse.Namespace) -> int:
    document, setup = _load(args.file)
    given = [states.parse(setup, args.set), *(states.parse(setup, [text]) for text in args.then)]
    sys.stdout.write("\n".join(_lines(document, setup, given, look())) + "\n")
    return 0


def _load(path: str) -> tuple[Document, Setup]:
    candidate = files.Candidate("stdin" if path == "-" else files.printable(path), "" if path == "-" else path, True)
    try:
        data = files.read(candidate)
    except OSError as error:
        raise Trouble(files.cannot_read(candidate.name, error)) from None
    if len(data) > files.LARGEST:
        raise Trouble(f"{candidate.name} has more than {files.LARGEST:,} bytes: it is no setup")
    document, setup, problems = load(data, candidate.name)
    wrong = len(document.problems) + len(problems)
    if wrong:
        complain(
            f"{candidate.name}: {counted(wrong, 'mistake')} in the file, what rests on them is not known: see lint"
        )
    return document, setup


def _lines(document: Document, setup: Setup, given: list[states.Given], look: Look) -> Iterator[str]:
    controls = Controls(document.values)
    state = states.first(setup, given[0], heard=len(given) == 1)
    memory: Memory = OFF
    for number, moved in enumerate(given):
        if number:
            state = states.after(setup, state, moved)
            yield ""
        words = {name: where if isinstance(where, str) else float(where) for name, where in moved.items()}
        if len(given) > 1:
            yield from wrap(f"{number + 1}. {moves(words, controls, first=number == 0)}", look.width, "", "   ")
        traced = Traced(document, setup, state, memory)
        seen = evaluate(setup, state, memory)
        yield from wrap(_standing(setup, state), look.width, "", "   ")
        yield ""
        yield from _table(list(_rows(traced, seen)), look)
        yield ""
        yield from _facts(traced, seen, look, powered_up=number == 0 and len(given) > 1)
        memory = seen.memory


def _standing(setup: Setup, state: State) -> str:
    """Every control and reading as it stands."""
    sticks = (f"{name} {percent(where)}" for name, where in state.sticks.items())
    switches = (f"{name} {where}" for name, where in state.positions.items())
    readings = (
        f"{name} {where if isinstance(where, str) else with_unit(setup.sensors[name].reads, where)}"
        for name, where in state.readings.items()
    )
    return ", ".join(map(plain, (*switches, *sticks, *readings)))


def _rows(traced: Traced, seen: Evaluation) -> Iterator[Row]:
    document, setup = traced.document, traced.setup
    for name, channel in setup.channels.items():
        tied = seen.tied.get(name, ())
        if tied:
            gives = [_gives(traced, name, _overridden(setup, override)) for override in tied]
            words = " or ".join(f"{plain(each)} ({_line(document, ('overrides', each))})" for each in tied)
            yield Row(name, " or ".join(dict.fromkeys(gives)), f"a tie: {words}")
            continue
        override = seen.deciders[name]
        if override is not None:
            where = ("overrides", override)
            yield Row(name, _gives(traced, name, seen.outputs[name]), f"{plain(override)} ({_line(document, where)})")
        elif not channel.described:
            yield Row(name, NOT_KNOWN, "not described")
        else:
            yield Row(name, _smoothed(traced, name, seen), _own_line(document, seen, name))


def _overridden(setup: Setup, override: str) -> Fraction | None:
    decided = setup.overrides[override]
    return None if decided.value is None else output(setup.channels[decided.channel], decided.value)


def _gives(traced: Traced, channel: str, value: Fraction | None) -> str:
    if value is None:
        return NOT_KNOWN
    is_motor = traced.setup.channels[channel].drives == "motor"
    values = traced.document.values
    return motor(values, value) if is_motor else percent(value)


def _smoothed(traced: Traced, channel: str, seen: Evaluation) -> str:
    """The output; under each kind of smoothing where that is not known and matters."""
    unknown = [curve.name for curve in traced.setup.curves.values() if curve.smoothing == "unknown"]
    if not unknown:
        return _gives(traced, channel, seen.outputs[channel])
    given = {}
    for kind in SMOOTHINGS:
        state = replace(traced.state, smoothing=dict.fromkeys(unknown, kind))
        given[kind] = _gives(traced, channel, evaluate(traced.setup, state, traced.before).outputs[channel])
    if len(set(given.values())) == 1:
        return given[SMOOTHINGS[0]]
    return " or ".join(f"{value} [{kind}]" for kind, value in given.items())


def _own_line(document: Document, seen: Evaluation, channel: str) -> str:
    if not seen.mode_known:
        return "its own line; the mode is not known"
    path: Path = ("channels", channel)
    if seen.mode is not None and document.key_span((*path, "in", seen.mode)) is not None:
        return f"in.{plain(seen.mode)} ({_line(document, (*path, 'in', seen.mode))})"
    return f"its own line ({_line(document, path)})"


def _line(document: Document, path: Path) -> str:
    return f"line {document.position(document.span(path).start)[0]}"


def _table(rows: list[Row], look: Look) -> Iterator[str]:
    heads = [Row("channel", "gives", "decided by"), *rows]
    left = max(width(plain(row.channel)) for row in heads)
    middle = min(max(width(row.gives) for row in heads), max(20, look.width - left - 6 - 24))
    for row in heads:
        name = plain(row.channel)
        gives = list(wrap(row.gives, middle))
        decided = list(wrap(row.decided, max(20, look.width - left - middle - 6)))
        for at in range(max(len(gives), len(decided))):
            shown = gives[at] if at < len(gives) else ""
            by = decided[at] if at < len(decided) else ""
            first = name if at == 0 else ""
            line = f"  {first}{' ' * (left - width(first))}  {shown}{' ' * (middle - width(shown))}  {by}"
            yield line.rstrip().replace(FIXED_SPACE, " ")


def _facts(traced: Traced, seen: Evaluation, look: Look, *, powered_up: bool) -> Iterator[str]:
    setup, state = traced.setup, traced.state
    mode = ("none holds" if setup.modes else "the file has none") if seen.mode is None else plain(seen.mode)
    yield f"  mode:        {mode if seen.mode_known else NOT_KNOWN}"
    conditions = {name: value for name, value in seen.conditions.items() if value is not False}
    alarms = {
        alarm.name: value
        for alarm in setup.alarms.values()
        if alarm.audible and (value := truth(setup, alarm.when, state, seen)) is not False
    }
    predicates = {name: truth(setup, Predicate(name), state, seen) for name in PREDICATES}
    stated = {name: value for name, value in predicates.items() if value is not False}
    for label, found in (("conditions", conditions), ("alarms", alarms), ("state", stated)):
        words = [name.replace(" ", FIXED_SPACE) + ("" if value else "?") for name, value in found.items()]
        yield from wrap(", ".join(words) or "none", look.width, f"  {label}:".ljust(15), " " * 15)
    if any(value is None for value in (*conditions.values(), *alarms.values(), *stated.values())):
        yield "  (with a question mark: not known, because something it rests on is not given)"
    if powered_up and predicates["start allowed"] is not True:
        yield "  The start check does not let the transmitter start like this."
