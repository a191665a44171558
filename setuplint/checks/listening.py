"""What an alarm listens to: the comparisons that its formula rests on, through conditions."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from fractions import Fraction

from setuplint.book.asking import Asking
from setuplint.named_tuple import NamedTuple
from setuplint.setup import formulas as f
from setuplint.setup.model import Alarm, Condition, Path, Setup

PACK = ("pack-voltage", "cell-voltage")
SUPPLY = ("receiver-voltage",)
LINK = ("link-quality", "signal-strength")


class Leaf(NamedTuple):
    """A leaf of a formula, where it stands, and whether the formula can become true by it becoming true."""

    atom: f.Formula
    path: Path
    positive: bool
    allows: bool = False  # no more than that: what would reset a latch that something else sets


class Threshold(NamedTuple):
    """A voltage below which an alarm can sound, as written and in volts a cell (None: the cells are not given)."""

    alarm: Alarm
    volts: Fraction
    cell: Fraction | None
    whole: bool  # of the pack or a part of it, not of a cell
    path: Path
    sensor: str

    @property
    def units(self) -> int:
        """On how many cells, where that is known."""
        return 1 if not self.cell else round(self.volts / self.cell)


def leaves(setup: Setup, formula: f.Formula, path: Path, *, conditions: bool = False) -> Iterator[Leaf]:
    """The leaves of a formula and of every condition it stands on, in the order written; with `conditions` the names of
    these too. Without recursion: conditions can stand on each other in thousands."""
    waiting = [Leaf(formula, path, True)]
    met: set[tuple[str, bool, bool]] = set()
    while waiting:
        leaf = waiting.pop()
        now = leaf.atom
        if isinstance(now, f.And | f.Or):
            waiting += [leaf._replace(atom=item) for item in reversed(now.items)]
        elif isinstance(now, f.Not):
            waiting.append(leaf._replace(atom=now.item, positive=not leaf.positive))
        elif isinstance(now, f.Holds):
            if conditions:
                yield leaf
            if (now.condition, leaf.positive, leaf.allows) not in met:
                met.add((now.condition, leaf.positive, leaf.allows))
                waiting += behind(setup.conditions[now.condition], leaf)
        else:
            yield leaf


def behind(condition: Condition, leaf: Leaf) -> Iterator[Leaf]:
    """What makes a condition hold (`positive`) or not. What sets a latch does not reset it, what resets it does not set it."""
    at, latch = ("conditions", condition.name), condition.until is not None
    if condition.until is not None:
        yield Leaf(condition.until, (*at, "until"), not leaf.positive, leaf.allows or leaf.positive)
    yield Leaf(condition.when, (*at, "when"), leaf.positive, leaf.allows or (latch and not leaf.positive))


def alarm_leaves(setup: Setup, alarm: Alarm) -> list[Leaf]:
    return list(leaves(setup, alarm.when, ("alarms", alarm.name, "when")))


def listens(setup: Setup, alarm: Alarm, kinds: Collection[str]) -> bool:
    """Whether it compares a sensor of some kinds with a number; `is lost` does not count."""
    return any(
        isinstance(leaf.atom, f.Compare) and sensor_kind(setup, leaf.atom.name) in kinds
        for leaf in alarm_leaves(setup, alarm)
    )


def compares(setup: Setup, alarm: Alarm, names: Collection[str]) -> bool:
    """Whether it compares one of these sensors with a number."""
    return any(isinstance(leaf.atom, f.Compare) and leaf.atom.name in names for leaf in alarm_leaves(setup, alarm))


def named_kinds(setup: Setup, alarm: Alarm) -> set[str]:
    """What the sensors read that its formula names, `is lost` included."""
    found = set()
    for leaf in alarm_leaves(setup, alarm):
        if isinstance(leaf.atom, f.Compare):
            found.add(sensor_kind(setup, leaf.atom.name))
        elif isinstance(leaf.atom, f.Lost):
            found.add(sensor_kind(setup, leaf.atom.sensor))
    return found - {""}


def warns_of(setup: Setup, alarm: Alarm, kinds: Collection[str]) -> bool:
    """Whether it can sound because a sensor of some kinds reads little, or is lost; not where that is no more than heard
    beside something else."""
    for leaf in alarm_leaves(setup, alarm):
        atom = leaf.atom
        if isinstance(atom, f.Compare) and sensor_kind(setup, atom.name) in kinds:
            if not leaf.allows and (atom.op in ("<", "<=")) == leaf.positive:
                return True
        elif isinstance(atom, f.Lost) and leaf.positive and sensor_kind(setup, atom.sensor) in kinds:
            return True
    return False


def is_sound_known(alarm: Alarm) -> bool:
    """Whether it can be read that it makes a sound, or that it makes none."""
    return alarm.audible or not alarm.lost - {"repeat"}


def is_heard(ask: Asking, alarm: Alarm) -> bool:
    """Whether it makes a sound; noted where that cannot be read."""
    if not is_sound_known(alarm):
        ask.missing("alarms", alarm.name)
    return alarm.audible


def unreadable_alarms(setup: Setup, alarm: Alarm) -> list[str]:
    """Why it is not known all that an alarm listens to; empty where it is."""
    return [leaf.atom.because for leaf in alarm_leaves(setup, alarm) if isinstance(leaf.atom, f.Unknown)]


def unread_sensor(ask: Asking) -> bool:
    """Whether some sensor cannot be read, so that it may be any; then that is noted."""
    if ask.unread("sensors"):
        return True
    names = {str(path[1]) for path in ask.setup.broken if path[:1] == ("sensors",)} - ask.setup.sensors.keys()
    for name in sorted(names):
        ask.missing("sensors", name)
    return bool(names)


def alarms_known(ask: Asking) -> bool:
    """Whether it can be told of every alarm what it listens to; else it is noted why not."""
    because = [reason for a in ask.setup.alarms.values() for reason in unreadable_alarms(ask.setup, a)]
    for reason in because:
        ask.not_judged(reason)
    return not ask.unread("alarms") and not because


def sensor_kind(setup: Setup, name: str) -> str:
    """What a sensor reads; "" for a stick or knob."""
    return setup.sensors[name].reads if name in setup.sensors else ""


def thresholds(setup: Setup, alarm: Alarm) -> Iterator[Threshold]:
    """The voltages of the pack or a cell below which it can sound."""
    for leaf in alarm_leaves(setup, alarm):
        atom = leaf.atom
        if not isinstance(atom, f.Compare) or sensor_kind(setup, atom.name) not in PACK:
            continue
        if leaf.allows or (atom.op in ("<", "<=")) != leaf.positive:
            continue
        whole, cells = sensor_kind(setup, atom.name) == "pack-voltage", setup.cells_of(setup.sensors[atom.name])
        cell = None if cells is None else atom.number / cells
        yield Threshold(alarm, atom.number, cell, whole, leaf.path, atom.name)
