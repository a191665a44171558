"""Two set-ups with the same controls, searched together from the power-ups that both admit, by brute force.

Every position of every switch, every region of sensors, sticks and knobs that a formula of either cuts, and every memory
of both; inside a region of the sticks, places on both sides of wherever either output may turn. Outputs are sets: with a
tie any of its values may win. A curve of unknown smoothing is smoothed in the same way in both.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from itertools import pairwise, product
from random import Random

import numpy as np
from numpy.typing import NDArray

from tests.oracle.cone import END, Box, Cone, Grid, TooBig, term_controls
from tests.oracle.formula import Const, Formula
from tests.oracle.meaning import Choice, Memory, State, Value, World
from tests.oracle.parts import Limits
from tests.oracle.places import NEAR, turning_places
from tests.oracle.search import admits
from tests.oracle.sweep import Sweep, Sweeper

LIMIT = 300_000  # combinations of regions
MOST_MEMORIES = 400
ALONG = 4  # places inside each stretch of a stick
MOST_PLACES = 160  # of several sticks together
Codes = NDArray[np.int64]


class Whole(Cone):
    """Everything of a world, and the numbers of another one too."""

    def __init__(self, world: World, other: World) -> None:
        self.world, self.formula = world, Const(True)
        self.conditions, self.mode, self.channels = set(world.conditions), True, list(world.channels)
        self.formulas = [*formulas_of(world), *formulas_of(other)]
        self.switches, self.analogs, self.sensors = list(world.switches), list(world.analogs), list(world.sensors)
        used = {x for w in (world, other) for c in w.channels.values() for x in term_controls(c)}
        used |= {str(x.name) for f in self.formulas for x in atoms(f)}
        self.switches = [x for x in self.switches if x in used]
        self.analogs = [x for x in self.analogs if x in used]
        self.sensors = [x for x in self.sensors if x in used]


def formulas_of(world: World) -> Iterator[Formula]:
    for node in (*world.conditions, None):
        yield from world.formulas_of(node)
    yield from (o.when for o in world.overrides)
    yield from world.alarms.values()
    yield from timers(world).values()
    yield from world.intent.values()
    if world.requires is not None:
        yield world.requires


def atoms(formula: Formula) -> Iterator[Formula]:
    from tests.oracle.formula import Compare, Is, leaves

    return (x for x in leaves(formula) if isinstance(x, Is | Compare))


def timers(world: World) -> dict[str, Formula]:
    from tests.oracle.formula import parse

    tables = world.data.get("timers", {})
    return {name: parse(t["runs"]) if "runs" in t else Const(True) for name, t in tables.items()}


@dataclass(frozen=True)
class Spot:
    """One state of both: the controls, and the memory of each before it."""

    controls: dict[str, Value]
    memories: tuple[Memory, Memory]
    states: tuple[State, State]


@dataclass(frozen=True)
class Difference:
    """Who decides on each side, an override or None for the line in a mode, and what comes out under one choice."""

    who: tuple[str | None, str | None]
    outputs: tuple[Fraction, Fraction]


class Along:
    """Places of the sticks, each with how a channel differs there; those `apart` where it does."""

    def __init__(self, places: list[tuple[dict[str, Fraction], list[Difference]]]) -> None:
        self.places, self.apart = places, [each for each in places if each[1]]


class Joint:
    """Both set-ups; TooBig where there is too much to search."""

    def __init__(self, old: World, new: World) -> None:
        worlds = old, new
        self.common = True  # whether there is a power-up that both admit
        self.worlds = tuple(w if admits(w) else w.without_start() for w in worlds)
        if not self.admitted():
            self.common = False
            self.worlds = tuple(w.without_start() for w in self.worlds)
        one, two = self.worlds
        hearing = (False, True) if one.sensors else (False,)
        self.grids = [tuple(Grid(Whole(*pair), heard, LIMIT) for pair in ((one, two), (two, one))) for heard in hearing]
        self.sweepers = [tuple(Sweeper(grid) for grid in grids) for grids in self.grids]
        self.known: dict[tuple[str, object], Along] = {}

    def admitted(self) -> bool:
        one, two = self.worlds
        grids = [Grid(Whole(*pair), False, LIMIT) for pair in ((one, two), (two, one))]
        sweepers = [Sweeper(grid) for grid in grids]
        return bool(
            self.allowed(sweepers, [s.sweep(w.memory_off) for s, w in zip(sweepers, self.worlds, strict=True)]).any()
        )

    def allowed(self, sweepers: Iterable[Sweeper], sweeps: Iterable[Sweep]) -> NDArray[np.bool_]:
        found = np.array(True)
        for sweeper, sweep, world in zip(sweepers, sweeps, self.worlds, strict=True):
            if world.requires is not None:
                found = found & sweeper.formula(world.requires, sweep.conditions, sweep.mode)
        return found

    @cached_property
    def memories(self) -> list[tuple[tuple[Memory, Memory], int, bool]]:
        """Every memory of both before a state, the grid of that state, and whether it is power-up."""
        off = tuple(w.memory_off for w in self.worlds)
        found: list[tuple[tuple[Memory, Memory], int, bool]] = [(off, 0, True)]
        known: set[object] = set()
        at = 0
        while at < len(found):
            memories, k, power_up = found[at]
            at += 1
            sweeps = self.sweep(memories, k)
            packed = np.zeros((1,), dtype=np.int64)
            for n, bit in enumerate(b for sweep in sweeps for b in sweep.memory):
                packed = packed | (bit.astype(np.int64) << n)
            if power_up:
                packed = np.where(self.allowed(self.sweepers[0], sweeps), packed, -1)
            size = len(memories[0])
            for code in np.unique(packed).tolist():
                bits = tuple(bool(code >> n & 1) for n in range(size + len(memories[1])))
                for j in range(k, len(self.grids)):
                    key = (bits, j)
                    if code >= 0 and key not in known:
                        known.add(key)
                        found.append(((bits[:size], bits[size:]), j, False))
            if len(found) > MOST_MEMORIES:
                raise TooBig(f"over {MOST_MEMORIES} memories")
        return found

    def sweep(self, memories: tuple[Memory, Memory], k: int) -> list[Sweep]:
        return [sweeper.sweep(memory) for sweeper, memory in zip(self.sweepers[k], memories, strict=True)]

    def spot(self, where: tuple[int, ...], memories: tuple[Memory, Memory], k: int) -> Spot:
        controls = self.grids[k][0].controls(where)
        states = tuple(w.settle(controls, m) for w, m in zip(self.worlds, memories, strict=True))
        return Spot(controls, memories, states)

    def shown(
        self, memories: tuple[Memory, Memory], k: int, power_up: bool, parts: list[Codes]
    ) -> Iterator[tuple[int, ...]]:
        """One place of the grid for every combination of the parts that is admitted."""
        sweeps = self.sweep(memories, k)
        key = np.zeros((1,) * self.sweepers[k][0].rank, dtype=np.int64)
        for part in parts:
            key = key * (int(part.max()) + 1) + part
        if power_up:
            key = np.where(self.allowed(self.sweepers[0], sweeps), key, -1)
        codes, first = np.unique(key, return_index=True)
        for code, index in zip(codes.tolist(), first.tolist(), strict=True):
            if code >= 0:
                yield tuple(int(x) for x in np.unravel_index(index, key.shape))

    def spots(self, count: int) -> Iterator[Spot]:
        """Some states of both, by chance."""
        chance = Random(len(self.memories))
        for _ in range(count):
            memories, k, power_up = chance.choice(self.memories)
            where = tuple(chance.randrange(size) for size in self.grids[k][0].shape)
            spot = self.spot(where, memories, k)
            if not power_up or all(w.allowed(s) for w, s in zip(self.worlds, spot.states, strict=True)):
                yield spot

    # -- what holds in one alone

    def alone(self, old: Formula, new: Formula) -> Iterator[tuple[bool, bool, Spot]]:
        """The values of two formulas, one of each set-up, wherever they are not the same."""
        for memories, k, power_up in self.memories:
            sweeps = self.sweep(memories, k)
            values = [
                sweeper.formula(formula, s.conditions, s.mode)
                for sweeper, formula, s in zip(self.sweepers[k], (old, new), sweeps, strict=True)
            ]
            parts = [v.astype(np.int64) for v in values]
            for where in self.shown(memories, k, power_up, parts):
                spot = self.spot(where, memories, k)
                was, now = (
                    w.plain(f, s.controls, s.conditions, s.mode)
                    for w, f, s in zip(self.worlds, (old, new), spot.states, strict=True)
                )
                if was != now:
                    yield was, now, spot

    def modes(self) -> dict[tuple[str | None, str | None], Spot]:
        """The modes that are flown together somewhere."""
        found: dict[tuple[str | None, str | None], Spot] = {}
        for memories, k, power_up in self.memories:
            sweeps = self.sweep(memories, k)
            for where in self.shown(memories, k, power_up, [s.mode + 1 for s in sweeps]):
                spot = self.spot(where, memories, k)
                found.setdefault((spot.states[0].mode, spot.states[1].mode), spot)
        return found

    # -- outputs

    def outputs(self, channel: str) -> Iterator[tuple[Spot, dict[str, Fraction], list[Difference]]]:
        """States of both that stand for all others, each with the sticks at a place that stands for others where the
        channel differs; and in what it does."""
        for memories, k, power_up in self.memories:
            sweeps = self.sweep(memories, k)
            read = self.read(channel)
            grid = self.grids[k][0]
            parts: list[Codes] = [s.mode + 1 for s in sweeps]
            for world, sweeper, sweep in zip(self.worlds, self.sweepers[k], sweeps, strict=True):
                for override in world.overrides:
                    if override.channel == channel:
                        active = sweeper.formula(override.when, sweep.conditions, sweep.mode)
                        parts.append(active.astype(np.int64))
            parts += [grid.numbers(axis.name) for axis in grid.axes if axis.name in read]
            for where in self.shown(memories, k, power_up, parts):
                spot = self.spot(where, memories, k)
                for sticks, found in self.along(channel, spot).apart:
                    yield spot, sticks, found

    def along(self, channel: str, spot: Spot) -> Along:
        """The sticks that the channel reads at places in the region where they are, and how it differs there."""
        read = self.flown(channel, spot)
        box = {x: self.region(x, spot.controls[x]) for x in self.grids[0][0].boxes if x in read}
        deciding = [self.deciders(n, channel, spot.states[n]) for n in (0, 1)]
        positions = tuple(spot.controls[x] for x in self.worlds[0].switches)
        key = (
            channel,
            (
                repr((deciding, [w.is_lent(s) for w, s in zip(self.worlds, spot.states, strict=True)])),
                spot.states[0].mode,
                spot.states[1].mode,
                positions,
                tuple(box.items()),
            ),
        )
        if key not in self.known:
            axes = [[(name, x) for x in self.places(channel, name, spot, lo, hi)] for name, (lo, hi) in box.items()]
            total = int(np.prod([len(a) for a in axes], dtype=object)) if axes else 1
            if total > MOST_PLACES:
                chosen = Random(repr(key))
                axes = [chosen.sample(a, min(len(a), max(2, int(MOST_PLACES ** (1 / len(axes)))))) for a in axes]
            choices = list(self.smoothings(channel, spot.states))  # as who decides, the same everywhere in a region
            self.known[key] = Along(
                [(dict(p), self.differences(channel, spot, dict(p), deciding, choices)) for p in product(*axes)]
            )
        return self.known[key]

    def read(self, channel: str) -> set[str]:
        return set().union(*(term_controls(w.channels[channel]) for w in self.worlds))

    def flown(self, channel: str, spot: Spot) -> set[str]:
        """The sticks that turn the channel there, on either side."""
        found: set[str] = set()
        for world, state in zip(self.worlds, spot.states, strict=True):
            line = world.channels[channel].lines[state.mode]
            found |= {
                x for t in (() if world.taken(channel, state) else line.terms or ()) for x in (t.source, t.pupil) if x
            }
        return found

    def region(self, stick: str, at: Value) -> Box:
        return next(b for b in self.grids[0][0].boxes[stick] if b[0] == at == b[1] or b[0] < Fraction(at) < b[1])

    def places(self, channel: str, stick: str, spot: Spot, lo: Fraction, hi: Fraction) -> list[Fraction]:
        """Places of a stick in a region: beside every place where either term may turn, and between."""
        if lo == hi:
            return [lo]
        marks = {lo, hi}
        for world, state in zip(self.worlds, spot.states, strict=True):
            line = world.channels[channel].lines[state.mode]
            for term in () if world.taken(channel, state) else line.terms or ():
                if term.kind == "analog" and stick in (term.source, term.pupil):
                    for choice in world.choices(state, [channel]):
                        marks |= set(turning_places(world, term, spot.controls, choice))
        inside = sorted(x for x in marks if lo <= x <= hi)
        found = {x + d for x in inside for d in (-NEAR, Fraction(0), NEAR)}
        found |= {a + (b - a) * n / (ALONG + 1) for a, b in pairwise(inside) for n in range(1, ALONG + 1)}
        closed = [abs(x) == END for x in (lo, hi)]
        return sorted(x for x in found if lo < x < hi or (x == lo and closed[0]) or (x == hi and closed[1]))

    def deciders(self, side: int, channel: str, state: State) -> dict[str | None, Fraction | Limits | None]:
        """The overrides that may decide, with what they demand; None for the line."""
        world = self.worlds[side]
        active = [
            o
            for o in world.overrides
            if o.channel == channel and world.plain(o.when, state.controls, state.conditions, state.mode)
        ]
        top = max((o.priority for o in active), default=None)
        return {o.name: o.value for o in active if o.priority == top} or {None: None}

    def differences(
        self,
        channel: str,
        spot: Spot,
        sticks: Mapping[str, Fraction],
        deciding: list[dict[str | None, Fraction | Limits | None]],
        choices: list[tuple[Choice, Choice]],
    ) -> list[Difference]:
        """Under the same choice of the smoothings that both have: what one may put out and the other may not."""
        states = [State({**s.controls, **sticks}, s.conditions, s.mode, s.memory) for s in spot.states]
        found: list[Difference] = []
        for choice in choices:
            able = [
                {who: world.output(channel, state, {**own, ("tie", channel): value}) for who, value in each.items()}
                for world, state, each, own in zip(self.worlds, states, deciding, choice, strict=True)
            ]
            if None in (*able[0].values(), *able[1].values()):
                continue
            values = [set(a.values()) for a in able]
            for (a, x), (b, y) in product(able[0].items(), able[1].items()):
                if x not in values[1] or y not in values[0]:
                    assert x is not None
                    assert y is not None
                    found += [Difference((a, b), (x, y))] if x != y else []
        return found

    def smoothings(self, channel: str, states: tuple[State, State]) -> Iterator[tuple[Choice, Choice]]:
        choices = [
            list(
                {
                    repr(c): c
                    for c in ({k: v for k, v in c.items() if k[0] == "curve"} for c in w.choices(s, [channel]))
                }.values()
            )
            for w, s in zip(self.worlds, states, strict=True)
        ]
        for one, two in product(*choices):
            if all(one[key] == two[key] for key in one if key in two):
                yield one, two
