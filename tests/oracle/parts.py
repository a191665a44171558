"""The parts of a setup as FORMAT.md gives them, read from TOML into exact fractions. Takes valid files only."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from typing import Any

from .curves import KINDS, Curve, curve
from .formula import Formula, parse

STICKS = ("throttle", "aileron", "elevator", "rudder")
POSITIONS = {
    "momentary": ("released", "pulled"),
    "two-position": ("off", "on"),
    "three-position": ("up", "middle", "down"),
}
RANGES = {
    "receiver-voltage": (0, 30),
    "current": (0, 1000),
    "charge-used": (0, 1_000_000),
    "rotor-speed": (0, 20_000),
    "temperature": (-60, 300),
    "link-quality": (0, 100),
    "signal-strength": (-150, 150),
}


def number(value: Any) -> Fraction:
    """A number of the file as the decimal that is written."""
    if isinstance(value, float):
        value = repr(value)
    return Fraction(str(value) if isinstance(value, Decimal) else value)


@dataclass(frozen=True)
class BySwitch:
    """A number, or one for each position of a switch."""

    switch: str | None
    at: Mapping[str, Fraction]

    def value(self, controls: Mapping[str, Any]) -> Fraction:
        return self.at[controls[self.switch] if self.switch else ""]


@dataclass(frozen=True)
class Term:
    kind: str  # number, analog (a stick or knob), switch
    source: str
    constant: Fraction
    rate: BySwitch
    expo: BySwitch
    curve: str | None
    values: Mapping[str, Fraction]
    pupil: str = ""  # the pupil's place of the stick, where that is lent at times


@dataclass(frozen=True)
class Line:
    """What a channel does in one mode. `terms` is None where it is not described."""

    terms: tuple[Term, ...] | None
    ramp_up: Fraction
    ramp_down: Fraction


@dataclass(frozen=True)
class TimedCondition:
    name: str
    when: Formula
    after: Fraction
    stays: Fraction
    until: Formula | None
    toggles: bool

    @property
    def timed(self) -> bool:
        return bool(self.after or self.stays)

    @property
    def remembers(self) -> bool:
        return self.toggles or self.until is not None


@dataclass(frozen=True)
class Limits:
    """What an override lets through of a channel's line."""

    low: Fraction | None
    high: Fraction | None

    def of(self, demand: Fraction) -> Fraction:
        if self.low is not None and demand < self.low:
            return self.low
        return self.high if self.high is not None and demand > self.high else demand


@dataclass(frozen=True)
class Override:
    name: str
    channel: str
    value: Fraction | Limits
    when: Formula
    priority: Fraction


@dataclass
class Channel:
    name: str
    drives: str
    table: Mapping[str, Any]
    reversed: bool
    travel: tuple[Fraction, Fraction]
    sub_trim: Fraction
    low: Fraction
    high: Fraction
    lines: dict[str | None, Line] = field(default_factory=dict)


@dataclass(frozen=True)
class Bound:
    channel: str
    at_least: Fraction | None
    at_most: Fraction | None
    value: Fraction | None


def _bound(table: Mapping[str, Any]) -> Bound:
    def get(key: str) -> Fraction | None:
        return number(table[key]) if key in table else None

    return Bound(table["channel"], get("at-least"), get("at-most"), get("value"))


def _demanded(table: Mapping[str, Any]) -> Fraction | Limits:
    if "value" in table:
        return number(table["value"])
    return Limits(*(number(table[key]) if key in table else None for key in ("at-least", "at-most")))


def _by_switch(value: Any) -> BySwitch:
    if isinstance(value, dict):
        return BySwitch(value["switch"], {word: number(x) for word, x in value["at"].items()})
    return BySwitch(None, {"": number(value)})


class Setup:
    """One setup. Raises KeyError or ValueError on a file that is not valid; `extends` is not followed."""

    def __init__(self, source: str | Mapping[str, Any]) -> None:
        data: Mapping[str, Any] = tomllib.loads(source, parse_float=Decimal) if isinstance(source, str) else source
        if "extends" in data:
            raise ValueError("the oracle reads one whole file")
        self.data = data
        self.craft: Mapping[str, Any] = data.get("craft", {})
        pack = data.get("battery", next(iter(data.get("packs", {}).values()), {}))
        self.cells: int | None = pack.get("cells")
        self.switches: dict[str, tuple[str, ...]] = {
            name: tuple(table.get("positions") or POSITIONS[table["kind"]])
            for name, table in data.get("switches", {}).items()
        }
        self.momentary = [name for name, table in data.get("switches", {}).items() if table["kind"] == "momentary"]
        trainer = data.get("trainer")
        self.lent: Formula | None = None if trainer is None else parse(trainer["lent"])
        self.pupils = {name: f"{name} (pupil)" for name in (trainer["sticks"] if trainer else ())}
        self.analogs = [*STICKS, *data.get("knobs", {}), *self.pupils.values()]
        self.low = (
            data.get("sticks", {}).get("throttle", {}).get("rest") != "middle"
        )  # the throttle rests at the bottom
        self.trims = {name: number(t["trim"]) for name, t in data.get("sticks", {}).items() if t.get("trim")}
        self.sensors: dict[str, str] = {name: table["reads"] for name, table in data.get("sensors", {}).items()}
        self.own_cells = {name: table["cells"] for name, table in data.get("sensors", {}).items() if "cells" in table}
        self.conditions = {name: self._condition(name, t) for name, t in data.get("conditions", {}).items()}
        self.modes: dict[str, Formula | None] = {
            name: parse(table["when"]) if "when" in table else None for name, table in data.get("modes", {}).items()
        }
        self.curves = {name: self._curve(table) for name, table in data.get("curves", {}).items()}
        self.channels = {name: self._channel(name, table) for name, table in data.get("channels", {}).items()}
        self.overrides = [
            Override(name, t["channel"], _demanded(t), parse(t["when"]), number(t.get("priority", 0)))
            for name, t in data.get("overrides", {}).items()
        ]
        self.alarms: dict[str, Formula] = {name: parse(t["when"]) for name, t in data.get("alarms", {}).items()}
        start = data.get("start", {})
        requires = start.get("requires") if start.get("enforced", True) else None
        self.requires: Formula | None = None if requires is None else parse(requires)
        intent = data.get("intent", {})
        self.intent: dict[str, Formula] = {k: parse(intent[k]) for k in ("hold", "stop", "rescue") if k in intent}
        self.level: Bound | None = _bound(intent["level"]) if "level" in intent else None
        lift = intent.get("lift")
        self.lift: Bound | str | None = _bound(lift) if isinstance(lift, dict) else lift
        self.motor_off = self._craft_number("motor-off")
        self.hover_throttle = self._craft_number("hover-throttle")
        self.governed_above = self._craft_number("governed-above")
        rotor_free = self._craft_number("rotor-free")
        self.rotor_free = self.motor_off if rotor_free is None else rotor_free

    def _craft_number(self, key: str) -> Fraction | None:
        return number(self.craft[key]) if key in self.craft else None

    def range_of(self, sensor: str) -> tuple[Fraction, Fraction]:
        """The least and greatest number a sensor shows, in its own unit."""
        reads, cells = self.sensors[sensor], self.cell_factor(sensor)
        if cells is not None or reads == "pack-voltage":
            return Fraction(0), Fraction(120 if cells is None else 5 * cells)
        low, high = RANGES[reads]
        return Fraction(low), Fraction(high)

    def cell_factor(self, sensor: str) -> int | None:
        """How many cells a sensor shows the sum of; None for a sensor that does not read the shared cell voltage."""
        reads = self.sensors[sensor]
        if reads == "pack-voltage":
            return self.own_cells.get(sensor, self.cells)
        return 1 if reads == "cell-voltage" else None

    def _condition(self, name: str, table: Mapping[str, Any]) -> TimedCondition:
        until = table.get("until")
        return TimedCondition(
            name,
            parse(table["when"]),
            number(table.get("after", 0)),
            number(table.get("stays", 0)),
            None if until is None else parse(until),
            bool(table.get("toggles", False)),
        )

    def _curve(self, table: Mapping[str, Any]) -> dict[str, Curve]:
        """One curve for each smoothing that it may have."""
        points = tuple((number(x), number(y)) for x, y in table["points"])
        smoothing = table.get("smoothing", "none")
        return {kind: curve(points, kind) for kind in (KINDS if smoothing == "unknown" else (smoothing,))}

    def _channel(self, name: str, table: Mapping[str, Any]) -> Channel:
        down, up = table.get("travel", (100, 100))
        channel = Channel(
            name,
            table.get("drives", "other"),
            table,
            bool(table.get("reversed", False)),
            (number(down), number(up)),
            number(table.get("sub-trim", 0)),
            number(table.get("low", -150)),
            number(table.get("high", 150)),
        )
        for mode in (None, *self.data.get("modes", {})):
            merged = {**table, **(table.get("in", {}).get(mode, {}) if mode else {})}
            channel.lines[mode] = self._line(merged)
        return channel

    def _line(self, table: Mapping[str, Any]) -> Line:
        terms = None
        if "from" in table:
            terms = (self._term(table), *(self._term(extra) for extra in table.get("mix", [])))
        return Line(terms, number(table.get("ramp-up", 0)), number(table.get("ramp-down", 0)))

    def _term(self, table: Mapping[str, Any]) -> Term:
        source = table["from"]
        zero = Fraction(0)
        rate, bend = _by_switch(table.get("rate", 100)), _by_switch(table.get("expo", 0))
        if not isinstance(source, str):
            return Term("number", "", number(source), rate, bend, None, {})
        if source in self.switches:
            values = {word: number(x) for word, x in table["values"].items()}
            return Term("switch", source, zero, rate, bend, None, values)
        if source not in self.analogs:
            raise ValueError(f"{source!r} is no stick, knob or switch")
        curve = table.get("curve", "straight")
        return Term(
            "analog", source, zero, rate, bend, None if curve == "straight" else curve, {}, self.pupils.get(source, "")
        )
