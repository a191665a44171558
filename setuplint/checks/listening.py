"""What an alarm listens to: the comparisons that its formula rests on, through conditions."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from fractions import Fraction

from setuplint.named_tuple import NamedTuple
from setuplint.setup import formulas as f
from setuplint.setup.model import Alarm, Path, Setup

PACK = ("pack-voltage", "cell-voltage")
SUPPLY = ("receiver-voltage",)
LINK = ("link-quality", "signal-strength")


class Leaf(NamedTuple):
    """A leaf of a formula, where it stands, and whether the formula can become true by it becoming true."""

    atom: f.Formula
    path: Path
    positive: bool


class Threshold(NamedTuple):
    """A voltage below which an alarm can sound, as written and in volts a cell (None: the cells are not given)."""

    alarm: Alarm
    volts: Fraction
    cell: Fraction | None
    whole: bool  # of the pack or a part of it, not of a cell
    path: Path

    @property
    def units(self) -> int:
        """On how many cells, where that is known."""
        return 1 if not self.cell else round(self.volts / self.cell)


def leaves(setup: Setup, formula: f.Formula, path: Path, *, conditions: bool = False) -> Iterator[Leaf]:
    """The leaves of a formula and of every condition it stands on, in the order written; with `conditions` the names of
    these too. Without recursion: conditions can stand on each other in thousands."""
    waiting = [(formula, path, True)]
    met: set[tuple[str, bool]] = set()
    while waiting:
        now, where, positive = waiting.pop()
        if isinstance(now, f.And | f.Or):
            waiting += [(item, where, positive) for item in reversed(now.items)]
        elif isinstance(now, f.Not):
            waiting.append((now.item, where, not positive))
        elif isinstance(now, f.Holds):
            if conditions:
                yield Leaf(now, where, positive)
            if (now.condition, positive) not in met:
                met.add((now.condition, positive))
                condition = setup.conditions[now.condition]
                if condition.until is not None:
                    waiting.append((condition.until, ("conditions", condition.name, "until"), not positive))
                waiting.append((condition.when, ("conditions", condition.name, "when"), positive))
        else:
            yield Leaf(now, where, positive)


def alarm_leaves(setup: Setup, alarm: Alarm) -> list[Leaf]:
    return list(leaves(setup, alarm.when, ("alarms", alarm.name, "when")))


def listens(setup: Setup, alarm: Alarm, kinds: Collection[str]) -> bool:
    """Whether it compares a sensor of some kinds with a number; `is lost` does not count."""
    return any(
        isinstance(leaf.atom, f.Compare) and sensor_kind(setup, leaf.atom.name) in kinds
        for leaf in alarm_leaves(setup, alarm)
    )


def named_kinds(setup: Setup, alarm: Alarm) -> set[str]:
    """What the sensors read that its formula names, `is lost` included."""
    found = set()
    for leaf in alarm_leaves(setup, alarm):
        if isinstance(leaf.atom, f.Compare):
            found.add(sensor_kind(setup, leaf.atom.name))
        elif isinstance(leaf.atom, f.Lost):
            found.add(sensor_kind(setup, leaf.atom.sensor))
    return found - {""}


def unreadable_alarms(setup: Setup, alarm: Alarm) -> list[str]:
    """Why it is not known all that an alarm listens to; empty where it is."""
    return [leaf.atom.because for leaf in alarm_leaves(setup, alarm) if isinstance(leaf.atom, f.Unknown)]


def sensor_kind(setup: Setup, name: str) -> str:
    """What a sensor reads; "" for a stick or knob."""
    return setup.sensors[name].reads if name in setup.sensors else ""


def thresholds(setup: Setup, alarm: Alarm) -> Iterator[Threshold]:
    """The voltages of the pack or a cell below which it can sound."""
    for leaf in alarm_leaves(setup, alarm):
        atom = leaf.atom
        if not isinstance(atom, f.Compare) or sensor_kind(setup, atom.name) not in PACK:
            continue
        if (atom.op in ("<", "<=")) != leaf.positive:
            continue
        whole, cells = sensor_kind(setup, atom.name) == "pack-voltage", setup.cells_of(setup.sensors[atom.name])
        cell = None if cells is None else atom.number / cells
        yield Threshold(alarm, atom.number, cell, whole, leaf.path)
