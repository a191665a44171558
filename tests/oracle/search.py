"""Breadth-first search from power-up over memory, every region of the controls at each step (MEANING.md 6).

What is complete: switches (all positions), sensors (every region the formulas cut, lost, unheard), sticks and knobs
(every region the formulas cut, and inside it every way the asked outputs can compare), memory. What is sampled is
marked `exact=False`, see README.md. A step may change any controls at once; the receiver, once on, stays on.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from .cells import Cells
from .cone import END, Box, Cone, Grid, term_controls
from .cone import TooBig as TooBig
from .formula import And, Const, Follows, Formula, Not, Or, leaves
from .meaning import Choice, Memory, State, Value, World
from .sweep import Sweep, Sweeper

GRID_LIMIT = 1_500_000
NODE_LIMIT = 5_000
POINT_LIMIT = 60_000


@dataclass(frozen=True)
class Found:
    """A shortest path: `steps[0]` is power-up, the last makes the formula true under `choice`.

    lags[k] names the timed conditions that lag while step k changes the memory. A path with `used_lag` ends with a step
    of its own in which all has settled (its controls may be those of the step before).
    """

    steps: list[dict[str, Value]]
    choice: Choice
    exact: bool
    memory_matters: bool
    used_lag: bool = False
    lags: list[frozenset[str]] = field(default_factory=list)
    shorter_with_lag: int | None = None

    @property
    def count(self) -> int:
        """Steps after power-up, that to the final state included; 0: at power-up itself."""
        return len(self.steps) - 1


@dataclass(frozen=True)
class Impossible:
    """No reachable state makes the formula true, nor unknown."""

    exact: bool


@dataclass(frozen=True)
class Unknown:
    """No reachable state makes the formula true, and some reachable state makes it unknown: not judged."""

    exact: bool


Answer = Found | Impossible | Unknown


@dataclass
class Node:
    """A memory that can be reached, and how."""

    memory: Memory
    heard: bool
    parent: Node | None
    controls: dict[str, Value]
    lags: frozenset[str]

    def path(self) -> list[Node]:
        return [*(self.parent.path() if self.parent else []), self]


def admits(world: World) -> bool:
    """Whether some state of the controls is admitted at power-up."""
    cone = Cone(world, Const(True))
    sweeper = Sweeper(Grid(cone, heard=False, limit=GRID_LIMIT))
    sweep = sweeper.sweep(world.memory_off)
    return world.requires is None or bool(sweeper.formula(world.requires, sweep.conditions, sweep.mode).any())


def find(world: World, formula: str | Formula, trim: bool = False) -> Answer:
    """The answer to a question over all reachable settled states. Raises TooBig where that would take too long. With `trim`
    channels read every stick with any trim it has; the steps do not say which."""
    if not admits(world):
        world = world.without_start()
    search = Search(world, world.parse(formula), trim)
    answer = search.run(lag=False)
    if not search.cone.timed_under_memory:
        return answer
    most = answer.count - 1 if isinstance(answer, Found) else None
    lagged = search.run(lag=True, most=most)
    if isinstance(answer, Found):
        return replace(answer, shorter_with_lag=lagged.count if isinstance(lagged, Found) else None)
    return lagged


class Search:
    """One question."""

    def __init__(self, world: World, formula: Formula, trim: bool = False) -> None:
        self.world = world
        self.formula = formula
        self.cone = Cone(world, formula)
        self.grids = [Grid(self.cone, False, GRID_LIMIT)]
        if self.cone.sensors:
            self.grids.append(Grid(self.cone, True, GRID_LIMIT))
        self.finals = [Final(grid, formula, trim) for grid in self.grids]
        self.exact = all(final.exact for final in self.finals)

    def run(self, lag: bool, most: int | None = None) -> Answer:
        """Breadth first; with `lag` timed conditions may lag from one memory to the next. At most `most` steps."""
        sweepers = [Sweeper(grid, lag) for grid in self.grids]
        for sweeper in sweepers if lag else ():
            if sweeper.grid.size << len(sweeper.lagging) > 4 * GRID_LIMIT:
                raise TooBig("too many lags")
        for final in self.finals:
            final.unknown = False
        frontier: list[Node] = []
        known: set[tuple[Memory, bool]] = set()
        place = self.finals[0].find(self.world.memory_off, power_up=True)
        if place is not None and (most is None or most >= 0):
            return self.found([], place, lag)
        plain = Sweeper(self.grids[0])
        self.spread(plain, 0, self.world.memory_off, None, known, frontier)
        depth = 0
        while frontier and (most is None or depth < most):
            depth += 1
            nodes, frontier = frontier, []
            for node in nodes:
                for k in range(int(node.heard), len(self.grids)):
                    place = self.finals[k].find(node.memory)
                    if place is not None:
                        return self.found(node.path(), place, lag)
            for node in nodes:
                for k in range(int(node.heard), len(self.grids)):
                    self.spread(sweepers[k], k, node.memory, node, known, frontier)
            if len(known) > NODE_LIMIT:
                raise TooBig(f"over {NODE_LIMIT} memories")
        return (Unknown if any(final.unknown for final in self.finals) else Impossible)(self.exact)

    def found(self, path: list[Node], place: tuple[dict[str, Value], Choice], lag: bool) -> Found:
        controls, choice = place
        return Found(
            [*(node.controls for node in path), controls],
            choice,
            self.exact,
            bool(self.cone.remembering),
            lag,
            [*(node.lags for node in path), frozenset()],
        )

    def spread(
        self,
        sweeper: Sweeper,
        heard: int,
        memory: Memory,
        parent: Node | None,
        known: set[tuple[Memory, bool]],
        frontier: list[Node],
    ) -> None:
        """All memories that one step leads to."""
        sweep = sweeper.sweep(memory)
        at = [k for name in self.cone.remembering for k in self.places(name)]
        packed = np.zeros((1,) * sweeper.rank, dtype=np.int64)
        for k, place in enumerate(at):
            packed = packed | (sweep.memory[place].astype(np.int64) << k)
        if parent is None and self.world.requires is not None:
            admitted = sweeper.formula(self.world.requires, sweep.conditions, sweep.mode)
            packed = np.where(admitted, packed, -1)
        codes, first = np.unique(packed, return_index=True)
        for code, index in zip(codes.tolist(), first.tolist(), strict=True):
            if code < 0:
                continue
            bits = list(self.world.memory_off)
            for k, place in enumerate(at):
                bits[place] = bool(code >> k & 1)
            key = (tuple(bits), bool(heard))
            if key in known:
                continue
            known.add(key)
            where = tuple(int(x) for x in np.unravel_index(index, packed.shape))
            late = where[len(sweeper.grid.axes) :]
            lags = frozenset(name for name, x in zip(sweeper.lagging, late, strict=True) if x)
            frontier.append(Node(key[0], bool(heard), parent, sweeper.grid.controls(where), lags))

    def places(self, name: str) -> tuple[int, ...]:
        at = self.world.memory_at[name]
        return (at, at + 1) if self.world.conditions[name].toggles else (at,)


class Final:
    """Whether the formula can be true in a settled state on one grid. Places that look alike to it are tried once."""

    def __init__(self, grid: Grid, formula: Formula, trim: bool = False) -> None:
        self.grid = grid
        self.trims = grid.cone.world.trims if trim else {}
        self.cone = grid.cone
        self.world = grid.cone.world
        self.formula = formula
        self.sweeper = Sweeper(grid)
        self.tried: dict[int, bool] = {}  # key: whether the formula is unknown there; it is not true
        self.representatives: dict[object, list[tuple[Choice, dict[str, Fraction]]]] = {}
        self.unknown = False
        self.follows = any(isinstance(leaf, Follows) for leaf in leaves(formula))
        self.points = 0
        self.exact = self.is_exact()
        self.read: set[str] = set().union(*(term_controls(self.world.channels[name]) for name in self.cone.channels))

    def is_exact(self) -> bool:
        """At most one channel of the question adds up several sticks, and none that must follow one does."""
        sums = set()
        for name in self.cone.channels:
            for line in self.world.channels[name].lines.values():
                if sum(term.kind == "analog" for term in line.terms or ()) > 1:
                    sums.add(name)
        return len(sums) <= 1 and not (sums and self.follows)

    def key_parts(self, sweep: Sweep) -> list[tuple[NDArray[np.int64], int]]:
        """All that the formula's value hangs on, as numbers below a bound each."""
        cone, sweeper, world = self.cone, self.sweeper, self.world
        parts: list[tuple[NDArray[np.int64], int]] = []
        switches: set[str] = set()
        sticks: set[str] = set()
        for leaf in dict.fromkeys(leaves(self.formula)):
            if not isinstance(leaf, Const) and type(leaf).__name__ not in ("Output", "Follows", "ModeIs"):
                parts.append((sweeper.formula(leaf, sweep.conditions, sweep.mode).astype(np.int64), 2))
        if cone.mode:
            parts.append((sweep.mode + 1, len(world.modes) + 1))
        for name in cone.channels:
            for override in world.overrides:
                if override.channel == name:
                    holds = sweeper.formula(override.when, sweep.conditions, sweep.mode)
                    parts.append((holds.astype(np.int64), 2))
            for line in world.channels[name].lines.values():
                for term in line.terms or ():
                    switches |= {x for x in (term.rate.switch, term.expo.switch) if x}
                    if term.kind != "number":
                        (sticks if term.kind == "analog" else switches).update({term.source, term.pupil} - {""})
            if world.lent is not None and world.lends(name):
                parts.append((sweeper.formula(world.lent, sweep.conditions, sweep.mode).astype(np.int64), 2))
        for axis in sorted(switches | sticks):
            parts.append((self.grid.numbers(axis), len(self.grid.values(axis))))
        return parts

    def find(self, memory: Memory, power_up: bool = False) -> tuple[dict[str, Value], Choice] | None:
        """Controls that make the formula true from this memory, with the choice; notes whether it can be unknown."""
        sweep = self.sweeper.sweep(memory)
        key = np.zeros((1,) * self.sweeper.rank, dtype=np.int64)
        size = 1
        for part, bound in self.key_parts(sweep):
            key = key + part * size
            size *= bound
        if size > 2**62:
            raise TooBig("too many ways to tell states apart")
        if power_up and self.world.requires is not None:
            key = np.where(self.sweeper.formula(self.world.requires, sweep.conditions, sweep.mode), key, -1)
        codes, first = np.unique(key, return_index=True)
        for code, index in zip(codes.tolist(), first.tolist(), strict=True):
            if code < 0:
                continue
            if not self.follows and code in self.tried:
                self.unknown |= self.tried[code]
                continue
            where = tuple(int(x) for x in np.unravel_index(index, key.shape))
            if self.follows and not self.may_be_true_or_unknown(where, memory):
                continue
            self.tried[code] = False
            for place in self.alike(key, code, where):
                found = self.try_place(place, memory, code)
                if found is not None:
                    del self.tried[code]
                    return found
        return None

    def alike(self, key: NDArray[np.int64], code: int, where: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
        """One place for all of the same key; with `follows`, which sees more than the key, all of them."""
        if not self.follows:
            yield where
            return
        for index in np.flatnonzero(np.broadcast_to(key, self.grid.shape) == code):
            yield tuple(int(x) for x in np.unravel_index(index, self.grid.shape))

    def may_be_true_or_unknown(self, where: tuple[int, ...], memory: Memory) -> bool:
        """Whether some value of every `follows` makes the formula true or unknown here."""
        for guess in (True, False, None):
            formula = without_follows(self.formula, guess)
            for controls, choice, state in self.states(where, memory, formula):
                del controls
                if self.world.holds(formula, state, choice) is not False:
                    return True
        return False

    def try_place(self, where: tuple[int, ...], memory: Memory, code: int) -> tuple[dict[str, Value], Choice] | None:
        for controls, choice, state in self.states(where, memory, self.formula):
            value = self.world.holds(self.formula, *self.trimmed(state, where, choice))
            if value is None:
                self.unknown = self.tried[code] = True
            elif value:
                return controls, choice
        return None

    def states(
        self, where: tuple[int, ...], memory: Memory, formula: Formula
    ) -> Iterator[tuple[dict[str, Value], Choice, State]]:
        """The states that stand for a place of the grid: choices, and stick values inside the boxes."""
        base = self.grid.controls(where)
        state = self.world.settle(base, memory)
        for choice, sticks in self.stand_ins(where, state, formula):
            self.points += 1
            if self.points > POINT_LIMIT:
                raise TooBig(f"over {POINT_LIMIT} states to look at")
            controls = {**base, **sticks}
            yield controls, choice, replace(state, controls=controls)

    def stand_ins(
        self, where: tuple[int, ...], state: State, formula: Formula
    ) -> list[tuple[Choice, dict[str, Fraction]]]:
        cone, grid, world = self.cone, self.grid, self.world
        box = {name: grid.boxes[name][where[grid.index[name]]] for name in cone.analogs if name in self.read}
        deciding = tuple(tuple(world.deciding(name, state)) for name in cone.channels)
        switches = tuple(state.controls[name] for name in cone.switches if name in self.read)
        key = (state.mode, deciding, world.is_lent(state), switches, tuple(box.items()), self.follows)
        if key not in self.representatives:
            made: dict[object, tuple[Choice, dict[str, Fraction]]] = {}
            for k, choice in enumerate(world.choices(state, cone.channels)):
                cells = self.cells(formula, state, choice, box)
                tie = tuple(sorted((str(name), str(value)) for name, value in choice.items() if name[0] == "tie"))
                for point in cells.points():
                    look = (cells.signature(point), tie, k if self.follows else 0)
                    made.setdefault(look, (choice, dict(point)))
            self.representatives[key] = list(made.values())
        return self.representatives[key]

    def cells(self, formula: Formula, state: State, choice: Choice, box: Mapping[str, Box]) -> Cells:
        """The cells of what channels read: the boxes, wider by the trims where those are asked for."""
        if not self.trims:
            return Cells(self.world, formula, state, choice, box, self.closed)
        trims = {name: self.trims.get(name, Fraction(0)) for name in box}
        wide = {name: (low - trims[name], high + trims[name]) for name, (low, high) in box.items()}

        def closed(stick: str, x: Fraction) -> bool:
            low, high = box[stick]
            return low == high or self.closed(stick, low if x == wide[stick][0] else high)

        return Cells(self.world, formula, state, choice, wide, closed, trims)

    def trimmed(
        self, state: State, where: tuple[int, ...], choice: Choice
    ) -> tuple[State, Choice, Mapping[str, Fraction]]:
        """A state whose sticks are where channels read them, as one whose sticks are where they are, and trims."""
        base = self.grid.controls(where)
        shown = {name: base[name] for name in self.trims}
        trim = {name: Fraction(state.controls[name]) - Fraction(x) for name, x in shown.items()}
        return replace(state, controls={**state.controls, **shown}), choice, trim

    def closed(self, stick: str, x: Fraction) -> bool:
        """Whether an end of the travel belongs to the open box beside it: unless it is a box of its own."""
        return abs(x) == END and (x, x) not in self.grid.boxes[stick]


def without_follows(formula: Formula, guess: bool | None) -> Formula:
    match formula:
        case Not(part):
            return Not(without_follows(part, guess))
        case And(parts):
            return And(tuple(without_follows(part, guess) for part in parts))
        case Or(parts):
            return Or(tuple(without_follows(part, guess) for part in parts))
        case Follows():
            return Const(guess)
    return formula
