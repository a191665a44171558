"""At which voltage an alarm of the pack comes, and how long it waits: what its formula needs, through conditions."""

from __future__ import annotations

from fractions import Fraction

from setuplint.book.asking import Asking
from setuplint.checks.listening import PACK, Threshold, sensor_kind, unreadable_alarms
from setuplint.named_tuple import NamedTuple
from setuplint.plain.settings import reading_range
from setuplint.setup import formulas as f
from setuplint.setup.model import Alarm, Condition, Path, Setup


class Low(NamedTuple):
    """A comparison that comes true as the voltage falls: as written, a cell (None: the cells are not given), and what it
    waits, with the keys that make it."""

    atom: f.Compare
    cell: Fraction | None
    path: Path
    wait: Fraction = Fraction(0)
    keys: tuple[Path, ...] = ()


class Trip(NamedTuple):
    """Where an alarm trips: its threshold, and the `wait` in seconds below it."""

    alarm: Alarm
    threshold: Threshold
    cell: Fraction
    atom: f.Compare
    wait: Fraction
    keys: tuple[Path, ...]

    @property
    def fallen(self) -> f.Formula:
        """The voltage is below the threshold."""
        return self.atom if self.atom.op in ("<", "<=") else f.Not(self.atom)


Known = dict[tuple[str, bool], Low | None]


def trips(ask: Asking) -> list[Trip]:
    """A trip of each sounding alarm that waits for the pack to fall, in the order of the file. What cannot be told is
    noted: alarms that cannot be read, and the voltage a cell where the cells are not given."""
    setup = ask.setup
    ask.unread("alarms")
    known: Known = {}
    for condition in setup.conditions.values():  # in dependency order
        for positive in (True, False):
            known[condition.name, positive] = passed_conditions(setup, known, condition, positive)
    found = []
    for alarm in setup.alarms.values():
        if ask.unread("alarms", alarm.name):
            continue
        for because in unreadable_alarms(setup, alarm):
            ask.not_judged(because, alarm.name)
        low = falls(setup, known, alarm.when, True, ("alarms", alarm.name, "when"))
        if low is None or not alarm.audible:
            continue
        if low.cell is None:
            ask.missing("battery", "cells")
            continue
        whole = sensor_kind(setup, low.atom.name) == "pack-voltage"
        threshold = Threshold(alarm, low.atom.number, low.cell, whole, low.path)
        found.append(Trip(alarm, threshold, low.cell, low.atom, low.wait, low.keys))
    return found


def passed_conditions(setup: Setup, known: Known, condition: Condition, positive: bool) -> Low | None:
    """A condition turns on later by its `after`, and off later by its `stays`. What is remembered does not turn off with it."""
    if condition.remembers and not positive:
        return None
    low = falls(setup, known, condition.when, positive, ("conditions", condition.name, "when"))
    key, wait = ("after", condition.after) if positive else ("stays", condition.stays)
    if low is None or not wait:
        return low
    return low._replace(wait=low.wait + wait, keys=(*low.keys, ("conditions", condition.name, key)))


def falls(setup: Setup, known: Known, formula: f.Formula, positive: bool, path: Path) -> Low | None:
    """Where a falling voltage makes a formula true (`positive`) or false: of parts that must all be so the lowest, of
    parts of which one will do the highest."""
    if isinstance(formula, f.Not):
        return falls(setup, known, formula.item, not positive, path)
    if isinstance(formula, f.Holds):
        return known.get((formula.condition, positive))
    if isinstance(formula, f.And | f.Or):
        found = [low for item in formula.items if (low := falls(setup, known, item, positive, path)) is not None]
        pick = min if isinstance(formula, f.And) == positive else max
        return pick(found, key=lambda low: low.cell or Fraction(0), default=None)
    if not isinstance(formula, f.Compare) or sensor_kind(setup, formula.name) not in PACK:
        return None
    if (formula.op in ("<", "<=")) != positive:
        return None
    if beyond_range(setup, formula):
        return None
    unit = setup.cells_of(setup.sensors[formula.name])
    return Low(formula, None if unit is None else formula.number / unit, path)


def beyond_range(setup: Setup, atom: f.Compare) -> bool:
    """Whether no pack can show the number: value-out-of-range speaks of it."""
    least, most = reading_range(setup, setup.sensors[atom.name])
    return not least <= atom.number <= most
