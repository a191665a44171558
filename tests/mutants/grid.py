"""A finite grid of a setup's controls, and all settled states on it at once, as arrays.

Every array broadcasts over the grid's axes and is as small as what it depends on. Meaning is read from the oracle's parts
(tests/oracle, written from MEANING.md alone); nothing here knows the package under test.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache
from itertools import product
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tests.oracle.cone import boxes
from tests.oracle.curves import Curve, shaped
from tests.oracle.formula import (
    Compare,
    Const,
    Formula,
    Output,
    conditions_in,
    leaves,
    parse,
)
from tests.oracle.meaning import World
from tests.oracle.parts import Line, Override, Term, number

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


class Places:
    """Places of a stick, which are compared once, not whenever they are a key."""

    def __init__(self, where: tuple[Fraction, ...]) -> None:
        self.where = where


places_of = lru_cache(2_000)(Places)


@lru_cache(5_000)
def shapes_at(curve: Curve | None, expo: Fraction, rate: Fraction, places: Places) -> Floats:
    """curve(expo(rate × stick)) at these places; the mutants of an example have most of their lines in common."""
    return np.array([float(shaped(curve, expo, rate, place)) for place in places.where])


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
        self.along_sticks: dict[tuple[str, Fraction], Places] = {}
        self.plain: dict[int, tuple[bool, Formula]] = {}
        self.constants: dict[Any, NDArray[Any]] = {}
        self.sums: dict[Any, Floats] = {}  # of terms, which no memory changes, alike
        self.in_modes: dict[str, list[tuple[int, Line]]] = {}
        self.ranked: dict[Any, list[Override]] = {}

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
        key = (type(value), value)
        if key not in self.constants:
            self.constants[key] = np.full((1,) * self.rank, value)
            self.constants[key].flags.writeable = False  # it is everybody's
        return self.constants[key]

    def read(self, name: str, fixed: Fixed) -> tuple[list[Any], bool]:
        """The values of a control, and whether they lie along its axis."""
        return ([fixed[name]], False) if name in fixed else (self.axes[name], True)

    def spread(self, name: str, fixed: Fixed, values: Sequence[Any]) -> NDArray[Any]:
        return self.constant(values[0]) if name in fixed else self.along(name, values)

    def shape(self, term: Term, kind: str, fixed: Fixed, trim: Fraction) -> Floats:
        """What a term gives at all places of its stick or switch, for all positions of those that turn it."""
        key = (id(term), kind, trim, *(fixed.get(x) for x in self.sources(term)))
        if key not in self.shapes:
            self.shapes[key] = self._shape(term, kind, fixed, trim)
        return self.shapes[key]

    def _shape(self, term: Term, kind: str, fixed: Fixed, trim: Fraction) -> Floats:
        if term.kind == "number":
            return self.constant(float(term.constant))
        values, along = self.read(term.source, fixed)
        if term.kind == "switch":
            return self.spread(term.source, fixed, [float(term.values[word]) for word in values])
        turning = [x for x in dict.fromkeys((term.rate.switch, term.expo.switch)) if x and x not in fixed]
        shape = [1] * self.rank
        for name in (*turning, *([term.source] if along else [])):
            shape[self.index[name]] = len(self.axes[name])
        found, curve = np.zeros(shape), self.world.curves[term.curve][kind] if term.curve else None
        places = self.trimmed(term.source, trim) if along else places_of((values[0] + trim,))
        for words in product(*(self.axes[name] for name in turning)):
            at: list[Any] = [slice(None) if along and n == self.index[term.source] else 0 for n in range(self.rank)]
            for name, word in zip(turning, words, strict=True):
                at[self.index[name]] = self.axes[name].index(word)
            controls = {**fixed, **dict(zip(turning, words, strict=True))}
            values_there = shapes_at(curve, term.expo.value(controls), term.rate.value(controls), places)
            found[tuple(at)] = values_there if along else values_there[0]
        return found

    def trimmed(self, stick: str, trim: Fraction) -> Places:
        if (stick, trim) not in self.along_sticks:
            self.along_sticks[stick, trim] = places_of(tuple(x + trim if trim else x for x in self.axes[stick]))
        return self.along_sticks[stick, trim]

    def is_plain(self, formula: Formula) -> bool:
        """Whether it is true or false in every state: it names no output, and nothing that is not described."""
        if id(formula) not in self.plain:
            doubtful = any(isinstance(leaf, Output) or leaf == Const(None) for leaf in leaves(formula))
            self.plain[id(formula)] = not doubtful, formula  # which is kept, or its id were another's
        return self.plain[id(formula)][0]

    def others(self, channel: str) -> list[tuple[int, Line]]:
        """The modes in which the channel has another line than without a mode."""
        if channel not in self.in_modes:
            lines = self.world.channels[channel].lines
            known = lines[None].terms
            numbered = [(k, lines[name]) for k, name in enumerate(self.world.modes)]
            self.in_modes[channel] = [(k, line) for k, line in numbered if line.terms != known]
        return self.in_modes[channel]

    def weakest_first(self, channel: str, order: Sequence[str]) -> list[Override]:
        """The channel's overrides; ties as the order has them."""
        if (channel, order) not in self.ranked:
            mine = [o for o in self.world.overrides if o.channel == channel]
            mine.sort(key=lambda o: (o.priority, order.index(o.name) if o.name in order else -1))
            self.ranked[channel, order] = mine
        return self.ranked[channel, order]

    def pupil(self, term: Term) -> Term:
        """The same term, read from the pupil's place of its stick."""
        if id(term) not in self.pupils:
            self.pupils[id(term)] = replace(term, source=term.pupil)
        return self.pupils[id(term)]

    @staticmethod
    def sources(term: Term) -> list[str]:
        return [x for x in (term.source, term.rate.switch, term.expo.switch) if x]
