"""The settled meaning over a whole grid of controls at once, as arrays of truths, for one memory."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import reduce

import numpy as np
from numpy.typing import NDArray

from .cone import Array, Grid
from .formula import OPS, And, Compare, Condition, Const, Formula, Is, ModeIs, Not, Or
from .meaning import Memory


@dataclass
class Sweep:
    """Arrays over the grid (each as small as what it depends on): conditions, mode number or -1, memory afterwards."""

    conditions: dict[str, Array]
    mode: NDArray[np.int64]
    memory: list[Array]


class Sweeper:
    """Evaluates the formulas of a cone over a grid. With `lag`, every timed condition under memory may lag or not,
    each along one more axis at the end."""

    def __init__(self, grid: Grid, lag: bool = False) -> None:
        self.grid = grid
        self.cone = grid.cone
        self.world = grid.cone.world
        self.lagging = self.cone.timed_under_memory if lag else []
        self.rank = len(grid.axes) + len(self.lagging)
        self.modes = {name: k for k, name in enumerate(self.world.modes)}
        self.atoms: dict[Formula, Array] = {}

    def constant(self, value: bool) -> Array:
        return np.full((1,) * self.rank, value)

    def widen(self, array: Array) -> Array:
        return array.reshape(array.shape + (1,) * len(self.lagging))

    def lag_axis(self, name: str) -> Array:
        shape = [1] * self.rank
        shape[len(self.grid.axes) + self.lagging.index(name)] = 2
        return np.array([False, True]).reshape(shape)

    def atom(self, leaf: Formula) -> Array:
        """A comparison with a switch, stick, knob or sensor."""
        if leaf not in self.atoms:
            self.atoms[leaf] = self._atom(leaf)
        return self.atoms[leaf]

    def _atom(self, leaf: Formula) -> Array:
        grid = self.grid
        assert isinstance(leaf, Is | Compare)
        if leaf.name in self.world.sensors and not grid.heard:
            return self.constant(False)
        shared = leaf.name in self.world.sensors and self.world.cell_factor(leaf.name)
        if isinstance(leaf, Is):
            axis, word = (f"{leaf.name} lost", "yes") if shared else (leaf.name, leaf.word)
            return self.widen(grid.along(axis, (value == word for value in grid.values(axis))))
        compare, number = OPS[leaf.op], leaf.number
        if shared:
            volts = (not isinstance(v, str) and compare(v * shared, number) for v in grid.values("cell voltage"))
            return self.widen(grid.along("cell voltage", volts) & ~self.flat(f"{leaf.name} lost"))
        truths = (not isinstance(v, str) and compare(v, number) for v in grid.values(leaf.name))
        return self.widen(grid.along(leaf.name, truths))

    def flat(self, axis: str) -> Array:
        return self.grid.along(axis, (value == "yes" for value in self.grid.values(axis)))

    def formula(self, formula: Formula, conditions: Mapping[str, Array], mode: NDArray[np.int64]) -> Array:
        match formula:
            case Const(value):
                return self.constant(bool(value))
            case Not(part):
                return ~self.formula(part, conditions, mode)
            case And(parts):
                found = [self.formula(part, conditions, mode) for part in parts]
                return reduce(np.logical_and, found, self.constant(True))
            case Or(parts):
                found = [self.formula(part, conditions, mode) for part in parts]
                return reduce(np.logical_or, found, self.constant(False))
            case Condition(name):
                return conditions[name]
            case ModeIs(name):
                return np.asarray(mode == self.modes[name])
        return self.atom(formula)

    def sweep(self, memory: Memory) -> Sweep:
        """The state everywhere on the grid, from one memory."""
        conditions: dict[str, Array] = {}
        mode = np.full((1,) * self.rank, -1, dtype=np.int64)
        bits = [self.constant(bit) for bit in memory]
        for node in self.cone.order:
            if node is None:
                for name, when in reversed(self.world.modes.items()):
                    holds = self.constant(True) if when is None else self.formula(when, conditions, mode)
                    mode = np.where(holds, self.modes[name], mode)
                continue
            condition = self.world.conditions[node]
            value = self.formula(condition.when, conditions, mode)
            if node in self.lagging:
                lags = self.lag_axis(node)
                value = np.where(value, ~lags if condition.after else value, lags if condition.stays else value)
            if condition.remembers:
                at = self.world.memory_at[node]
                if condition.toggles:
                    bits[at], bits[at + 1] = bits[at] ^ (value & ~bits[at + 1]), value
                else:
                    assert condition.until is not None
                    bits[at] = (bits[at] | value) & ~self.formula(condition.until, conditions, mode)
                value = bits[at]
            conditions[node] = value
        return Sweep(conditions, mode, bits)
