"""Two setups as one: the same controls, and the parts of both side by side, so that one question can ask of both.

Conditions that mean the same are one condition, so that what is remembered is remembered once. Of each part's name the
joined setup has two, `old NAME` and `new NAME`; controls go by the new setup's names, those that only the old one has by
their own.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import product

from setuplint.compare.matching import Matching
from setuplint.decide.predicates import predicate
from setuplint.decide.sat import OutOfBudget
from setuplint.setup import formulas as f
from setuplint.setup.model import (
    Battery,
    BySwitch,
    Channel,
    Condition,
    Craft,
    Curve,
    Line,
    Mode,
    Override,
    Setup,
    Switch,
    Term,
)

MOST_PAIRS = 1_000  # of modes, one of each setup, that might be flown together

ModePair = tuple[str | None, str | None]


@dataclass
class Side:
    """One of the two setups, and how its names are written in the joined one."""

    tag: str  # "old" or "new"
    setup: Setup
    controls: Mapping[str, str]
    positions: Mapping[str, Mapping[str, str]]  # by its own switches: own words to those of the joined setup
    conditions: dict[str, str] = field(default_factory=dict)
    curves: dict[str, str] = field(default_factory=dict)
    flown: dict[str | None, str] = field(default_factory=dict)  # mode (None: none) to the condition that it is flown

    def part(self, name: str) -> str:
        return f"{self.tag} {name}"


@dataclass
class Joined:
    """Two setups as one. `pairs` are the modes of both that may be flown together, by the joined setup's modes; `apart`
    is what the comparison leaves out, each in words."""

    old: Side
    new: Side
    setup: Setup
    pairs: Mapping[str, ModePair]
    apart: tuple[str, ...]

    def formula(self, side: Side, formula: f.Formula) -> f.Formula:
        """A formula of one of the setups, predicates included, as one of the joined setup."""
        return _Writer(side, {}, {}).formula(formula)


def join(old: Setup, new: Setup, matching: Matching) -> Joined:
    """OutOfBudget where the modes of both can be combined in too many ways."""
    apart: list[str] = []
    sides = _sides(old, new, matching)
    conditions: dict[str, Condition] = {}
    interned: dict[object, str] = {}
    for side in sides:
        _Writer(side, conditions, interned).conditions()
    curves: dict[str, Curve] = {}
    for side in sides:
        _curves(side, curves)
    pairs = _pairs(*sides)
    switches: dict[str, Switch] = {}
    for side in reversed(sides):
        for switch in side.setup.switches.values():
            words = tuple(side.positions[switch.name].values())
            name = side.controls[switch.name]
            for position in switch.positions:
                if position not in side.positions[switch.name]:
                    where = "before" if side.tag == "old" else "now"
                    apart.append(f"switch {switch.name} has the position {position} {where} only: states with it")
            switches.setdefault(name, replace(switch, name=name, positions=words))
    sticks = {
        side.controls[s.name]: replace(s, name=side.controls[s.name])
        for side in sides
        for s in side.setup.sticks.values()
    }
    sensors = {
        side.controls[s.name]: replace(s, name=side.controls[s.name])
        for side in sides
        for s in side.setup.sensors.values()
    }
    cells = new.battery.cells if new.battery.cells == old.battery.cells else None
    starts = [
        _Writer(side, conditions, interned).formula(side.setup.start) for side in sides if side.setup.start is not None
    ]
    channels: dict[str, Channel] = {}
    overrides: dict[str, Override] = {}
    for side in sides:
        writer = _Writer(side, conditions, interned)
        for channel in side.setup.channels.values():
            name = side.part(channel.name)
            channels[name] = replace(
                channel,
                name=name,
                own=writer.line(channel.own),
                lines={mode: writer.line(channel.line(pair[side.tag == "new"])) for mode, pair in pairs.items()},
            )
        for override in side.setup.overrides.values():
            name = side.part(override.name)
            when = writer.formula(override.when)
            overrides[name] = replace(override, name=name, channel=side.part(override.channel), when=when)
    setup = Setup(
        Craft("joined"),
        Battery(cells=cells),
        sticks,
        switches,
        sensors,
        conditions,
        {
            mode: Mode(mode, f.both(*(f.Holds(side.flown[m]) for side, m in zip(sides, pair, strict=True))))
            for mode, pair in pairs.items()
        },
        curves,
        channels,
        overrides,
        start=None if not starts else f.both(*dict.fromkeys(starts)),
    )
    return Joined(*sides, setup, pairs, tuple(apart))


def _sides(old: Setup, new: Setup, matching: Matching) -> tuple[Side, Side]:
    known = {**matching.switches, **matching.sticks, **matching.sensors}
    theirs = {*new.switches, *new.sticks, *new.sensors}

    def own(name: str) -> str:
        """A control that only the old setup has; its name may be another one's by now."""
        return f"{name} (before)" if name in theirs else name

    before = {name: known.get(name) or own(name) for name in (*old.switches, *old.sticks, *old.sensors)}
    after = {name: name for name in theirs}
    places: dict[str, Mapping[str, str]] = {}
    for switch in old.switches.values():
        places[switch.name] = matching.positions.get(switch.name) or {p: p for p in switch.positions}
    kept: dict[str, Mapping[str, str]] = {s.name: {p: p for p in s.positions} for s in new.switches.values()}
    for name, other in matching.switches.items():
        both = set(places[name].values())
        kept[other] = {p: p for p in new.switches[other].positions if p in both}
    return Side("old", old, before, places), Side("new", new, after, kept)


def _curves(side: Side, curves: dict[str, Curve]) -> None:
    known = {(curve.points, curve.smoothing): name for name, curve in curves.items()}
    for curve in side.setup.curves.values():
        key = (curve.points, curve.smoothing)
        if key not in known:
            name = curve.name if curve.name not in curves else side.part(curve.name)
            known[key] = name
            curves[name] = replace(curve, name=name)
        side.curves[curve.name] = known[key]


def _pairs(old: Side, new: Side) -> dict[str, ModePair]:
    """The modes that may be flown together: not one that is another's twin with a third."""
    twins = {condition: mode for mode, condition in new.flown.items()}
    shared = {condition for condition in old.flown.values() if condition in twins}
    pairs: dict[str, ModePair] = {}
    for (one, flown), (two, also) in product(old.flown.items(), new.flown.items()):
        if flown == also or (flown not in shared and also not in shared):
            pairs[f"{one or 'no mode'} | {two or 'no mode'}"] = (one, two)
    if len(pairs) > MOST_PAIRS:
        raise OutOfBudget(f"the modes of both setups can be combined in {len(pairs)} ways, more than {MOST_PAIRS}")
    return pairs


class _Writer:
    """Writes a side's formulas and lines in the names of the joined setup."""

    def __init__(self, side: Side, conditions: dict[str, Condition], interned: dict[object, str]) -> None:
        self.side, self.written, self.interned = side, conditions, interned

    # -- conditions

    def conditions(self) -> None:
        """Every condition, and for every mode the condition that it is flown."""
        for name in self.side.setup.conditions:
            self.condition(name)
        self.modes()

    def condition(self, name: str) -> str:
        known = self.side.conditions
        if name not in known:
            condition = self.side.setup.conditions[name]
            known[name] = self.side.part(name)  # a loop cannot come back for more
            when = self.formula(condition.when)
            until = None if condition.until is None else self.formula(condition.until)
            known[name] = self.interning(replace(condition, name=self.side.part(name), when=when, until=until))
        return known[name]

    def interning(self, condition: Condition) -> str:
        key = replace(condition, name="")
        name = self.interned.setdefault(key, condition.name)
        self.written.setdefault(name, condition)
        return name

    def modes(self) -> None:
        if self.side.flown:
            return
        before: list[f.Formula] = []
        for mode in self.side.setup.modes.values():
            when = f.TRUE if mode.when is None else self.formula(mode.when)
            self.fly(mode.name, f.both(when, *map(f.Not, before)))
            before.append(when)
        self.fly(None, f.both(*map(f.Not, before)))

    def fly(self, mode: str | None, when: f.Formula) -> None:
        name = self.side.part(f"mode {mode or 'none'}")
        self.side.flown[mode] = self.interning(Condition(name, when))

    # -- formulas

    def formula(self, formula: f.Formula) -> f.Formula:
        side = self.side
        match formula:
            case f.And(items):
                return f.And(self.items(items))
            case f.Or(items):
                return f.Or(self.items(items))
            case f.Not(item):
                return f.Not(self.formula(item))
            case f.SwitchIs(switch, position):
                there = side.positions[switch].get(position)
                return f.FALSE if there is None else f.SwitchIs(side.controls[switch], there)
            case f.Lost(sensor):
                return f.Lost(side.controls[sensor])
            case f.Heard(sensor):
                return f.Heard(side.controls[sensor])
            case f.Compare(name, op, number):
                return f.Compare(side.controls[name], op, number)
            case f.Holds(condition):
                return f.Holds(self.condition(condition))
            case f.ModeIs(mode):
                self.modes()
                return f.Holds(side.flown[mode])
            case f.OutputCompare(channel, op, number):
                return f.OutputCompare(side.part(channel), op, number)
            case f.Predicate(name):
                return self.formula(predicate(side.setup, name))
            case f.Active(override):
                return f.Active(side.part(override))
            case f.Decides(channel, override):
                return f.Decides(side.part(channel), None if override is None else side.part(override))
            case f.Follows(channel, stick):
                return f.Follows(side.part(channel), side.controls[stick])
            case f.Sounds(name):
                alarm = side.setup.alarms[name]
                return self.formula(alarm.when) if alarm.audible else f.FALSE
            case f.CellBelow() | f.Unknown():
                return formula

    def items(self, items: tuple[f.Formula, ...]) -> tuple[f.Formula, ...]:
        """In an order of their own: `a and b` is `b and a`."""
        return tuple(sorted((self.formula(item) for item in items), key=repr))

    # -- channels

    def line(self, line: Line) -> Line:
        return line if line.terms is None else replace(line, terms=tuple(map(self.term, line.terms)))

    def term(self, term: Term) -> Term:
        side = self.side
        if term.kind == "number":
            return term
        source = str(term.source)
        if term.kind == "switch":
            words = side.positions[source]
            values = {words[p]: value for p, value in term.values.items() if p in words}
            return replace(term, source=side.controls[source], values=values)
        return replace(
            term,
            source=side.controls[source],
            rate=self.amount(term.rate),
            expo=self.amount(term.expo),
            curve=None if term.curve is None else side.curves[term.curve],
            values={},
        )

    def amount(self, amount: Fraction | BySwitch) -> Fraction | BySwitch:
        if not isinstance(amount, BySwitch):
            return amount
        words = self.side.positions[amount.switch]
        at = {words[p]: value for p, value in amount.at.items() if p in words}
        return BySwitch(self.side.controls[amount.switch], at)
