"""One movement of a switch out of a reachable settled state, by brute force (MEANING.md 8: sticks and sensors stay)."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import product

from .cells import Cells
from .cone import Box, TooBig
from .extremes import reached
from .formula import And, Const, Formula
from .meaning import Choice, Controls, State, World
from .places import with_midpoints
from .search import Search, admits

Movement = tuple[str, str]
MOST = 1_000


class Movements:
    """Two formulas, one before and one after a movement. TooBig where there is too much to try; ValueError where a channel
    of theirs adds up several sticks, or timed conditions stand under memory (then paths may lag)."""

    def __init__(self, world: World, before: str, after: str) -> None:
        self.world = world if admits(world) else world.without_start()
        self.before, self.after = self.world.parse(before), self.world.parse(after)
        self.both = And((self.before, self.after))
        self.search = Search(self.world, self.both)
        self.known: dict[object, dict[str, set[Fraction]]] = {}
        if self.search.cone.timed_under_memory or any(
            sum(term.kind == "analog" for term in line.terms or ()) > 1
            for name in self.search.cone.channels
            for line in self.world.channels[name].lines.values()
        ):
            raise ValueError("not covered")
        self.tried = 0

    def found(self, movements: Sequence[Movement]) -> bool:
        """Whether `before` can hold and, after one of the movements, `after`."""
        for state, box in self.states():
            if not self.may_hold(self.before, state, box):
                continue
            for moved in self.moved(state, movements):
                if not self.may_hold(self.after, moved, box):
                    continue
                for point, one, other in self.points([state, moved], box):
                    if self.holds(self.before, state, point, one) and self.holds(self.after, moved, point, other):
                        return True
        return False

    def stuck(self, movements: Sequence[Movement]) -> bool:
        """Whether `before` can hold, and `after` be false there and after each of the movements. Unknown smoothings are not
        covered."""
        for state, box in self.states():
            if not self.may_hold(self.before, state, box):
                continue
            places = list(self.moved(state, movements))
            for point in self.grid_of([state, *places], box):
                here = list(self.choices(state))
                if not any(
                    self.holds(self.before, state, point, c) and self.holds(self.after, state, point, c) is False
                    for c in here
                ):
                    continue
                if all(
                    any(self.holds(self.after, moved, point, c) is False for c in self.choices(moved))
                    for moved in places
                ):
                    return True
        return False

    # -- what there is to try

    def states(self) -> Iterator[tuple[State, dict[str, Box]]]:
        """Every reachable settled state that the grid tells apart, and the boxes its sticks may move in."""
        world = self.world
        for memory, power_up, k in reached(self.search):
            grid = self.search.grids[k]
            for where in product(*(range(len(axis.values)) for axis in grid.axes)):
                self.tried += 1
                if self.tried > MOST:
                    raise TooBig(f"over {MOST} states")
                state = world.settle(grid.controls(where), memory)
                if power_up and not world.allowed(state):
                    continue
                yield state, {name: grid.boxes[name][where[grid.index[name]]] for name in self.search.cone.analogs}

    def moved(self, state: State, movements: Sequence[Movement]) -> Iterator[State]:
        for switch, word in movements:
            if state.controls[switch] != word:
                yield self.world.settle({**state.controls, switch: word}, state.memory)

    def may_hold(self, formula: Formula, state: State, box: Mapping[str, Box]) -> bool:
        return any(
            self.holds(formula, state, point, choice)
            for point in self.grid_of([state], box)
            for choice in self.choices(state)
        )

    def choices(self, state: State) -> Iterator[Choice]:
        return self.world.choices(state, self.search.cone.channels)

    def grid_of(self, states: Sequence[State], box: Mapping[str, Box]) -> Iterator[dict[str, Fraction]]:
        """Stick values that show every way in which outputs can compare in all the states together."""
        cuts: dict[str, set[Fraction]] = {name: set(ends) for name, ends in box.items()}
        for state in states:
            for name, found in self.cuts(state, box).items():
                cuts[name] |= found
        cells = Cells(self.world, Const(True), states[0], {}, box, self.search.finals[0].closed)
        inside = {
            name: [min(found)] if len(found) == 1 else cells.inside(name, set(with_midpoints(found)))
            for name, found in cuts.items()
        }
        for values in product(*inside.values()):
            yield dict(zip(inside, values, strict=True))

    def cuts(self, state: State, box: Mapping[str, Box]) -> dict[str, set[Fraction]]:
        channels = self.search.cone.channels
        deciding = tuple(tuple(self.world.deciding(name, state)) for name in channels)
        switches = tuple(state.controls[name] for name in self.world.switches)
        key = (state.mode, deciding, self.world.is_lent(state), switches, tuple(box.items()))
        if key not in self.known:
            self.known[key] = found = {name: set[Fraction]() for name in box}
            for choice in self.choices(state):
                cells = Cells(self.world, self.both, state, choice, box, self.search.finals[0].closed)
                for name in box:
                    found[name] |= cells.cuts(name, in_sum=False)
        return self.known[key]

    def points(
        self, states: Sequence[State], box: Mapping[str, Box]
    ) -> Iterator[tuple[dict[str, Fraction], Choice, Choice]]:
        """Stick values with a choice for each of two states; a smoothing is the same in both."""
        pairs = [
            (one, other)
            for one in self.choices(states[0])
            for other in self.choices(states[1])
            if all(other.get(key, value) == value for key, value in one.items() if key[0] == "curve")
        ]
        for point in self.grid_of(states, box):
            for one, other in pairs:
                yield point, one, other

    def holds(self, formula: Formula, state: State, point: Mapping[str, Fraction], choice: Choice) -> bool | None:
        controls: Controls = {**state.controls, **point}
        return self.world.holds(formula, State(controls, state.conditions, state.mode, state.memory), choice)
