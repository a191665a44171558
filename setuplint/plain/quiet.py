"""How many alarms and conditions hold along what a sensor may read, all else being kept: each is looked at again only where
something that it rests on changes, so that hundreds of alarms on hundreds of thresholds take no longer than they must."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction

from setuplint.hints import Any
from setuplint.plain.logic import Here, Truth, every, no
from setuplint.plain.state import LOST, State
from setuplint.setup.formulas import Compare, Formula, Holds, Lost, ModeIs, atoms
from setuplint.setup.model import Setup

Reading = Fraction | str
Node = tuple[str, str]  # a condition or alarm by its name, or all modes together
MODES: Node = ("modes", "")
MOST_LOOKS = 100_000  # leaves of formulas, for all sensors of a setup: once they are spent no other is begun
MOST_OF_ONE = 5 * MOST_LOOKS  # a few long formulas have as many places at which they change


class TooManyLooks(Exception):
    """One sensor alone would take them."""


class Shown(Mapping[str, Reading]):
    """What all sensors show. Those of a balanced pack agree."""

    def __init__(
        self, readings: Mapping[str, Reading], cells: Mapping[str, int], cell: Fraction, put: tuple[str, Reading] | None
    ) -> None:
        self._readings, self._cells, self._cell = readings, cells, cell
        self._put, self._reading = put or ("", LOST)  # one sensor that is put elsewhere than `readings` says

    def __getitem__(self, name: str) -> Reading:
        value = self._reading if name == self._put else self._readings[name]
        return self._cell * self._cells[name] if value != LOST and name in self._cells else value

    def __iter__(self) -> Iterator[str]:
        return iter(self._readings)

    def __len__(self) -> int:
        return len(self._readings)


class Steps:
    """A value along some places: at which it changes, and to what."""

    def __init__(self, changes: Sequence[tuple[int, Any]]) -> None:
        self.starts = [start for start, _ in changes]
        self.values = [value for _, value in changes]

    def at(self, place: int) -> Any:
        return self.values[bisect_right(self.starts, place) - 1]


class Quiet:
    """The setup's conditions and alarms with every sensor at its place so far."""

    def __init__(self, setup: Setup, readings: dict[str, Reading]) -> None:
        self.setup, self.readings, self.looks = setup, readings, 0
        self.conditions = {name: c for name, c in setup.conditions.items() if not c.watches}
        self.cells = {s.name: n for s in setup.sensors.values() if (n := setup.cells_of(s)) is not None}
        self.positions = {s.name: s.positions[0] for s in setup.switches.values()}
        self.sticks = {s.name: s.rest for s in setup.sticks.values()}
        self.formulas = self._formulas()
        self.steps: dict[Node, Steps] = {}
        self.resting = self._resting()
        self.cell = self._cell(None)
        self._along(list(self.formulas), [self.state()])

    @property
    def is_spent(self) -> bool:
        return self.looks > MOST_LOOKS

    def state(self, put: tuple[str, Reading] | None = None) -> State:
        """The state with the sensors where they are, or one of them elsewhere."""
        cell = self._cell(put) if put is None or put[0] in self.cells else self.cell
        return State(self.positions, self.sticks, Shown(self.readings, self.cells, cell, put), cell)

    def _cell(self, put: tuple[str, Reading] | None) -> Fraction:
        """With a sensor of the pack that is put to a number, that; else as before, though it is lost; 4 V where all are."""
        if put is not None and isinstance(put[1], Fraction):
            return put[1] / self.cells[put[0]]
        lost = put[0] if put is not None else ""
        heard = (v / n for s, n in self.cells.items() if s != lost and isinstance(v := self.readings[s], Fraction))
        return next(heard, Fraction(4))

    def put_to_rest(self, sensor: str, values: Sequence[Reading]) -> None:
        """A sensor reads what lets the fewest alarms, then conditions, hold; of several the first. After TooManyLooks no other
        can be put to rest."""
        moving = self.resting.get(sensor, [])
        self._along(moving, [self.state((sensor, value)) for value in values] if moving else [])
        changes: dict[int, list[int]] = {}
        for kind, name in moving:
            if kind != "modes":
                before = False
                for start, value in zip(self.steps[kind, name].starts, self.steps[kind, name].values, strict=True):
                    loud = value is not False
                    if loud != before:
                        changes.setdefault(start, [0, 0])[kind == "condition"] += 1 if loud else -1
                        before = loud
        level, best, found = (0, 0), None, 0
        for place in sorted({0, *changes}):
            alarms, conditions = changes.get(place, (0, 0))
            level = level[0] + alarms, level[1] + conditions
            if best is None or level < best:
                best, found = level, place
        for node in moving:
            self.steps[node] = Steps([(0, self.steps[node].at(found))])
        self.readings[sensor] = value = values[found]
        if sensor in self.cells and isinstance(value, Fraction):
            cell = value / self.cells[sensor]
            heard = {name: cell * n for name, n in self.cells.items() if self.readings[name] != LOST}
            self.readings.update(heard)
        self.cell = self._cell(None) if sensor in self.cells else self.cell

    def _formulas(self) -> dict[Node, tuple[Formula, ...]]:
        """What each part asks, those that others rest on first."""
        under_modes = tuple(mode.when for mode in self.setup.modes.values() if mode.when is not None)
        found: dict[Node, tuple[Formula, ...]] = {}
        for name, condition in self.conditions.items():
            formulas = (condition.when,) if condition.until is None else (condition.when, condition.until)
            if MODES not in found and any(isinstance(atom, ModeIs) for x in formulas for atom in atoms(x)):
                found[MODES] = under_modes
            found["condition", name] = formulas
        found.setdefault(MODES, under_modes)
        return found | {("alarm", a.name): (a.when,) for a in self.setup.alarms.values() if a.audible}

    def _resting(self) -> dict[str, list[Node]]:
        """The parts that change with each sensor; with one of a pack, all that hang on the pack's."""
        sensors = list(self.setup.sensors)
        bits = {name: 1 << place + 1 for place, name in enumerate(sensors)} | dict.fromkeys(self.cells, 1)
        masks: dict[Node, int] = {}
        found: dict[int, list[Node]] = {}
        for node, formulas in self.formulas.items():
            mask = 0
            for atom in (atom for formula in formulas for atom in atoms(formula)):
                mask |= masks[under] if (under := _node_of(atom)) else bits.get(_sensor(atom), 0)
            masks[node] = mask
            while mask:
                found.setdefault(mask & -mask, []).append(node)
                mask &= mask - 1
        return {name: found.get(bits[name], []) for name in sensors}

    def _along(self, nodes: Sequence[Node], states: Sequence[State]) -> None:
        """The values of some parts along some states, in order of what rests on what."""
        leaves: dict[Formula, list[int]] = {}
        most = self.looks + MOST_OF_ONE
        for node in nodes:
            places = {0}
            for atom in (atom for formula in self.formulas[node] for atom in atoms(formula)):
                if atom not in leaves or isinstance(atom, Holds | ModeIs):
                    leaves[atom] = self._places(atom, states)
                places.update(leaves[atom])
                self.looks += 1 + len(leaves[atom]) // 4
            changes: list[tuple[int, Any]] = []
            for place in sorted(places):
                self.looks += len(self.formulas[node])
                if self.looks > most and len(states) > 1:
                    raise TooManyLooks
                value = self._value(node, _At(self, states[place], place))
                if not changes or changes[-1][1] != value:
                    changes.append((place, value))
            self.steps[node] = Steps(changes)

    def _value(self, node: Node, here: _At) -> Any:
        if node == MODES:
            return here.possible_modes()
        values = [here.holds(formula) for formula in self.formulas[node]]
        self.looks += here.leaves
        return values[0] if len(values) == 1 else every((values[0], no(values[1])))

    def _places(self, atom: Formula, states: Sequence[State]) -> list[int]:
        """Where a leaf may change. A reading falls from state to state, and is lost in the last."""
        under = _node_of(atom)
        if under is not None:
            return self.steps[under].starts
        last = len(states) - 1
        if isinstance(atom, Lost):
            return [last]
        if not isinstance(atom, Compare) or atom.name not in self.setup.sensors or last == 0:
            return []

        def truth(place: int) -> bool:
            return Here(self.setup, states[place], {}).leaf(atom) is True

        first = truth(0)
        return [bisect_left(range(last), True, key=lambda place: truth(place) != first), last]


def _node_of(atom: Formula) -> Node | None:
    """The part that a leaf names, if it does."""
    if isinstance(atom, Holds):
        return "condition", atom.condition
    return MODES if isinstance(atom, ModeIs) else None


def _sensor(atom: Formula) -> str:
    return atom.sensor if isinstance(atom, Lost) else atom.name if isinstance(atom, Compare) else ""


class _At(Here):
    """One of the states, with the conditions and modes as they are there."""

    def __init__(self, quiet: Quiet, state: State, place: int) -> None:
        super().__init__(quiet.setup, state, {})
        self.quiet, self.place, self.leaves = quiet, place, 0

    def leaf(self, formula: Formula) -> Truth:
        self.leaves += 1
        if isinstance(formula, Holds):
            found: Truth = self.quiet.steps["condition", formula.condition].at(self.place)
            return found
        return super().leaf(formula)

    @property
    def modes(self) -> tuple[str | None, ...]:
        found: tuple[str | None, ...] = self.quiet.steps[MODES].at(self.place)
        return found

    def possible_modes(self) -> tuple[str | None, ...]:
        return self._possible()
