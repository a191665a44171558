"""Try it here: what the channels put out in the state that a mode, an override or the intent is about, and from there on."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from typing import Any, NamedTuple

from setuplint.budget import OutOfBudget
from setuplint.formats import case_text
from setuplint.formats.control_words import ControlWords, with_unit
from setuplint.formats.numbers import decimal, json_number, motor_output, percent, pulse
from setuplint.formats.terminal import FIXED_SPACE, plain
from setuplint.plain.evaluate import Evaluation, evaluate, replay, truth
from setuplint.plain.settings import Impossible, after, reading_range
from setuplint.plain.state import LOST, State
from setuplint.server.analysis import Reading
from setuplint.setup import formulas as f
from setuplint.setup.model import Setup
from setuplint.source import Span

INTENTS = ("hold", "stop", "rescue")
MOST_MOVES = 100
Found = dict[str, Any]


class Lens(NamedTuple):
    """A place, and the part whose state is tried there: ("mode", "normal"), ("override", "held"), ("intent", "rescue")."""

    span: Span
    kind: str
    name: str


class NoState(ValueError):
    """Why there is nothing to be tried, in a sentence."""


def lenses(reading: Reading) -> Iterator[Lens]:
    """Over every mode, override and intent of the set-up's own text."""
    own, setup = reading.own, reading.setup
    parts = [("modes", "mode", name) for name in setup.modes]
    parts += [("overrides", "override", name) for name in setup.overrides]
    parts += [("intent", "intent", name) for name in INTENTS if getattr(setup.intent, name) is not None]
    for table, kind, name in parts:
        span = own.key_span((table, name))
        if span is not None and not reading.texts.is_shared((table, name)):
            yield Lens(span, kind, name)


def wanted(setup: Setup, kind: str, name: str) -> f.Formula:
    """The state that a part is about. NoState where there is no such part."""
    if kind == "mode" and name in setup.modes:
        return f.ModeIs(name)
    if kind == "override" and name in setup.overrides:
        return f.Active(name)
    if kind == "intent" and name in INTENTS:
        return f.Predicate(f"{name} called")
    raise NoState(f"there is no {plain(kind)} {plain(name)}")


def tried(reading: Reading, kind: str, name: str, moves: Sequence[Mapping[str, Any]] = ()) -> Found:
    """The state in which the part holds, with all else at rest, then each of `moves` in its turn: some controls, and where
    they are put (a position, percent, what a sensor reads, or "lost"). What comes of it: how to get there, how the controls
    stand, the mode, what every channel puts out and what decides it, conditions and alarms that are on, and the movements
    that may come next. NoState where there is none."""
    setup = reading.setup
    if len(moves) > MOST_MOVES:
        raise NoState(f"more than {MOST_MOVES} movements")
    try:
        answer = reading.decider.find(wanted(setup, kind, name))
    except OutOfBudget:
        raise NoState("it could not be decided") from None
    case = answer.case
    if case is None:
        why = f": {answer.because[0]}" if answer.because else ""
        verdict = (
            "it holds in no state that can be reached from power-up" if answer.impossible else "it could not be decided"
        )
        raise NoState(f"{kind} {name}: {verdict}{why}")
    states = list(case.states)
    evaluations = replay(setup, states)
    controls = ControlWords(reading.texts.values)
    steps = [case_text.move_words(_words(step), controls, first=n == 0) for n, step in enumerate(case.steps)]
    if not steps:
        steps = [case_text.standing_words(_words(case.matters), controls)]
    state, memory = states[-1], evaluations[-1].memory
    seen = evaluations[-1]
    for move in moves:
        given = {control: reading_of(setup, control, where) for control, where in move.items()}
        try:
            state = after(setup, state, given)
        except Impossible as impossible:
            raise NoState(str(impossible)) from None
        seen = evaluate(setup, state, memory)
        memory = seen.memory
        steps.append(case_text.move_words(_words(given), controls, first=False))
    return _found(reading, f"{kind} {name}", [step.replace(FIXED_SPACE, " ") for step in steps], state, seen)


def reading_of(setup: Setup, control: str, where: Any) -> Fraction | str:
    """Where a control is put, if it can be put there. NoState where it cannot."""
    switch, sensor = setup.switches.get(control), setup.sensors.get(control)
    if switch is not None:
        if where not in switch.positions:
            raise NoState(f"{control} has the positions {', '.join(switch.positions)}")
        return str(where)
    if sensor is not None and where == LOST:
        return LOST
    if control not in setup.sticks and sensor is None:
        raise NoState(f"there is no control {plain(str(control))[:60]}")
    low, high = (Fraction(-100), Fraction(100)) if sensor is None else reading_range(setup, sensor)
    if isinstance(where, bool) or not isinstance(where, int | float) or not low <= where <= high:
        raise NoState(f"{control} takes a number from {decimal(low)} to {decimal(high)}")
    return Fraction(str(where))


def _words(step: Mapping[str, Fraction | str]) -> dict[str, Any]:
    return {name: where if isinstance(where, str) else json_number(where) for name, where in step.items()}


def _found(reading: Reading, title: str, steps: list[str], state: State, seen: Evaluation) -> Found:
    setup = reading.setup
    alarms = [a for a in setup.alarms.values() if a.audible and truth(setup, a.when, state, seen) is True]
    found: Found = {
        "title": title,
        "steps": steps,
        "controls": _words({**state.positions, **state.sticks, **state.readings}),
        "mode": seen.mode if seen.mode_known else "not known",
        "outputs": [_output(reading, channel, seen) for channel in setup.channels],
        "conditions": [name for name, on in seen.conditions.items() if on],
        "alarms": [alarm.name for alarm in alarms],
        "next": list(_next(setup, state, ControlWords(reading.texts.values))),
    }
    return {**found, "text": told(setup, found)}


def _output(reading: Reading, channel: str, seen: Evaluation) -> Found:
    """What a channel gives, exactly and in words, and what decides it."""
    output = seen.outputs[channel]
    tied = seen.tied.get(channel, ())
    by = f"{' or '.join(tied)}, which are equal" if tied else seen.deciders[channel] or "its own line"
    if output is None:
        return {"channel": channel, "output": None, "pulse": None, "text": "not known", "decided-by": by}
    values = reading.texts.values
    is_motor = reading.setup.channels[channel].drives == "motor"
    text = motor_output(values, output) if is_motor else percent(output)
    return {
        "channel": channel,
        "output": json_number(output),
        "pulse": json_number(pulse(values, output)),
        "text": text.replace(FIXED_SPACE, " "),
        "decided-by": by,
    }


def _next(setup: Setup, state: State, controls: ControlWords) -> Iterator[Found]:
    """Every movement of one switch, the next position of each first."""
    for turn in range(1, max((len(s.positions) for s in setup.switches.values()), default=1)):
        for switch in setup.switches.values():
            if turn < len(switch.positions):
                at = switch.positions.index(state.positions[switch.name])
                where = switch.positions[(at + turn) % len(switch.positions)]
                yield {"title": controls.move(switch.name, where), "move": {switch.name: where}}


def told(setup: Setup, found: Found) -> str:
    """The same in a few lines, for an editor that shows a message."""
    outputs = [f"{each['channel']} {each['text']} by {each['decided-by']}" for each in found["outputs"]]
    stand = []
    for name, where in found["controls"].items():
        sensor = setup.sensors.get(name)
        shown = where if isinstance(where, str) else with_unit(sensor.reads, where) if sensor else percent(where)
        stand.append(f"{name} {shown}")
    lines = [f"{found['title']}: {'; '.join(found['steps'])}", f"Standing: {', '.join(stand)}"]
    lines += [f"Mode: {found['mode']}"] if found["mode"] else []
    lines += [*outputs]
    lines += [f"Sounding: {', '.join(found['alarms'])}"] if found["alarms"] else []
    return "\n".join(lines).replace(FIXED_SPACE, " ")
