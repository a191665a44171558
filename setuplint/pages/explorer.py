"""The data of a page's explorer: the set-up as its small evaluator in the page reads it."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from setuplint.curves.cubics import curve
from setuplint.findings import Finding, Place, Report, Value
from setuplint.formats.case_text import assumed_smoothing, last_movement
from setuplint.formats.numbers import decimal, json_number, json_value
from setuplint.formats.step_outputs import run_moments
from setuplint.plain.resting import rest
from setuplint.plain.settings import cells_shown, reading_range
from setuplint.setup import formulas as f
from setuplint.setup.model import BySwitch, Channel, Condition, Curve, Line, Override, Sensor, Setup, Term
from setuplint.setup.names import UNITS
from setuplint.setup.smoothings import possible
from setuplint.source import Path

Data = dict[str, Any]


def explorer_model(setup: Setup) -> Data:
    """The whole set-up as the page's evaluator reads it: numbers, and formulas as nested lists."""
    still = rest(setup).readings
    return {
        "switches": [{"name": s.name, "positions": s.positions, "sprung": s.sprung} for s in setup.switches.values()],
        "sticks": [{"name": s.name, "rest": json_number(s.rest)} for s in setup.sticks.values()],
        "sensors": [_sensor_values(setup, sensor, still[sensor.name]) for sensor in setup.sensors.values()],
        "conditions": list(map(_condition_values, setup.conditions.values())),
        "modes": [{"name": m.name, "when": formula_lists(m.when or f.TRUE)} for m in setup.modes.values()],
        "channels": [_channel_values(setup, channel) for channel in setup.channels.values()],
        "overrides": list(map(_override_values, setup.overrides.values())),
        "alarms": [{"name": a.name, "when": formula_lists(a.when)} for a in setup.alarms.values() if a.audible],
        "smoothings": [
            {"curve": name, "kinds": possible(setup.curves[name].smoothing)} for name in _unknown_curves(setup)
        ],
    }


def _unknown_curves(setup: Setup) -> list[str]:
    """The curves that some channel has and whose smoothing is not known."""
    lines = [line for channel in setup.channels.values() for line in (channel.own, *channel.lines.values())]
    used = {term.curve for line in lines for term in line.terms or ()}
    return [name for name, found in setup.curves.items() if name in used and found.smoothing == "unknown"]


def _sensor_values(setup: Setup, sensor: Sensor, still: Fraction | str) -> Data:
    least, most = reading_range(setup, sensor)
    return {
        "name": sensor.name,
        "unit": UNITS.get(sensor.reads, ""),
        "least": json_number(least),
        "most": json_number(most),
        "cells": cells_shown(setup, sensor),
        "rest": json_value(still),
    }


def _condition_values(condition: Condition) -> Data:
    return {
        "name": condition.name,
        "when": formula_lists(condition.when),
        "until": None if condition.until is None else formula_lists(condition.until),
        "toggles": condition.toggles,
    }


def _override_values(override: Override) -> Data:
    return {
        "name": override.name,
        "channel": override.channel,
        "value": None if override.value is None else json_number(override.value),
        "limits": [None if x is None else json_number(x) for x in (override.at_least, override.at_most)]
        if override.limits
        else None,
        "priority": None if override.priority is None else json_number(override.priority),
        "when": formula_lists(override.when),
    }


def formula_lists(tree: f.Formula) -> list[Any]:
    """A formula as nested lists, the kind first."""
    match tree:
        case f.And(items):
            return ["and", *map(formula_lists, items)]
        case f.Or(items):
            return ["or", *map(formula_lists, items)]
        case f.Not(item):
            return ["not", formula_lists(item)]
        case f.SwitchIs(switch, position):
            return ["is", switch, position]
        case f.Lost(sensor):
            return ["lost", sensor]
        case f.Compare(name, op, number):
            return ["compare", name, op, json_number(number)]
        case f.Holds(condition):
            return ["condition", condition]
        case f.ModeIs(mode):
            return ["mode", mode]
    return ["unknown"]


def _channel_values(setup: Setup, channel: Channel) -> Data:
    return {
        "name": channel.name,
        "motor": channel.drives == "motor",
        "pulse": [json_number(setup.craft.pulse_centre), json_number(setup.craft.pulse_per_percent)],
        "own": _line_values(setup, channel.own),
        "lines": {mode: _line_values(setup, line) for mode, line in channel.lines.items()},
        "reversed": channel.reversed,
        "down": json_number(channel.down),
        "up": json_number(channel.up),
        "trim": json_number(channel.sub_trim),
        "low": json_number(channel.low),
        "high": json_number(channel.high),
    }


def _line_values(setup: Setup, line: Line) -> list[Data] | None:
    return None if line.terms is None else [_term_values(setup, term) for term in line.terms]


def _term_values(setup: Setup, term: Term) -> Data:
    if term.kind == "number":
        assert isinstance(term.source, Fraction)
        return {"number": json_number(term.source)}
    if term.kind == "switch":
        return {"switch": term.source, "values": {p: json_number(value) for p, value in term.values.items()}}
    found = None if term.curve is None else setup.curves[term.curve]
    is_unknown = found is not None and found.smoothing == "unknown"
    by_kind = {kind: _curve_pieces(found, kind) for kind in possible(found.smoothing)} if found is not None else {}
    lent = None if term.lending is None else [formula_lists(term.lending.lent), term.lending.stick]
    return {
        "stick": term.source,
        "lent": lent,
        "rate": _amount_value(term.rate),
        "expo": _amount_value(term.expo),
        "curve": term.curve if is_unknown else None,
        "pieces": by_kind if is_unknown else next(iter(by_kind.values()), None),
    }


def _curve_pieces(found: Curve, kind: str) -> list[Any]:
    return [
        [*map(json_number, (p.lo, p.hi)), *map(json_number, p.coefficients)] for p in curve(found.points, kind).pieces
    ]


def _amount_value(amount: Fraction | BySwitch) -> object:
    if isinstance(amount, BySwitch):
        return {"switch": amount.switch, "at": {p: json_number(value) for p, value in amount.at.items()}}
    return json_number(amount)


def decider_places(report: Report, setup: Setup) -> Data:
    """What can decide a channel, in words with its place in the file: each override, and each channel's own line by mode."""
    return {
        "overrides": {name: f"{name} ({_line_number(report, ('overrides', name))})" for name in setup.overrides},
        "lines": {
            channel.name: {mode: _own_line_place(report, setup, channel.name, mode) for mode in (*channel.lines, "")}
            for channel in setup.channels.values()
        },
    }


def _own_line_place(report: Report, setup: Setup, channel: str, mode: str) -> str:
    path: Path = ("channels", channel, "in", mode)
    words = "its own line"
    if path in setup.declared:
        return f"{words} for {mode} ({_line_number(report, path)})"
    return f"{words} ({_line_number(report, path[:2])})"


def _line_number(report: Report, path: Path) -> str:
    where = report.where(Place(path))
    return f"line {where.start[0]}" + ("" if where.name == report.name else f" of {where.name}")


def run_values(setup: Setup, finding: Finding, values: Mapping[str, object]) -> list[Data]:
    """The moments of a finding's run: how all stands in each, as the page's evaluator takes it."""
    return [
        {
            "words": f"{decimal(moment.at)} s: {moment.words}",
            "state": {
                "positions": dict(moment.state.positions),
                "sticks": {name: json_number(at) for name, at in moment.state.sticks.items()},
                "readings": {name: json_value(at) for name, at in moment.state.readings.items()},
            },
            "memory": {
                "on": dict.fromkeys(sorted(moment.seen.memory.on), True),
                "last": dict.fromkeys(sorted(moment.seen.memory.last), True),
            },
            "conditions": dict(moment.seen.conditions),
        }
        for moment in run_moments(setup, finding, values)
    ]


def case_moves(finding: Finding) -> Data:
    """The moves to a finding's case: from power-up step by step, or all at once; then its movement. With them, as what it
    takes the curves of unknown smoothing that it hangs on."""
    found: list[Mapping[str, Value]] = list(finding.steps) or ([finding.witness] if finding.witness else [])
    return {
        "from-power-up": bool(finding.steps),
        "steps": [dict(step) for step in (*found, *last_movement(finding))],
        "smoothing": assumed_smoothing(finding),
    }
