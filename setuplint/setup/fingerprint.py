"""The fingerprint of a setup: eight hexadecimal digits of what the transmitter and its receiver hold, and of [intent].

Two setups of one fingerprint are one and the same transmitter, so what was proved on it with the one is proved for the other.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from fractions import Fraction
from hashlib import sha256
from typing import Any

from setuplint.setup import formulas as f
from setuplint.setup.formula_text import formula_text
from setuplint.setup.model import BySwitch, Channel, Condition, Curve, Intent, Line, Mode, Override, Setup, Term


def fingerprint(setup: Setup) -> str:
    """Comments, layout, the order of tables (but of modes), how numbers are written, and shared files do not change it; nor do
    [craft], [battery], [packs], [receiver-supply], [field], claims and waivers."""
    written = json.dumps(held_values(setup), sort_keys=True, separators=(",", ":"), ensure_ascii=True)
    return sha256(written.encode()).hexdigest()[:8]


Values = dict[str, Any]


def held_values(setup: Setup) -> Values:
    """Every key that can be entered, and what is meant by it: [intent], and the flags of modes. Numbers are exact, as text."""
    trainer, swash = setup.trainer, setup.swash
    return {
        **_controls(setup),
        "conditions": _each(setup.conditions, _condition),
        # which of two is flown hangs on their order
        "modes": [[mode.name, _mode(mode)] for mode in setup.modes.values()],
        "curves": _each(setup.curves, _curve),
        "channels": _each(setup.channels, _channel),
        "overrides": _each(setup.overrides, _override),
        "alarms": _each(setup.alarms, lambda a: {"when": _formula(a.when), "repeat": _text(a.repeat), **_sound(a)}),
        "timers": _each(setup.timers, lambda t: {"seconds": _text(t.seconds), "runs": _formula(t.runs), **_sound(t)}),
        "failsafe": {name: e if isinstance(e, str) else [_text(e)] for name, e in (setup.failsafe or {}).items()},
        "start": {"requires": _formula(setup.start), "warns": _formula(setup.start_warns)},
        "trainer": trainer and {"lent": _formula(trainer.lent), "sticks": sorted(trainer.sticks)},
        "swash": swash and {"servos": swash.servos, **_numbers(swash, "collective", "cyclic", "ring")},
        "intent": _intent(setup.intent),
    }


def _controls(setup: Setup) -> Values:
    own = [stick for stick in setup.sticks.values() if stick.pupil_of is None]
    return {
        "sticks": {s.name: {"place": s.place, **_numbers(s, "trim", "rest")} for s in own if not s.knob},
        "knobs": {s.name: {"place": s.place} for s in own if s.knob},
        "switches": _each(setup.switches, lambda s: {"kind": s.kind, "positions": list(s.positions), "place": s.place}),
        "sensors": _each(setup.sensors, lambda s: {"reads": s.reads, "cells": s.cells, "shown": s.shown}),
    }


def _each(parts: Mapping[str, Any], values: Callable[[Any], Values]) -> Values:
    return {name: values(part) for name, part in parts.items()}


def _text(number: Fraction | None) -> str | None:
    return None if number is None else str(number)


def _numbers(part: object, *keys: str) -> Values:
    """Numbers by their keys, which the model has with `_` for `-`."""
    return {key: _text(getattr(part, key.replace("-", "_"))) for key in keys}


def _sound(part: Any) -> Values:
    return {"voice": part.voice, "tone": part.tone, "vibrate": part.vibrate}


def _condition(condition: Condition) -> Values:
    return {
        "when": _formula(condition.when),
        "until": _formula(condition.until),
        "toggles": condition.toggles,
        **_numbers(condition, "after", "stays"),
    }


def _mode(mode: Mode) -> Values:
    return {"when": _formula(mode.when), "idle-up": mode.idle_up, "aerobatic": mode.aerobatic, "voice": mode.voice}


def _curve(curve: Curve) -> Values:
    return {"points": [list(map(_text, point)) for point in curve.points], "smoothing": curve.smoothing}


def _override(override: Override) -> Values:
    numbers = {key: _text(number) for key, number in override.numbers.items()}
    return {
        "channel": override.channel,
        "when": _formula(override.when),
        "priority": _text(override.priority),
        **numbers,
    }


def _channel(channel: Channel) -> Values:
    return {
        "number": channel.number,
        "drives": channel.drives,
        "reversed": channel.reversed,
        "travel": [_text(channel.down), _text(channel.up)],
        **_numbers(channel, "sub-trim", "low", "high"),
        "line": _line(channel.own),
        "in": _each(channel.lines, _line),
    }


def _line(line: Line) -> Values:
    """The order of what is added does not matter."""
    terms = None if line.terms is None else sorted(map(_term, line.terms), key=repr)
    return {"terms": terms, **_numbers(line, "ramp-up", "ramp-down")}


def _term(term: Term) -> Values:
    if isinstance(term.source, Fraction):
        return {"from": [_text(term.source)]}
    if term.kind == "switch":
        return {"from": term.source, "values": dict(sorted((p, str(value)) for p, value in term.values.items()))}
    return {"from": term.source, "rate": _amount(term.rate), "expo": _amount(term.expo), "curve": term.curve}


def _amount(amount: Fraction | BySwitch) -> Any:
    if isinstance(amount, BySwitch):
        return {"switch": amount.switch, "at": dict(sorted((p, str(value)) for p, value in amount.at.items()))}
    return str(amount)


def _intent(intent: Intent) -> Values:
    bounds: Values = {
        key: bound if bound is None or isinstance(bound, str)
        else {"channel": bound.channel, **_numbers(bound, "at-least", "at-most", "value")}
        for key, bound in (("level", intent.level), ("lift", intent.lift))
    }  # fmt: skip
    called = {"hold": intent.hold, "stop": intent.stop, "rescue": intent.rescue}
    return {**{key: _formula(formula) for key, formula in called.items()}, **bounds}


def _formula(formula: f.Formula | None) -> Any:
    """As nested lists; the order of what `and` and `or` join does not matter."""
    if formula is None:
        return None
    if isinstance(formula, f.And | f.Or):
        word = "and" if isinstance(formula, f.And) else "or"
        return [word, *sorted(map(_formula, formula.items), key=repr)]
    if isinstance(formula, f.Not):
        return ["not", _formula(formula.item)]
    if isinstance(formula, f.Compare):
        return [formula.name, formula.op, str(formula.number)]
    return formula_text(formula) or "cannot be read"
