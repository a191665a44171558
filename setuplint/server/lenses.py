"""Try it here: what the channels put out in the state that a mode, an override or the intent is about, and from there on."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction
from typing import Any, NamedTuple

from setuplint.decide.decider import Decider
from setuplint.decide.evaluate import evaluate, replay
from setuplint.decide.sat import OutOfBudget
from setuplint.decide.settings import Impossible, after
from setuplint.decide.state import State
from setuplint.formats.look import FIXED_SPACE
from setuplint.formats.numbers import of_hundred, percent
from setuplint.server.analysis import Analysis
from setuplint.setup import formulas as f
from setuplint.setup.model import Setup
from setuplint.source import Span

INTENTS = ("hold", "stop", "rescue")


class Lens(NamedTuple):
    """A place, and the part whose state is tried there: ("mode", "normal"), ("override", "held"), ("intent", "rescue")."""

    span: Span
    kind: str
    name: str


def lenses(analysis: Analysis) -> Iterator[Lens]:
    """Over every mode, override and intent of the set-up's own text."""
    document, setup = analysis.texts.own, analysis.setup
    parts = [("modes", "mode", name) for name in setup.modes]
    parts += [("overrides", "override", name) for name in setup.overrides]
    for table, kind, name in parts:
        span = document.key_span((table, name))
        if span is not None:
            yield Lens(span, kind, name)
    for name in INTENTS:
        span = document.key_span(("intent", name))
        if span is not None and getattr(setup.intent, name) is not None:
            yield Lens(span, "intent", name)


def wanted(kind: str, name: str) -> f.Formula:
    """The state that a part is about."""
    if kind == "mode":
        return f.ModeIs(name)
    return f.Active(name) if kind == "override" else f.Predicate(f"{name} called")


def tried(analysis: Analysis, kind: str, name: str, moves: Mapping[str, Any] | None = None) -> dict[str, Any]:
    """A state in which the part holds, with everything else at rest, then with some controls moved: the controls, what every
    channel puts out and what decides it, and the positions that each switch has, to step through. `error` where there is none.
    """
    setup = analysis.setup
    try:
        answer = Decider(setup).find(wanted(kind, name))
        case = answer.case
    except (KeyError, OutOfBudget):
        case = None
    if case is None:
        return {"error": f"there is no state in which {kind} {name} holds, or it cannot be told"}
    evaluations = replay(setup, case.states)
    state, memory = case.state, evaluations[-1].memory
    if moves:
        try:
            state = after(setup, state, {control: _reading(where) for control, where in moves.items()})
        except (Impossible, ValueError, KeyError) as error:
            return {"error": str(error)}
    seen = evaluate(setup, state, memory)
    return {
        "controls": _controls(state),
        "positions": {switch.name: list(switch.positions) for switch in setup.switches.values()},
        "mode": seen.mode,
        "outputs": [
            _output(setup, channel, seen.outputs[channel], seen.deciders[channel]) for channel in setup.channels
        ],
        "conditions": [each for each, on in seen.conditions.items() if on],
    }


def stepped(setup: Setup, state: Mapping[str, Any], switch: str) -> str:
    """The next position of a switch, after the last the first again."""
    places = setup.switches[switch].positions
    return places[(places.index(state[switch]) + 1) % len(places)]


def _reading(where: Any) -> Fraction | str:
    return where if isinstance(where, str) else Fraction(str(where))


def _controls(state: State) -> dict[str, Any]:
    found: dict[str, Any] = {**state.positions}
    for name, number in {**state.sticks, **state.readings}.items():
        found[name] = number if isinstance(number, str) else float(number)
    return found


def _output(setup: Setup, channel: str, output: Fraction | None, decider: str | None) -> dict[str, Any]:
    motor = setup.channels[channel].drives == "motor"
    text = "not known" if output is None else percent(output) + (f" ({of_hundred(output)})" if motor else "")
    return {
        "channel": channel,
        "output": None if output is None else float(output),
        "text": text.replace(FIXED_SPACE, " "),
        "decided-by": decider or "its own line",
    }


def told(found: Mapping[str, Any]) -> str:
    """The same in one line, for an editor that shows a message."""
    if "error" in found:
        return str(found["error"])
    outputs = ", ".join(f"{each['channel']} {each['text']}" for each in found["outputs"])
    where = ", ".join(f"{name} {value}" for name, value in found["controls"].items() if isinstance(value, str))
    return f"{where}: {outputs}"
