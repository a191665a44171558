"""A finite grid of a setup's controls, and all settled states on it at once, as arrays.

Every array broadcasts over the grid's axes and is as small as what it depends on. Meaning is read from the oracle's parts
(tests/oracle, written from MEANING.md alone); nothing here knows the package under test.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise, permutations, product
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tests.oracle.cone import boxes
from tests.oracle.formula import (
    OPS,
    And,
    Compare,
    Condition,
    Const,
    Formula,
    Is,
    ModeIs,
    Not,
    Or,
    Output,
    conditions_in,
    leaves,
    parse,
)
from tests.oracle.meaning import World
from tests.oracle.parts import Limits, Line, Term, number

Array = NDArray[np.bool_]
Floats = NDArray[np.float64]
Choice = Mapping[tuple[str, str], Any]
Fixed = Mapping[str, Any]  # a control that is put somewhere: a switch's position, a stick's place
NEAR = Fraction(1, 1000)
RECEIVER = "the receiver"
VOLTS = "a cell's voltage"
FLOORS = ("2.8", "3.0", "3.3", "3.65", "4.2", "4.35")  # cells: least under load and full, RULES.md
SUPPLY_FLOORS = {"lipo": "3.4", "lihv": "3.4", "li-ion": "3.2", "life": "3.0", "nimh": "1.15"}  # volts a cell


def all_formulas(world: World) -> list[Formula]:
    """Every formula of the file."""
    found = [f for node in world.order for f in world.formulas_of(node)]
    found += [o.when for o in world.overrides] + [*world.alarms.values(), *world.intent.values()]
    found += [world.requires] if world.requires is not None else []
    found += [parse(t["runs"]) for t in world.data.get("timers", {}).values() if "runs" in t]
    return found + [world.parse(t.get("never") or t["always"]) for t in world.data.get("claims", [])]


def through(world: World, formula: Formula) -> Iterator[Formula]:
    """The leaves of a formula, through the conditions that it names."""
    seen: set[str] = set()
    todo = [formula]
    while todo:
        one = todo.pop()
        yield from leaves(one)
        for name in sorted(conditions_in(one) - seen):
            seen.add(name)
            todo += world.formulas_of(name)


def supply_floor(table: Mapping[str, Any] | None) -> Fraction:
    """The floor of the receiver's supply in volts."""
    if table is None:
        return Fraction("4.8")
    if table["kind"] == "regulator":
        return number(table["volts"]) * Fraction(9, 10)
    return Fraction(SUPPLY_FLOORS[table["kind"]]) * int(table["cells"])


class Grid:
    """The values tried of every control. `more` adds places of sticks and knobs, and values of sensors."""

    def __init__(self, world: World, more: Mapping[str, Iterable[Fraction]] | None = None) -> None:
        self.world = world
        self.more = {name: set(values) for name, values in (more or {}).items()}
        self.cuts: dict[str, set[Fraction]] = {}
        for formula in all_formulas(world):
            for leaf in leaves(formula):
                if isinstance(leaf, Compare):
                    self.cuts.setdefault(leaf.name, set()).add(leaf.number)
        self.axes: dict[str, list[Any]] = {name: list(words) for name, words in world.switches.items()}
        self.axes[RECEIVER] = ["off", "on"] if world.sensors else ["off"]
        for name in world.analogs:
            self.axes[name] = sorted(self.places(name))
        self.add_sensors()
        self.index = {name: k for k, name in enumerate(self.axes)}
        self.rank = len(self.axes)
        self.shapes: dict[Any, Floats] = {}
        self.pupils: dict[int, Term] = {}
        self.leaves: dict[Any, Array] = {}  # what asks of controls alone, by what it asks and where these are put

    def lines(self) -> Iterator[tuple[str, Line]]:
        for channel in self.world.channels.values():
            for line in channel.lines.values():
                yield channel.drives, line

    def places(self, stick: str) -> set[Fraction]:
        """Ends, middle, an even grid, what formulas compare with and its neighbours, where curves bend and turn."""
        readers = [(d, t) for d, line in self.lines() for t in line.terms or () if stick in (t.source, t.pupil)]
        fine = any(drives in ("motor", "collective") for drives, _ in readers)
        found = {Fraction(x) for x in range(-100, 101, 5 if fine else 25)} if readers else {Fraction(0)}
        for cut in self.cuts.get(stick, ()):
            found |= {cut - NEAR, cut, cut + NEAR}
        for _, term in readers:
            for curve in self.world.curves[term.curve].values() if term.curve and fine else ():
                found |= set(curve.turns())
        found |= self.more.get(stick, set()) | {self.world.rest[stick]}  # type: ignore[arg-type]
        return {x for x in found if -100 <= x <= 100}

    def add_sensors(self) -> None:
        world = self.world
        volts: set[Fraction] = {Fraction(x) for x in FLOORS}
        sharing = []
        for name in world.sensors:
            low, high = world.range_of(name)
            cuts = self.cuts.get(name, set()) | self.more.get(name, set())
            factor = world.cell_factor(name)
            if factor is not None:
                volts |= {x / factor for x in cuts}
                sharing.append(name)
            else:
                floor = supply_floor(world.data.get("receiver-supply"))
                cuts |= {floor} if world.sensors[name] == "receiver-voltage" else set()
                capacity = world.data.get("battery", {}).get("capacity-mah", 0)
                cuts |= {Fraction(str(capacity)) * 8 / 10} if world.sensors[name] == "charge-used" else set()
                self.axes[name] = ["lost", *((a + b) / 2 for a, b in boxes(cuts, low, high))]
        if sharing:
            self.axes[VOLTS] = [(a + b) / 2 for a, b in boxes(volts, Fraction(0), Fraction(5))]
            self.axes |= {f"{name} lost": ["no", "yes"] for name in sharing}

    def along(self, axis: str, values: Sequence[Any] | NDArray[Any]) -> NDArray[Any]:
        """Something for each value of an axis, shaped to be joined with other axes."""
        shape = [1] * self.rank
        shape[self.index[axis]] = -1
        return np.asarray(values).reshape(shape)

    def constant(self, value: Any) -> NDArray[Any]:
        return np.full((1,) * self.rank, value)

    def read(self, name: str, fixed: Fixed) -> tuple[list[Any], bool]:
        """The values of a control, and whether they lie along its axis."""
        return ([fixed[name]], False) if name in fixed else (self.axes[name], True)

    def spread(self, name: str, fixed: Fixed, values: Sequence[Any]) -> NDArray[Any]:
        return self.constant(values[0]) if name in fixed else self.along(name, values)

    def shape(self, term: Term, kind: str, fixed: Fixed, trim: Fraction) -> Floats:
        """What a term gives at all places of its stick or switch, for all positions of those that turn it."""
        turning = [x.switch for x in (term.rate, term.expo) if x.switch and x.switch not in fixed]
        names = list(dict.fromkeys([*turning, *([term.source] if term.source and term.source not in fixed else [])]))
        key = (id(term), kind, trim, tuple(fixed.get(x) for x in self.sources(term)))
        if key in self.shapes:
            return self.shapes[key]
        shape = [1] * self.rank
        for name in names:
            shape[self.index[name]] = len(self.axes[name])
        found = np.zeros(shape)
        for where in product(*(range(len(self.axes[name])) for name in names)):
            controls = {**self.world.rest, **fixed}
            controls |= {name: self.axes[name][k] for name, k in zip(names, where, strict=True)}
            at = [0] * self.rank
            for name, k in zip(names, where, strict=True):
                at[self.index[name]] = k
            choice = {("curve", term.curve): kind} if term.curve else {}
            found[tuple(at)] = float(self.world.term(term, controls, choice, {term.source: trim}))
        self.shapes[key] = found
        return found

    def pupil(self, term: Term) -> Term:
        """The same term, read from the pupil's place of its stick."""
        if id(term) not in self.pupils:
            self.pupils[id(term)] = replace(term, source=term.pupil)
        return self.pupils[id(term)]

    @staticmethod
    def sources(term: Term) -> list[str]:
        return [x for x in (term.source, term.rate.switch, term.expo.switch) if x]


class Moment:
    """The settled states after one step from a memory, whatever the controls (but for those that are put somewhere).

    `memory` are the bits before the step, each an array. With `cold` no `after` has run out yet: the first instant.
    """

    def __init__(self, grid: Grid, memory: Sequence[Array], fixed: Fixed | None = None, cold: bool = False) -> None:
        self.grid, self.world, self.fixed, self.before = grid, grid.world, dict(fixed or {}), list(memory)
        self.conditions: dict[str, Array] = {}
        self.mode: NDArray[np.int64] = grid.constant(-1)
        self.modes = {name: k for k, name in enumerate(self.world.modes)}
        self.known: dict[Any, Any] = {}
        bits = list(memory)
        for node in self.world.order:
            if node is None:
                for name, when in reversed(self.world.modes.items()):
                    holds = grid.constant(True) if when is None else self.plain(when)
                    self.mode = np.where(holds, self.modes[name], self.mode)
                continue
            condition = self.world.conditions[node]
            value = self.plain(condition.when) & (not (cold and condition.after))
            if condition.remembers:
                at = self.world.memory_at[node]
                if condition.toggles:
                    bits[at], bits[at + 1] = bits[at] ^ (value & ~bits[at + 1]), value
                else:
                    assert condition.until is not None
                    bits[at] = (bits[at] | value) & ~self.plain(condition.until)
                value = bits[at]
            self.conditions[node] = value
        self.memory = bits

    def moved(self, switch: str, word: str) -> Moment:
        """The settled states after one more movement."""
        key = (switch, word)
        if key not in self.known:
            self.known[key] = Moment(self.grid, self.memory, {**self.fixed, switch: word})
        found: Moment = self.known[key]
        return found

    def next(self) -> Moment:
        """The settled states after one more step, with the memory that this one leaves."""
        if "next" not in self.known:
            self.known["next"] = Moment(self.grid, self.memory, self.fixed)
        found: Moment = self.known["next"]
        return found

    def at(self, controls: Fixed) -> Moment:
        """The same step with controls put somewhere in it, a stick's pupil's place like the stick."""
        pupils = self.world.pupils
        controls = {**controls, **{pupils[name]: where for name, where in controls.items() if name in pupils}}
        key = tuple(sorted(controls.items()))
        if not key:
            return self
        if ("at", key) not in self.known:
            self.known["at", key] = Moment(self.grid, self.before, {**self.fixed, **controls})
        found: Moment = self.known["at", key]
        return found

    def is_at(self, switch: str, word: str) -> Array:
        key = (switch, word, self.fixed.get(switch))
        if key not in self.grid.leaves:
            values, _ = self.grid.read(switch, self.fixed)
            self.grid.leaves[key] = self.grid.spread(switch, self.fixed, [x == word for x in values])
        return self.grid.leaves[key]

    @property
    def heard(self) -> Array:
        return self.is_at(RECEIVER, "on")

    def volts_below(self, number: Fraction) -> Array:
        return self.grid.along(VOLTS, [x < number for x in self.grid.axes[VOLTS]])

    def plain(self, formula: Formula) -> Array:
        key = ("plain", id(formula))
        if key not in self.known:
            self.known[key] = self.truth(formula, {})[0], formula  # which is kept, or its id were another's
        found: Array = self.known[key][0]
        return found

    def truth(
        self, formula: Formula, choice: Choice, trim: Mapping[str, Fraction] | None = None
    ) -> tuple[Array, Array]:
        """Where it is true and where it is false; neither, where something is not described."""
        match formula:
            case Const(value):
                return self.grid.constant(value is True), self.grid.constant(value is False)
            case Not(part):
                yes, no = self.truth(part, choice, trim)
                return no, yes
            case And(parts) | Or(parts):
                pairs = [self.truth(part, choice, trim) for part in parts]
                both = isinstance(formula, And)
                yes, no = self.grid.constant(both), self.grid.constant(not both)
                for y, n in pairs:
                    yes, no = (yes & y, no | n) if both else (yes | y, no & n)
                return yes, no
            case Output(channel, op, number):
                out = self.output(channel, choice, trim)
                yes, known = OPS[op](out, float(number)), ~np.isnan(out)  # type: ignore[arg-type]
                return np.asarray(yes), np.asarray(known & ~np.asarray(yes))
        value = self.leaf(formula)
        return value, ~value

    def leaf(self, leaf: Formula) -> Array:
        match leaf:
            case Condition(name):
                return self.conditions[name]
            case ModeIs(name):
                return np.asarray(self.mode == self.modes[name])
            case Is(name, word) if name in self.world.switches:
                return self.is_at(name, word)
            case Is(name, _):
                return self.lost(name)
            case Compare(name, op, number):
                read = (name, RECEIVER, f"{name} lost")
                key = (name, op, number, *(self.fixed.get(x) for x in read))
                if key not in self.grid.leaves:
                    self.grid.leaves[key] = self.compare(name, op, number)
                return self.grid.leaves[key]
        raise ValueError(f"{leaf} may not stand here")

    def lost(self, sensor: str) -> Array:
        axis, word = (f"{sensor} lost", "yes") if self.world.cell_factor(sensor) else (sensor, "lost")
        return self.heard & self.is_at(axis, word)

    def compare(self, name: str, op: str, number: Fraction) -> Array:
        if name not in self.world.sensors:
            values, _ = self.grid.read(name, self.fixed)
            return self.grid.spread(name, self.fixed, [OPS[op](x, number) for x in values])
        factor = self.world.cell_factor(name)
        axis = name if factor is None else VOLTS
        values = [x != "lost" and OPS[op](x * (factor or 1), number) for x in self.grid.axes[axis]]
        return self.heard & self.grid.along(axis, values) & ~self.lost(name)

    def output(self, channel: str, choice: Choice, trim: Mapping[str, Fraction] | None = None) -> Floats:
        """Percent, rounded; NaN where not described and no override decides."""
        key = (channel, tuple(sorted((k, str(v)) for k, v in choice.items())), tuple(sorted((trim or {}).items())))
        if key not in self.known:
            demand = line = self.line(channel, choice, trim)
            for value, active in self.deciding(channel, choice):
                demand = np.where(active, given(value, line), demand)
            self.known[key] = self.servo(channel, demand)
        found: Floats = self.known[key]
        return found

    def servo(self, channel: str, demand: Floats) -> Floats:
        servo = self.world.channels[channel]
        value = -demand if servo.reversed else demand
        value = value * np.where(value < 0, float(servo.travel[0]), float(servo.travel[1])) / 100
        limited = np.clip(value + float(servo.sub_trim), float(servo.low), float(servo.high))
        return np.asarray(np.round(limited, 6))

    def line(self, channel: str, choice: Choice, trim: Mapping[str, Fraction] | None = None) -> Floats:
        """The sum of the terms of the line that is flown."""
        lines = self.world.channels[channel].lines
        found = self.sum_of(lines[None], choice, trim)
        by_line = {id(lines[None].terms): found}
        for name, k in self.modes.items():
            if lines[name].terms == lines[None].terms:
                continue
            here = by_line.setdefault(id(lines[name].terms), self.sum_of(lines[name], choice, trim))
            found = np.where(self.mode == k, here, found)
        return found

    def sum_of(self, line: Line, choice: Choice, trim: Mapping[str, Fraction] | None) -> Floats:
        if line.terms is None:
            return self.grid.constant(np.nan)
        found = self.grid.constant(0.0)
        for term in line.terms:
            kinds = list(self.world.curves[term.curve]) if term.curve else [""]
            kind = choice.get(("curve", term.curve or ""), kinds[0])
            found = found + self.shape(term, kind, (trim or {}).get(term.source, Fraction(0)))
        return found

    def shape(self, term: Term, kind: str, trim: Fraction) -> Floats:
        own = self.grid.shape(term, kind, self.fixed, trim)
        if not term.pupil or self.world.lent is None:
            return own
        pupil = self.grid.shape(self.grid.pupil(term), kind, self.fixed, Fraction(0))
        return np.asarray(np.where(self.plain(self.world.lent), pupil, own))

    def deciding(self, channel: str, choice: Choice) -> list[tuple[Fraction | Limits, Array]]:
        """The channel's overrides, weakest first: what it demands, where active. Ties as the choice has them."""
        order = choice.get(("tie", channel), ())
        mine = [o for o in self.world.overrides if o.channel == channel]
        mine.sort(key=lambda o: (o.priority, order.index(o.name) if o.name in order else -1))
        return [(o.value, self.plain(o.when)) for o in mine]

    def decided(self, channel: str) -> Array:
        """Where an override decides, with a value or as a limit."""
        found = self.grid.constant(False)
        for _, active in self.deciding(channel, {}):
            found = found | active
        return found

    def taken(self, channel: str, choice: Choice) -> Array:
        """Where an override with a value decides."""
        found = self.grid.constant(False)
        for value, active in self.deciding(channel, choice):
            found = np.where(active, isinstance(value, Fraction), found)
        return found

    def follows(self, channel: str, choice: Choice, only: str | None = None) -> Array:
        """Where no override with a value decides and some stick or knob (only this one), all else kept, changes the output."""
        key = ("follows", channel, str(choice), only)
        if key not in self.known:
            asked = (
                [only, *([self.world.pupils[only]] if only in self.world.pupils else [])]
                if only
                else self.world.analogs
            )
            self.known[key] = self._follows(channel, choice, asked)
        known: Array = self.known[key]
        return known

    def _follows(self, channel: str, choice: Choice, sticks: Iterable[str]) -> Array:
        found, free = self.grid.constant(False), ~self.taken(channel, choice)
        out = self.output(channel, choice)
        size = np.broadcast_shapes(out.shape, free.shape, self.mode.shape)
        where = np.broadcast_to(free, size)
        whole = np.where(where, out, np.nan)
        for stick in sticks:
            axis = self.grid.index[stick]
            if size[axis] == 1:
                continue
            for k in {-1, *self.modes.values()}:
                here = np.where(np.broadcast_to(self.mode, size) == k, whole, np.nan)
                high = np.max(np.nan_to_num(here, nan=-999.0), axis=axis, keepdims=True)
                low = np.min(np.nan_to_num(here, nan=999.0), axis=axis, keepdims=True)
                found = found | ((self.mode == k) & (high > low) & (low < 900) & where)
        return found


def given(demanded: Fraction | Limits, line: Floats) -> Floats | float:
    """What an override makes of a line's sum."""
    if isinstance(demanded, Fraction):
        return float(demanded)
    low, high = (x if x is None else float(x) for x in (demanded.low, demanded.high))
    return np.asarray(np.where(np.isnan(line), line, np.clip(line, low, high)))


def overridden(moment: Moment, channel: str) -> Array:
    """Where an override is active, with a value or as a limit."""
    found = moment.grid.constant(False)
    for _, active in moment.deciding(channel, {}):
        found = found | active
    return found


def choices(world: World) -> list[Choice]:
    """Every way in which ties may end and unknown smoothings may be."""
    open_: dict[tuple[str, str], list[Any]] = {}
    for name, kinds in world.curves.items():
        if len(kinds) > 1:
            open_[("curve", name)] = list(kinds)
    for channel in world.channels:
        mine = sorted((o for o in world.overrides if o.channel == channel), key=lambda o: o.priority)
        tied = {x for a, b in pairwise(mine) if a.priority == b.priority for x in (a.name, b.name)}
        if len({o.value for o in mine if o.name in tied}) > 1:
            open_[("tie", channel)] = list(permutations(sorted(tied)))[:24]
    return [dict(zip(open_, values, strict=True)) for values in product(*open_.values())]
