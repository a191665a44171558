"""“Try it here”: what the channels put out in the state that a mode, an override or an intent is about, and from there on."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from typing import Any

from setuplint.budget import OutOfBudget
from setuplint.dataclass import replace
from setuplint.engine.answers import Case
from setuplint.formats import case_text
from setuplint.formats.control_words import ControlWords, with_unit
from setuplint.formats.numbers import decimal, json_number, json_value, motor_output, percent, pulse
from setuplint.formats.terminal import FIXED_SPACE, plain
from setuplint.named_tuple import NamedTuple
from setuplint.plain.evaluate import Evaluation, evaluate, truth
from setuplint.plain.settings import Impossible, after, reading_range
from setuplint.plain.smoothed import Smoothed, flown_curves, way_words
from setuplint.plain.state import LOST, State
from setuplint.server.parsed import ParsedText
from setuplint.setup import formulas as f
from setuplint.setup.model import Setup
from setuplint.source import Span

INTENTS = ("hold", "stop", "rescue")
MOST_MOVES = 100
JsonObject = dict[str, Any]


class Lens(NamedTuple):
    """A place, and the part whose state is tried there: ("mode", "normal"), ("override", "held"), ("intent", "rescue")."""

    span: Span
    kind: str
    name: str


class NoState(ValueError):
    """Why there is nothing to be tried, in a sentence."""


def lenses(parsed: ParsedText) -> Iterator[Lens]:
    """A lens for every mode, override and intent of the setup's own text."""
    own, setup = parsed.own, parsed.setup
    found = [("modes", "mode", name) for name in setup.modes]
    found += [("overrides", "override", name) for name in setup.overrides]
    found += [("intent", "intent", name) for name in INTENTS if getattr(setup.intent, name) is not None]
    for table, kind, name in found:
        span = own.key_span((table, name))
        if span is not None and not parsed.texts.is_shared((table, name)):
            yield Lens(span, kind, name)


def part_formula(setup: Setup, kind: str, name: str) -> f.Formula:
    """The states that a part is about, as a formula. NoState where there is no such part."""
    if kind == "mode" and name in setup.modes:
        return f.ModeIs(name)
    if kind == "override" and name in setup.overrides:
        return f.Active(name)
    if kind == "intent" and name in INTENTS:
        return f.Predicate(f"{name} called")
    raise NoState(f"there is no {plain(kind)} {plain(name)}")


def tried_state(parsed: ParsedText, kind: str, name: str, moves: Sequence[Mapping[str, Any]] = ()) -> JsonObject:
    """A state in which the part holds, all else at rest, then each of `moves`: some controls, and their new values (a position,
    percent, what a sensor reads, or "lost"). The result says how to get there, the controls, the mode, what every channel puts
    out and what decides it, conditions and alarms that are on, and the movements that may come next. NoState where there is
    none."""
    setup = parsed.setup
    if len(moves) > MOST_MOVES:
        raise NoState(f"more than {MOST_MOVES} movements")
    case = _first_case(parsed, kind, name)
    controls = ControlWords(parsed.texts.values)
    at = case.timing.at if case.timing is not None else ()
    steps = case_text.step_words([_json_values(step) for step in case.steps], controls, at)
    if not steps:
        steps = [case_text.standing_words(_json_values(case.matters), controls)]
    state, result = case.states[-1], case.evaluations[-1]
    for move in moves:
        given = {control: control_value(setup, control, value) for control, value in move.items()}
        try:
            state = after(setup, state, given)
        except Impossible as impossible:
            raise NoState(str(impossible)) from None
        result = evaluate(setup, state, result.memory)
        steps.append(case_text.move_words(_json_values(given), controls, first=False))
    return _state_json(parsed, f"{kind} {name}", [step.replace(FIXED_SPACE, " ") for step in steps], state, result)


def _first_case(parsed: ParsedText, kind: str, name: str) -> Case:
    """A way from power-up to a state in which the part holds. NoState where there is none."""
    try:
        answer = parsed.decider.find(part_formula(parsed.setup, kind, name))
    except OutOfBudget:
        raise NoState("it could not be decided") from None
    if answer.case is not None:
        return answer.case
    why = f": {answer.because[0]}" if answer.because else ""
    never = "it holds in no state that can be reached from power-up"
    raise NoState(f"{kind} {name}: {never if answer.impossible else 'it could not be decided'}{why}")


def control_value(setup: Setup, control: str, value: Any) -> Fraction | str:
    """The value that a control is given, if it can have it. NoState where it cannot."""
    switch, sensor = setup.switches.get(control), setup.sensors.get(control)
    if switch is not None:
        if value not in switch.positions:
            raise NoState(f"{control} has the positions {', '.join(switch.positions)}")
        return str(value)
    if sensor is not None and value == LOST:
        return LOST
    if control not in setup.sticks and sensor is None:
        raise NoState(f"there is no control {plain(str(control))[:60]}")
    low, high = (Fraction(-100), Fraction(100)) if sensor is None else reading_range(setup, sensor)
    if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
        raise NoState(f"{control} takes a number from {decimal(low)} to {decimal(high)}")
    return Fraction(str(value))


def _json_values(values: Mapping[str, Fraction | str]) -> JsonObject:
    return {name: json_value(value) for name, value in values.items()}


def _state_json(parsed: ParsedText, title: str, steps: list[str], state: State, result: Evaluation) -> JsonObject:
    setup = parsed.setup
    alarms = [a for a in setup.alarms.values() if a.audible and truth(setup, a.when, state, result) is True]
    found: JsonObject = {
        "title": title,
        "steps": steps,
        "controls": _json_values({**state.positions, **state.sticks, **state.readings}),
        "mode": result.mode if result.mode_known else "not known",
        "outputs": list(_outputs_json(parsed, state, result)),
        "conditions": [name for name, on in result.conditions.items() if on],
        "alarms": [alarm.name for alarm in alarms],
        "smoothing": dict(state.smoothing),
        "next": list(_next_moves(setup, state, ControlWords(parsed.texts.values))),
    }
    return {**found, "text": state_text(setup, found)}


def _outputs_json(parsed: ParsedText, state: State, result: Evaluation) -> Iterator[JsonObject]:
    """Every channel's output; where it hangs on a smoothing that nobody knows, what each would give."""
    setup = parsed.setup
    smoothed = Smoothed(setup, lambda way, _: evaluate(setup, replace(state, smoothing=way), result.memory))
    for name, channel in setup.channels.items():
        first = _output_json(parsed, name, result)
        given: dict[str, JsonObject] = {}
        curves = flown_curves(setup, channel, result.mode) if result.mode_known else []
        ways = smoothed.ways(curves)
        if not ways:
            first |= {"output": None, "pulse": None, "text": "not known"}
        for way in ways if curves else ():
            given[way_words(way)] = _output_json(parsed, name, smoothed.seen(way))
        if len({each["output"] for each in given.values()}) > 1:
            first["by-smoothing"] = {
                words: {key: each[key] for key in ("output", "pulse", "text")} for words, each in given.items()
            }
        yield first


def _output_json(parsed: ParsedText, channel: str, result: Evaluation) -> JsonObject:
    """A channel's output, exactly and in words, and what decides it."""
    output = result.outputs[channel]
    tied = result.tied.get(channel, ())
    by = f"{' or '.join(tied)}, which are equal" if tied else result.deciders[channel] or "its own line"
    if output is None:
        return {"channel": channel, "output": None, "pulse": None, "text": "not known", "decided-by": by}
    values = parsed.texts.values
    is_motor = parsed.setup.channels[channel].drives == "motor"
    text = motor_output(values, output) if is_motor else percent(output)
    return {
        "channel": channel,
        "output": json_number(output),
        "pulse": json_number(pulse(values, output)),
        "text": text.replace(FIXED_SPACE, " "),
        "decided-by": by,
    }


def _next_moves(setup: Setup, state: State, controls: ControlWords) -> Iterator[JsonObject]:
    """Every movement of one switch, the next position of each first."""
    for turn in range(1, max((len(s.positions) for s in setup.switches.values()), default=1)):
        for switch in setup.switches.values():
            if turn < len(switch.positions):
                at = switch.positions.index(state.positions[switch.name])
                where = switch.positions[(at + turn) % len(switch.positions)]
                yield {"title": controls.move(switch.name, where), "move": {switch.name: where}}


def _output_words(output: JsonObject) -> str:
    kinds: dict[str, list[str]] = {}
    for kind, each in output.get("by-smoothing", {}).items():
        kinds.setdefault(each["text"], []).append(kind)
    said = (f"{text} if smoothed as {' or '.join(under)}" for text, under in kinds.items())
    return ", ".join(said) or str(output["text"])


def state_text(setup: Setup, found: JsonObject) -> str:
    """A state in a few lines, for an editor that shows messages."""
    outputs = [f"{each['channel']} {_output_words(each)} by {each['decided-by']}" for each in found["outputs"]]
    settings = []
    for name, value in found["controls"].items():
        sensor = setup.sensors.get(name)
        text = value if isinstance(value, str) else with_unit(sensor.reads, value) if sensor else percent(value)
        settings.append(f"{name} {text}")
    lines = [f"{found['title']}: {'; '.join(found['steps'])}", f"Standing: {', '.join(settings)}"]
    lines += [f"Mode: {found['mode']}"] if found["mode"] else []
    lines += [*outputs]
    lines += [f"Sounding: {', '.join(found['alarms'])}"] if found["alarms"] else []
    return "\n".join(lines).replace(FIXED_SPACE, " ")
