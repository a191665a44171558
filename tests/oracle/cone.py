"""What a question can depend on, and the finite grid of controls that stands for all of them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from .formula import Compare, Follows, Formula, Is, channels_in, conditions_in, leaves, names_mode
from .meaning import Value, World
from .parts import Channel

Array = NDArray[np.bool_]
Box = tuple[Fraction, Fraction]  # (x, x) is one point, (a, b) the open interval between; outer ends belong to it
END = Fraction(100)


@dataclass
class Cone:
    """The part of a world that an expanded formula, and `start.requires`, stand on."""

    world: World
    formula: Formula
    conditions: set[str] = field(default_factory=set)
    mode: bool = False
    channels: list[str] = field(default_factory=list)
    formulas: list[Formula] = field(default_factory=list)
    switches: list[str] = field(default_factory=list)
    analogs: list[str] = field(default_factory=list)
    sensors: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        world = self.world
        self.channels = channels_in(self.formula)
        self.add(self.formula)
        if world.requires is not None:
            self.add(world.requires)
        for channel in map(world.channels.__getitem__, self.channels):
            if len({repr(line.terms) for line in channel.lines.values()}) > 1:
                self.add_mode()
            for override in world.overrides:
                if override.channel == channel.name:
                    self.add(override.when)
            if world.lent is not None and world.lends(channel.name):
                self.add(world.lent)
        if any(isinstance(leaf, Follows) for leaf in leaves(self.formula)):
            self.add_mode()  # every condition, the mode and all memory are to be kept
            for name in world.conditions:
                self.add_condition(name)
        self.collect_controls()

    def add(self, formula: Formula) -> None:
        self.formulas.append(formula)
        for name in conditions_in(formula):
            self.add_condition(name)
        if names_mode(formula):
            self.add_mode()

    def add_condition(self, name: str) -> None:
        if name not in self.conditions:
            self.conditions.add(name)
            for formula in self.world.formulas_of(name):
                self.add(formula)

    def add_mode(self) -> None:
        if not self.mode:
            self.mode = True
            for formula in self.world.formulas_of(None):
                self.add(formula)

    def collect_controls(self) -> None:
        world = self.world
        names = {x.name for f in self.formulas for x in leaves(f) if isinstance(x, Is | Compare)}
        for name in self.channels:
            names |= term_controls(world.channels[name])
        names |= {x.stick for x in leaves(self.formula) if isinstance(x, Follows)}
        self.switches = [name for name in world.switches if name in names]
        self.analogs = [name for name in world.analogs if name in names]
        self.sensors = [name for name in world.sensors if name in names]

    @property
    def order(self) -> list[str | None]:
        return [x for x in self.world.order if (self.mode if x is None else x in self.conditions)]

    @property
    def remembering(self) -> list[str]:
        """The latches and toggles it stands on, in file order."""
        return [name for name in self.world.memory_names if name in self.conditions]

    @property
    def timed_under_memory(self) -> list[str]:
        """Timed conditions that memory stands on, their own delay included."""
        world, found, todo = self.world, set(), [*self.remembering]
        seen: set[str | None] = set()
        while todo:
            node: str | None = todo.pop()
            if node in seen:
                continue
            seen.add(node)
            if node is not None and world.conditions[node].timed:
                found.add(node)
            for formula in world.formulas_of(node):
                todo += conditions_in(formula)
                todo += [None] if names_mode(formula) else []  # type: ignore[list-item]
        return [name for name in world.conditions if name in found]

    def cuts(self, names: Iterable[str]) -> dict[str, set[Fraction]]:
        """The numbers that any formula of the cone compares each name with."""
        found: dict[str, set[Fraction]] = {name: set() for name in names}
        for formula in self.formulas:
            for leaf in leaves(formula):
                if isinstance(leaf, Compare) and leaf.name in found:
                    found[leaf.name].add(leaf.number)
        return found


def term_controls(channel: Channel) -> set[str]:
    """The switches, sticks and knobs of a channel's lines."""
    found: set[str] = set()
    for line in channel.lines.values():
        for term in line.terms or ():
            found |= {term.source, term.pupil, *(x.switch for x in (term.rate, term.expo) if x.switch)}
    return found - {""}


def boxes(cuts: Iterable[Fraction], low: Fraction, high: Fraction) -> list[Box]:
    """[low, high] cut into the points of `cuts` and the gaps between them."""
    points = sorted(x for x in cuts if low <= x <= high)
    edges = [low, *points, high]
    gaps = [(a, b) for a, b in pairwise(edges) if a < b]
    return sorted({*gaps, *((x, x) for x in points)}) or [(low, high)]


@dataclass
class Axis:
    """One independent quantity and its values: what each puts into the controls."""

    name: str
    values: list[Value]


class Grid:
    """All combinations of the regions of a cone's controls, with the receiver off or on."""

    def __init__(self, cone: Cone, heard: bool, limit: int) -> None:
        self.cone = cone
        self.heard = heard
        world = cone.world
        self.axes: list[Axis] = [Axis(name, list(world.switches[name])) for name in cone.switches]
        cuts = cone.cuts(cone.analogs)
        self.boxes: dict[str, list[Box]] = {}
        for name in cone.analogs:
            self.boxes[name] = boxes(cuts[name], -END, END)
            self.axes.append(Axis(name, [(a + b) / 2 for a, b in self.boxes[name]]))
        if heard:
            self.add_sensors()
        self.shape = tuple(len(axis.values) for axis in self.axes)
        self.size = int(np.prod(self.shape, dtype=np.int64))
        if self.size > limit:
            raise TooBig(f"{self.size} combinations of controls")
        self.index = {axis.name: k for k, axis in enumerate(self.axes)}

    def add_sensors(self) -> None:
        """Cell voltage sensors: one axis for v, one each for being lost. Others: regions, and lost."""
        cone, world = self.cone, self.cone.world
        cuts = cone.cuts(cone.sensors)
        volts: set[Fraction] = set()
        sharing = []
        for name in cone.sensors:
            factor = world.cell_factor(name)
            low, high = world.range_of(name)
            if factor is None:
                regions = boxes(cuts[name], low, high)
                self.axes.append(Axis(name, [*((a + b) / 2 for a, b in regions), "lost"]))
            else:
                volts |= {x / factor for x in cuts[name]}
                sharing.append(name)
        if sharing:
            self.axes.append(Axis("cell voltage", [(a + b) / 2 for a, b in boxes(volts, Fraction(0), Fraction(5))]))
            self.axes += [Axis(f"{name} lost", ["no", "yes"]) for name in sharing]

    def along(self, axis: str, values: Iterable[bool]) -> Array:
        """One truth for each value of an axis, shaped to be joined with other axes."""
        shape = [1] * len(self.axes)
        array = np.array(list(values), dtype=bool)
        shape[self.index[axis]] = len(array)
        return array.reshape(shape)

    def values(self, axis: str) -> list[Value]:
        return self.axes[self.index[axis]].values

    def numbers(self, axis: str) -> NDArray[np.int64]:
        """0, 1, 2 ... along an axis."""
        shape = [1] * len(self.axes)
        shape[self.index[axis]] = -1
        return np.arange(len(self.values(axis)), dtype=np.int64).reshape(shape)

    def controls(self, place: Mapping[int, int] | tuple[int, ...]) -> dict[str, Value]:
        """The full controls at one place of the grid; what is outside the cone is at rest."""
        world = self.cone.world
        found = dict(world.rest)
        if self.heard:
            found |= dict.fromkeys(world.sensors, "lost")
        shown: dict[str, Value] = {axis.name: axis.values[place[k]] for k, axis in enumerate(self.axes)}
        for name, value in shown.items():
            if name in found:
                found[name] = value
        for name in world.sensors:
            if shown.get(f"{name} lost") == "no":
                volts, factor = shown["cell voltage"], world.cell_factor(name)
                assert not isinstance(volts, str)
                assert factor is not None
                found[name] = volts * factor
        return found


class TooBig(Exception):
    """Brute force would take too long for this question."""
