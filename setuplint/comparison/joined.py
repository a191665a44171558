"""Two setups as one: the same controls, and the parts of both side by side, so that one question can ask of both.

Conditions that mean the same are one condition, so that what is remembered is remembered once. Of each part's name the
joined setup has two, `old NAME` and `new NAME`; controls go by the new setup's names, those that only the old one has by
their own.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from functools import cached_property
from itertools import product

from setuplint.budget import PART, OutOfBudget, Spent
from setuplint.comparison.matching import Matching
from setuplint.dataclass import dataclass, field, replace
from setuplint.engine.equality import Equal
from setuplint.setup import formulas as f
from setuplint.setup.cone import channel_overrides
from setuplint.setup.model import (
    BySwitch,
    Channel,
    Condition,
    Craft,
    Curve,
    Lending,
    Line,
    Mode,
    Override,
    Sensor,
    Setup,
    Stick,
    Switch,
    Term,
)
from setuplint.setup.predicates import predicate_formula

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

    def joined_name(self, name: str) -> str:
        return f"{self.tag} {name}"

    def formula(self, formula: f.Formula) -> f.Formula:
        """One of its own formulas, predicates included, in the names of the joined setup, once its conditions are written."""
        return _Writer(self).formula(formula)


@dataclass
class Joined:
    """Two setups as one. `pairs` are the modes of both that may be flown together, by the joined setup's modes; `apart`
    is what the comparison leaves out, each in words."""

    old: Side
    new: Side
    setup: Setup
    pairs: Mapping[str, ModePair]
    apart: tuple[str, ...]

    @cached_property
    def by_channel(self) -> Mapping[str, list[Override]]:
        """The overrides of each channel of the joined setup."""
        return channel_overrides(self.setup)


def sides(old: Setup, new: Setup, matching: Matching, spent: Spent | None = None) -> tuple[Side, Side]:
    """Both setups, with their conditions and modes in the names of a joined one; those that mean the same have one name.
    OutOfBudget."""
    pair = _sides(old, new, matching)
    _conditions(pair, _controls(pair)[0], spent)
    return pair


def joined_setups(old: Setup, new: Setup, matching: Matching, spent: Spent | None = None) -> Joined:
    """OutOfBudget where the modes of both can be combined in too many ways."""
    pair = _sides(old, new, matching)
    controls, apart = _controls(pair)
    conditions = _conditions(pair, controls, spent)
    curves: dict[str, Curve] = {}
    for side in pair:
        _curves(side, curves)
    pairs = _pairs(*pair)
    starts = [side.formula(side.setup.start) for side in pair if side.setup.start is not None]
    channels: dict[str, Channel] = {}
    overrides: dict[str, Override] = {}
    for side in pair:
        writer = _Writer(side)
        for channel in side.setup.channels.values():
            name = side.joined_name(channel.name)
            channels[name] = replace(
                channel,
                name=name,
                own=writer.line(channel.own),
                lines={mode: writer.line(channel.line(flown[side.tag == "new"])) for mode, flown in pairs.items()},
            )
        for override in side.setup.overrides.values():
            name = side.joined_name(override.name)
            when = writer.formula(override.when)
            overrides[name] = replace(override, name=name, channel=side.joined_name(override.channel), when=when)
    setup = replace(
        controls,
        conditions=conditions,
        modes={
            mode: Mode(mode, f.both(*(f.Holds(side.flown[m]) for side, m in zip(pair, flown, strict=True))))
            for mode, flown in pairs.items()
        },
        curves=curves,
        channels=channels,
        overrides=overrides,
        start=None if not starts else f.both(*dict.fromkeys(starts)),
    )
    return Joined(*pair, setup, pairs, apart)


def _controls(pair: tuple[Side, Side]) -> tuple[Setup, tuple[str, ...]]:
    """The controls of both as one setup's, and what of them cannot be compared."""
    apart: list[str] = []
    switches: dict[str, Switch] = {}
    sticks: dict[str, Stick] = {}
    sensors: dict[str, Sensor] = {}
    for side in reversed(pair):
        for switch in side.setup.switches.values():
            words = tuple(side.positions[switch.name].values())
            name = side.controls[switch.name]
            for position in switch.positions:
                if position not in side.positions[switch.name]:
                    where = "before" if side.tag == "old" else "now"
                    apart.append(f"switch {switch.name} has the position {position} {where} only: states with it")
            switches.setdefault(name, replace(switch, name=name, positions=words))
    for side in pair:
        sticks |= {side.controls[s.name]: replace(s, name=side.controls[s.name]) for s in side.setup.sticks.values()}
        for sensor in side.setup.sensors.values():
            name, cells = side.controls[sensor.name], side.setup.cells_of(sensor)
            known = sensors.get(name)
            alike = known is None or (known.reads, known.cells) == (sensor.reads, cells)
            sensors[name] = replace(
                sensor, name=name, cells=cells if alike and sensor.reads == "pack-voltage" else None
            )
    before, now = (
        {side.controls[s.name]: side.setup.cells_of(s) for s in side.setup.sensors.values()} for side in pair
    )
    if before != now and {"pack-voltage", "cell-voltage"} <= {s.reads for s in sensors.values()}:
        apart.append("the cells are not as many: that the voltages of the pack and of a cell go together")
    return Setup(Craft("joined"), sticks=sticks, switches=switches, sensors=sensors), tuple(apart)


def _conditions(pair: tuple[Side, Side], controls: Setup, spent: Spent | None = None) -> dict[str, Condition]:
    written: dict[str, Condition] = {}
    equal = Equal(controls, spent)
    for side in pair:
        _Writer(side, written, equal).conditions()
    return written


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
            name = curve.name if curve.name not in curves else side.joined_name(curve.name)
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


def _kind(condition: Condition) -> tuple[object, ...]:
    return condition.after, condition.stays, condition.toggles, condition.until is None


class _Writer:
    """Writes a side's formulas and lines in the names of the joined setup."""

    def __init__(self, side: Side, written: dict[str, Condition] | None = None, equal: Equal | None = None) -> None:
        self.side, self.equal = side, equal
        self.written = {} if written is None else written
        self.known = {replace(condition, name=""): name for name, condition in self.written.items()}

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
            known[name] = self.side.joined_name(name)  # a loop cannot come back for more
            when = self.formula(condition.when)
            until = None if condition.until is None else self.formula(condition.until)
            known[name] = self.interning(replace(condition, name=self.side.joined_name(name), when=when, until=until))
        return known[name]

    def interning(self, condition: Condition) -> str:
        """The name of one that was written before and means the same, or its own."""
        key = replace(condition, name="")
        if key in self.known:
            return self.known[key]
        assert self.equal is not None
        twin = self.twin(condition, self.equal)
        self.known[key] = twin or condition.name
        if twin is None:
            self.written[condition.name] = condition
            self.equal.add(condition)
        return self.known[key]

    def twin(self, condition: Condition, equal: Equal) -> str | None:
        """A condition of the other setup whose formulas are equal; the one of the same name is asked first."""
        if self.side.tag == "old" or equal.is_spent:
            return None
        equal.charge(len(self.written) // PART)  # each is told apart from all
        name = condition.name.replace("new ", "old ", 1)
        kind = _kind(condition)
        likely = [each for each in dict.fromkeys((name, *self.written)) if each in self.written]
        parts = equal.parts(condition)
        return next((e for e in likely if _kind(self.written[e]) == kind and equal.same(parts, e)), None)

    def modes(self) -> None:
        if self.side.flown:
            return
        assert self.equal is not None
        before: list[f.Formula] = []
        for mode in self.side.setup.modes.values():
            self.equal.charge(PART * len(before))  # each names all before it
            when = f.TRUE if mode.when is None else self.formula(mode.when)
            self.fly(mode.name, f.both(when, *map(f.Not, before)))
            before.append(when)
        self.fly(None, f.both(*map(f.Not, before)))

    def fly(self, mode: str | None, when: f.Formula) -> None:
        name = self.side.joined_name(f"mode {mode or 'none'}")
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
                return f.OutputCompare(side.joined_name(channel), op, number)
            case f.Predicate(name):
                return self.formula(predicate_formula(side.setup, name))
            case f.Active(override):
                return f.Active(side.joined_name(override))
            case f.Decides(channel, override):
                return f.Decides(side.joined_name(channel), None if override is None else side.joined_name(override))
            case f.Rises(channel, stick, by):
                return f.Rises(side.joined_name(channel), side.controls[stick], by)
            case f.Follows(channel, stick):
                return f.Follows(side.joined_name(channel), side.controls[stick])
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
            lending=None if term.lending is None else self.lending(term.lending),
        )

    def lending(self, lending: Lending) -> Lending:
        return Lending(self.formula(lending.lent), self.side.controls[lending.stick])

    def amount(self, amount: Fraction | BySwitch) -> Fraction | BySwitch:
        if not isinstance(amount, BySwitch):
            return amount
        words = self.side.positions[amount.switch]
        at = {words[p]: value for p, value in amount.at.items() if p in words}
        return BySwitch(self.side.controls[amount.switch], at)
