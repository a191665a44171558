"""At which voltage an alarm of the pack comes, and how long it waits: what its formula needs, through conditions."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import product
from math import prod

from setuplint.book.asking import Asking
from setuplint.checks.listening import PACK, Threshold, is_heard, sensor_kind, unreadable_alarms
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
    sounds: f.Formula  # it sounds in this way
    beside: tuple[f.Formula, ...] = ()  # the other ways in which the alarm sounds, where it has several thresholds
    merged: bool = False  # it may have more, which are not told apart

    @property
    def fallen(self) -> f.Formula:
        """The voltage is below the threshold."""
        return self.atom if self.atom.op in ("<", "<=") else f.Not(self.atom)


class Falling(NamedTuple):
    """One of several ways in which a formula becomes true: what must hold, settled, and what has to fall for it."""

    formula: f.Formula
    low: Low | None
    parts: int = 1  # of the formula
    merged: bool = False  # several ways that are too many, or too long, to be told apart; `low` is the highest


MOST_WAYS = 16  # of a formula
MOST_PARTS = 64  # of one way
Known = dict[tuple[str, bool], list[Falling]]


def trips(ask: Asking) -> list[Trip]:
    """The first trip of each sounding alarm that waits for the pack to fall, in the order of the file."""
    first: dict[str, Trip] = {}
    for trip in stages(ask):
        if trip.alarm.name not in first or trip.cell > first[trip.alarm.name].cell:
            first[trip.alarm.name] = trip
    return list(first.values())


def stages(ask: Asking) -> list[Trip]:
    """Every trip of each sounding alarm that waits for the pack to fall, in the order of the file. What cannot be told is
    noted: alarms that cannot be read, and the voltage a cell where the cells are not given."""
    setup = ask.setup
    ask.unread("alarms")
    known: Known = {}
    for condition in setup.conditions.values():  # in dependency order
        for positive in (True, False):
            known[condition.name, positive] = condition_ways(setup, known, condition, positive)
    found: list[Trip] = []
    for alarm in setup.alarms.values():
        for because in unreadable_alarms(setup, alarm):
            ask.not_judged(because, alarm.name)
        made = ways(setup, known, alarm.when, True, ("alarms", alarm.name, "when"))
        if all(way.low is None for way in made) or not is_heard(ask, alarm):
            continue
        if any(way.low is not None and way.low.cell is None for way in made):
            ask.missing("battery", "cells")
        found += alarm_stages(setup, alarm, made)
    return found


def alarm_stages(setup: Setup, alarm: Alarm, made: list[Falling]) -> Iterator[Trip]:
    falling = [way for way in made if way.low is not None and way.low.cell is not None]
    for way in falling:
        low = way.low
        assert low is not None
        assert low.cell is not None
        whole = sensor_kind(setup, low.atom.name) == "pack-voltage"
        threshold = Threshold(alarm, low.atom.number, low.cell, whole, low.path, low.atom.name)
        sounds: f.Formula = f.Sounds(alarm.name)
        beside: tuple[f.Formula, ...] = ()
        if len(falling) > 1:
            sounds, beside = way.formula, tuple(other.formula for other in made if other is not way)
        yield Trip(alarm, threshold, low.cell, low.atom, low.wait, low.keys, sounds, beside, way.merged)


def condition_ways(setup: Setup, known: Known, condition: Condition, positive: bool) -> list[Falling]:
    """A condition turns on later by its `after`, and off later by its `stays`. What is remembered does not turn off with it."""
    here: f.Formula = f.Holds(condition.name)
    here = here if positive else f.Not(here)
    if condition.remembers and not positive:
        return [Falling(here, None)]
    made = ways(setup, known, condition.when, positive, ("conditions", condition.name, "when"))
    key, wait = ("after", condition.after) if positive else ("stays", condition.stays)
    if wait:
        keys = (("conditions", condition.name, key),)
        late = [w.low and w.low._replace(wait=w.low.wait + wait, keys=(*w.low.keys, *keys)) for w in made]
        made = [w._replace(low=low) for w, low in zip(made, late, strict=True)]
    many = len(made) > 1 and (condition.remembers or any(way.parts > MOST_PARTS for way in made))
    if many or len(made) == 1:
        return [Falling(here, highest([w.low for w in made]), merged=many or any(way.merged for way in made))]
    return made


def ways(setup: Setup, known: Known, formula: f.Formula, positive: bool, path: Path) -> list[Falling]:
    """In which ways a falling voltage makes a formula true (`positive`) or false: of parts that must all be so the lowest
    counts; parts of which one will do are as many ways."""
    here = formula if positive else f.Not(formula)
    if isinstance(formula, f.Not):
        return ways(setup, known, formula.item, not positive, path)
    if isinstance(formula, f.Holds):
        return known[formula.condition, positive]
    if isinstance(formula, f.And | f.Or):
        parts = [ways(setup, known, item, positive, path) for item in formula.items]
        together = isinstance(formula, f.And) == positive
        firsts = [highest([way.low for way in part]) for part in parts]
        count = prod(map(len, parts)) if together else sum(map(len, parts))
        if count > MOST_WAYS or (together and count == 1):
            merged = count > 1 or any(way.merged for part in parts for way in part)
            return [Falling(here, lowest(firsts) if together else highest(firsts), merged=merged)]
        return [joined(row) for row in product(*parts)] if together else [way for part in parts for way in part]
    return [Falling(here, falling_atom(setup, formula, positive, path))]


def joined(row: Sequence[Falling]) -> Falling:
    """All of these at once."""
    formula, low = f.both(*(way.formula for way in row)), lowest([way.low for way in row])
    return Falling(formula, low, sum(way.parts for way in row), any(way.merged for way in row))


def highest(lows: Sequence[Low | None]) -> Low | None:
    return max((low for low in lows if low is not None), key=_cell, default=None)


def lowest(lows: Sequence[Low | None]) -> Low | None:
    return min((low for low in lows if low is not None), key=_cell, default=None)


def _cell(low: Low) -> Fraction:
    return low.cell or Fraction(0)


def falling_atom(setup: Setup, formula: f.Formula, positive: bool, path: Path) -> Low | None:
    """A comparison that a falling voltage makes true (`positive`) or false, with a number that the pack can show."""
    if not isinstance(formula, f.Compare) or sensor_kind(setup, formula.name) not in PACK:
        return None
    if (formula.op in ("<", "<=")) != positive or beyond_range(setup, formula):
        return None
    unit = setup.cells_of(setup.sensors[formula.name])
    return Low(formula, None if unit is None else formula.number / unit, path)


def beyond_range(setup: Setup, atom: f.Compare) -> bool:
    """Whether no pack can show the number: value-out-of-range speaks of it."""
    least, most = reading_range(setup, setup.sensors[atom.name])
    return not least <= atom.number <= most
