"""What the explorer of a page works on: the set-up as data for its small evaluator."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from setuplint.curves.cubics import curve
from setuplint.findings import Finding, Place, Report, Value
from setuplint.formats.case_text import MOVEMENT
from setuplint.formats.numbers import json_number
from setuplint.plain.resting import rest
from setuplint.plain.settings import cells_shown, reading_range
from setuplint.setup import formulas as f
from setuplint.setup.model import BySwitch, Channel, Line, Setup, Term
from setuplint.setup.names import UNITS
from setuplint.setup.smoothings import possible
from setuplint.source import Path

Data = dict[str, Any]


def model(setup: Setup) -> Data:
    """The whole set-up as the evaluator reads it: numbers, and formulas as nested lists."""
    still = rest(setup)
    return {
        "switches": [{"name": s.name, "positions": s.positions, "sprung": s.sprung} for s in setup.switches.values()],
        "sticks": [{"name": s.name, "rest": json_number(s.rest)} for s in setup.sticks.values()],
        "sensors": [
            {
                "name": s.name,
                "unit": UNITS.get(s.reads, ""),
                "least": json_number(reading_range(setup, s)[0]),
                "most": json_number(reading_range(setup, s)[1]),
                "cells": cells_shown(setup, s),
                "rest": _value(still.readings[s.name]),
            }
            for s in setup.sensors.values()
        ],
        "conditions": [
            {
                "name": c.name,
                "when": formula(c.when),
                "until": None if c.until is None else formula(c.until),
                "toggles": c.toggles,
            }
            for c in setup.conditions.values()
        ],
        "modes": [
            {"name": m.name, "when": formula(f.TRUE if m.when is None else m.when)} for m in setup.modes.values()
        ],
        "channels": [_channel(setup, channel) for channel in setup.channels.values()],
        "overrides": [
            {
                "name": o.name,
                "channel": o.channel,
                "value": None if o.value is None else json_number(o.value),
                "priority": None if o.priority is None else json_number(o.priority),
                "when": formula(o.when),
            }
            for o in setup.overrides.values()
        ],
        "alarms": [{"name": a.name, "when": formula(a.when)} for a in setup.alarms.values() if a.audible],
    }


def _value(reading: Fraction | str) -> object:
    return reading if isinstance(reading, str) else json_number(reading)


def formula(tree: f.Formula) -> list[Any]:
    """A formula as nested lists, the kind first."""
    match tree:
        case f.And(items):
            return ["and", *map(formula, items)]
        case f.Or(items):
            return ["or", *map(formula, items)]
        case f.Not(item):
            return ["not", formula(item)]
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


def _channel(setup: Setup, channel: Channel) -> Data:
    return {
        "name": channel.name,
        "motor": channel.drives == "motor",
        "own": _line(setup, channel.own),
        "lines": {mode: _line(setup, line) for mode, line in channel.lines.items()},
        "reversed": channel.reversed,
        "down": json_number(channel.down),
        "up": json_number(channel.up),
        "trim": json_number(channel.sub_trim),
        "low": json_number(channel.low),
        "high": json_number(channel.high),
    }


def _line(setup: Setup, line: Line) -> list[Data] | None:
    return None if line.terms is None else [_term(setup, term) for term in line.terms]


def _term(setup: Setup, term: Term) -> Data:
    if term.kind == "number":
        assert isinstance(term.source, Fraction)
        return {"number": json_number(term.source)}
    if term.kind == "switch":
        return {"switch": term.source, "values": {p: json_number(value) for p, value in term.values.items()}}
    pieces = None
    if term.curve is not None:
        found = setup.curves[term.curve]
        smooth = curve(found.points, possible(found.smoothing)[0])
        pieces = [[*map(json_number, (p.lo, p.hi)), *map(json_number, p.coefficients)] for p in smooth.pieces]
    return {"stick": term.source, "rate": _amount(term.rate), "expo": _amount(term.expo), "pieces": pieces}


def _amount(amount: Fraction | BySwitch) -> object:
    if isinstance(amount, BySwitch):
        return {"switch": amount.switch, "at": {p: json_number(value) for p, value in amount.at.items()}}
    return json_number(amount)


def places(report: Report, setup: Setup) -> Data:
    """What decides a channel, in words with its place in the file: each override, and each channel's own line by mode."""
    return {
        "overrides": {name: f"{name} ({_place(report, ('overrides', name))})" for name in setup.overrides},
        "lines": {
            channel.name: {mode: _own(report, setup, channel.name, mode) for mode in (*channel.lines, "")}
            for channel in setup.channels.values()
        },
    }


def _own(report: Report, setup: Setup, channel: str, mode: str) -> str:
    path: Path = ("channels", channel, "in", mode)
    said = "its own line"
    if path in setup.declared:
        return f"{said} for {mode} ({_place(report, path)})"
    return f"{said} ({_place(report, path[:2])})"


def _place(report: Report, path: Path) -> str:
    where = report.where(Place(path))
    return f"line {where.start[0]}" + ("" if where.name == report.name else f" of {where.name}")


def steps(finding: Finding) -> Data:
    """How the explorer gets to a finding's case: from power-up step by step, or at once; then its movement."""
    found: list[Mapping[str, Value]] = list(finding.steps) or ([finding.witness] if finding.witness else [])
    movement = MOVEMENT.fullmatch(finding.then)
    if movement:
        found.append({movement.group(1): movement.group(2)})
    return {"from-power-up": bool(finding.steps), "steps": [dict(step) for step in found]}
