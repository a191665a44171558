"""The settled states of a setup on a grid, all at once, after one step from a memory.

Meaning is read from the oracle's parts (tests/oracle, written from MEANING.md alone); nothing here knows the package under test.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from fractions import Fraction
from functools import reduce
from itertools import pairwise, permutations, product
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

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
)
from tests.oracle.meaning import World
from tests.oracle.parts import Limits, Line, Term

from .grid import RECEIVER, VOLTS, Array, Choice, Fixed, Floats, Grid, through

T = TypeVar("T")


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

    def known_of(self, what: str, channel: str, choice: Choice, worked_out: Callable[[], T]) -> T:
        """What was worked out before of a channel, or is now."""
        key = (what, channel, chosen(choice))
        if key not in self.known:
            self.known[key] = worked_out()
        found: T = self.known[key]
        return found

    @property
    def heard(self) -> Array:
        return self.is_at(RECEIVER, "on")

    def volts_below(self, number: Fraction) -> Array:
        return self.grid.along(VOLTS, [x < number for x in self.grid.axes[VOLTS]])

    def plain(self, formula: Formula) -> Array:
        """Where a formula without outputs holds."""
        key = ("plain", id(formula))
        if key not in self.known:
            self.known[key] = self._plain(formula), formula  # which is kept, or its id were another's
        found: Array = self.known[key][0]
        return found

    def _plain(self, formula: Formula) -> Array:
        match formula:
            case Const(value):
                return self.grid.constant(value is True)
            case Not(part):
                return ~self.plain(part)
            case And(parts):
                return reduce(np.logical_and, map(self.plain, parts), self.grid.constant(True))
            case Or(parts):
                return reduce(np.logical_or, map(self.plain, parts), self.grid.constant(False))
        return self.leaf(formula)

    def truth(
        self, formula: Formula, choice: Choice, trim: Mapping[str, Fraction] | None = None
    ) -> tuple[Array, Array]:
        """Where it is true and where it is false; neither, where something is not described."""
        if self.grid.is_plain(formula):
            return self.plain(formula), ~self.plain(formula)
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
        raise ValueError(f"{formula} may not stand here")

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
        key = (channel, chosen(choice), tuple(sorted((trim or {}).items())))
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
        found = self.sum_of(self.world.channels[channel].lines[None], choice, trim)
        for k, line in self.grid.others(channel):
            found = np.where(self.mode == k, self.sum_of(line, choice, trim), found)
        return found

    def sum_of(self, line: Line, choice: Choice, trim: Mapping[str, Fraction] | None) -> Floats:
        if line.terms is None:
            return self.grid.constant(np.nan)
        kinds = [choice.get(("curve", t.curve), next(iter(self.world.curves[t.curve]))) if t.curve else ""
                 for t in line.terms]  # fmt: skip
        trims = [(trim or {}).get(term.source, Fraction(0)) for term in line.terms]
        put = [self.fixed.get(name) for term in line.terms for name in self.grid.sources(term)]
        lent = self if self.world.lent is not None and any(term.pupil for term in line.terms) else None
        key = (id(line.terms), *kinds, *trims, *put, lent)
        if key not in self.grid.sums:
            parts = map(self.shape, line.terms, kinds, trims)
            self.grid.sums[key] = reduce(np.add, parts, self.grid.constant(0.0))
        return self.grid.sums[key]

    def shape(self, term: Term, kind: str, trim: Fraction) -> Floats:
        own = self.grid.shape(term, kind, self.fixed, trim)
        if not term.pupil or self.world.lent is None:
            return own
        pupil = self.grid.shape(self.grid.pupil(term), kind, self.fixed, Fraction(0))
        return np.asarray(np.where(self.plain(self.world.lent), pupil, own))

    def deciding(self, channel: str, choice: Choice) -> list[tuple[Fraction | Limits, Array]]:
        """The channel's overrides, weakest first: what it demands, where active. Ties as the choice has them."""
        order = choice.get(("tie", channel), ())
        key = ("deciding", channel, order)
        if key not in self.known:
            self.known[key] = [(o.value, self.plain(o.when)) for o in self.grid.weakest_first(channel, order)]
        found: list[tuple[Fraction | Limits, Array]] = self.known[key]
        return found

    def decided(self, channel: str) -> Array:
        """Where an override decides, with a value or as a limit."""
        found = self.grid.constant(False)
        for _, active in self.deciding(channel, {}):
            found = found | active
        return found

    def taken(self, channel: str, choice: Choice) -> Array:
        """Where an override with a value decides."""

        def worked_out() -> Array:
            found = self.grid.constant(False)
            for value, active in self.deciding(channel, choice):
                found = np.where(active, isinstance(value, Fraction), found)
            return found

        return self.known_of("taken", channel, choice, worked_out)

    def follows(self, channel: str, choice: Choice, only: str | None = None) -> Array:
        """Where no override with a value decides and some stick or knob (only this one), all else kept, changes the output."""

        def worked_out() -> Array:
            sticks = [only, *([self.world.pupils[only]] if only in self.world.pupils else [])] if only else None
            return self._follows(channel, choice, sticks or self.world.analogs)

        return self.known_of(f"follows {only}", channel, choice, worked_out)

    def _follows(self, channel: str, choice: Choice, sticks: Iterable[str]) -> Array:
        found, free = self.grid.constant(False), ~self.taken(channel, choice)
        out = self.output(channel, choice)
        size = np.broadcast_shapes(out.shape, free.shape, self.mode.shape)
        where = np.broadcast_to(free, size)
        moving = [axis for stick in sticks if size[axis := self.grid.index[stick]] > 1]
        kept = self.kept(channel, moving)
        for k in np.unique(kept) if moving else ():
            flown = where & (kept == k)
            here = flown & ~np.isnan(out)
            low, high = np.where(here, out, 999.0), np.where(here, out, -999.0)
            for axis in moving:
                turned = np.max(high, axis=axis, keepdims=True) > np.min(low, axis=axis, keepdims=True)
                found = found | (flown & turned)
        return found

    def kept(self, channel: str, axes: Sequence[int]) -> NDArray[np.int64]:
        """A number for each mode with the conditions that the channel rests on and a stick turns: the same where all is kept."""
        formulas = [o.when for o in self.world.overrides if o.channel == channel]
        formulas += self.world.formulas_of(None) if self.grid.others(channel) else []
        formulas += [self.world.lent] if self.world.lent is not None and self.world.lends(channel) else []
        names = {leaf.name for each in formulas for leaf in through(self.world, each) if isinstance(leaf, Condition)}
        found = self.mode
        for name in sorted(names):
            value = self.conditions[name]
            if any(value.shape[axis] > 1 for axis in axes):
                found = found * 2 + value
        return found


def chosen(choice: Choice) -> tuple[tuple[tuple[str, str], str], ...]:
    """A choice as a key."""
    return tuple(sorted((k, str(v)) for k, v in choice.items())) if choice else ()


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
