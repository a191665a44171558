"""The pack under its floor in flight, and no alarm for its voltage: which alarm is to blame, and why."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from setuplint.book.asking import Asking
from setuplint.checks import amend
from setuplint.checks.battery import (
    CHEMISTRIES,
    cell_count,
    floor_limit,
    number_words,
    other_count,
    pack_alarms,
    pack_sensors,
    threshold_words,
    volt_words,
)
from setuplint.checks.charge import no_sound
from setuplint.checks.listening import Threshold, alarms_known, compares, thresholds, unread_sensor
from setuplint.checks.remaining import FULL, LATE, careful_threshold
from setuplint.checks.trips import stages
from setuplint.engine.answers import Case
from setuplint.findings import Edit, Finding, Place
from setuplint.named_tuple import NamedTuple
from setuplint.plain.evaluate import truth
from setuplint.setup import formulas as f
from setuplint.setup.formula_text import with_leaf_replaced
from setuplint.setup.model import Alarm, Path, Sensor


def voltage_alarm_below_floor(ask: Asking) -> Iterator[Finding]:
    """Flying, a pack or cell sensor heard, a cell under the floor, and no pack alarm sounds."""
    sensors, listening = pack_sensors(ask), pack_alarms(ask)
    unread_sensor(ask)
    if not sensors:
        return
    if not listening:  # of that voltage-alarm-missing speaks
        alarms_known(ask)
        return
    least = floor_limit(ask)
    known = [s for s in sensors if ask.setup.cells_of(s) is not None]
    if not known or not_of_cells(ask, listening):
        ask.missing("battery", "cells")
    elif least is not None:
        case = ask.find(unwarned_case(ask, known, listening, least))
        if case is not None:
            yield below_floor(ask, case, known, listening, least)


def not_of_cells(ask: Asking, alarms: list[Alarm]) -> list[Alarm]:
    """The alarms that listen to a sensor of the pack of which it is not known across how many cells it stands."""
    unknown = [s.name for s in pack_sensors(ask) if ask.setup.cells_of(s) is None]
    return [a for a in alarms if compares(ask.setup, a, unknown)]


def unwarned_case(ask: Asking, sensors: list[Sensor], listening: list[Alarm], least: Fraction) -> f.Formula:
    heard = f.either(*(f.Heard(s.name) for s in sensors))
    silent = no_sound(ask, {alarm.name for alarm in listening})
    return f.both(f.Predicate("flying"), heard, f.CellBelow(least), *silent)


class Silence(NamedTuple):
    """Which alarm is named for its silence, what is said of it, where that stands, and what to do."""

    alarm: Alarm
    what: str
    path: Path
    remedy: str = ""
    low: Threshold | None = None  # it is too low
    here: bool = True  # in the mode of the case, if not everywhere


def below_floor(ask: Asking, case: Case, sensors: list[Sensor], listening: list[Alarm], least: Fraction) -> Finding:
    found = named_silence(ask, case, sensors, listening, least)
    now = [silence_words(ask, case, sensors, listening, found)]
    wrong = [*dict.fromkeys(x for a in listening for t in thresholds(ask.setup, a) for x in other_count(ask, t, least))]
    told = [
        f"{found.what}: {floor_text(ask, least)}",
        *(wrong + now if case.timing else now + wrong),
    ]  # a time comes last
    related = [] if found.path[0] == "alarms" else [Place(("alarms", found.alarm.name), "the alarm")]
    keys = [("battery", "chemistry"), ("battery", "cells")]
    return ask.finding(
        found.alarm.name,
        "; ".join(told),
        found.path,
        case,
        related=[*related, *(Place(key, "what the floor rests on") for key in keys if key in ask.setup.declared)],
        remedy=found.remedy,
        edit=raised_edit(ask, found.low, least) if found.alarm.audible and found.low is not None else None,
    )


def is_heard(case: Case, sensor: Sensor) -> bool:
    return isinstance(case.state.readings[sensor.name], Fraction)


def named_silence(ask: Asking, case: Case, sensors: list[Sensor], listening: list[Alarm], least: Fraction) -> Silence:
    """Said of the alarm that comes nearest: the one with the highest threshold of those that make a sound, on a sensor that is
    heard in the case."""
    audible = [a for a in listening if a.audible]
    if not audible:
        (alarm, *_) = listening
        what = f"alarm {alarm.name} has neither voice, tone nor vibration, and makes no sound"
        return Silence(alarm, what, ("alarms", alarm.name))
    heard = [s.name for s in sensors if is_heard(case, s)]
    full = ask.limit(f"full-{ask.setup.battery.chemistry}", FULL)
    given = [t for a in audible for t in thresholds(ask.setup, a) if t.cell is not None and t.sensor in heard]
    best = max(given, key=lambda t: ((t.cell or full) <= full, t.cell or full), default=None)
    if best is None:
        names, comparing = " and ".join(heard), [a for a in audible if compares(ask.setup, a, heard)]
        if not comparing:
            return Silence(audible[0], f"no alarm listens to {names}", ("sensors", heard[0]), LISTEN_TOO.format(names))
        what = f"alarm {comparing[0].name} compares {names}, but sounds below no threshold of it"
        return Silence(comparing[0], what, when_path(comparing[0]))
    assert best.cell is not None
    everywhere = best.cell < least
    too_low = best if everywhere else low_there(ask, case, least)
    if too_low is not None:
        what = f"alarm {too_low.alarm.name} sounds only below {threshold_words(ask, too_low)}, when it is too late"
        return Silence(too_low.alarm, what, too_low.path, low=too_low, here=not everywhere)
    is_right = best.cell <= full
    worth = "right" if is_right else f"more than a full cell's {volt_words(full)}"
    its = f"{'though' if is_right else 'and'} its threshold, {threshold_words(ask, best)}, is {worth}"
    what = f"alarm {best.alarm.name} is silent where it is needed, {its}"
    return Silence(best.alarm, what, when_path(best.alarm), waiting_remedy(ask, case))


LISTEN_TOO = (
    "Let an alarm listen to {} too, at the same voltage a cell: one sensor can be lost while the other is heard."
)


def when_path(alarm: Alarm) -> Path:
    return ("alarms", alarm.name, "when")


def low_there(ask: Asking, case: Case, least: Fraction) -> Threshold | None:
    """The highest threshold that is too low, of those that alone can still sound in the case: all else that their way needs
    is so there."""
    found = []
    for trip in stages(ask):
        falls = f.TRUE if trip.atom.op in ("<", "<=") else f.FALSE
        open_to = with_leaf_replaced(trip.sounds, trip.atom, falls)
        if trip.cell < least and trip.beside and truth(ask.setup, open_to, case.state, case.evaluation):
            found.append(trip.threshold)
    return max(found, key=lambda t: t.cell or Fraction(0), default=None)


def waiting_remedy(ask: Asking, case: Case) -> str:
    """What to do where nothing but time keeps an alarm silent; empty where it is something else."""
    if case.timing is None:
        return ""
    keys = [f"the `after` of {' and '.join(case.timing.waits)}"] if case.timing.waits else []
    keys += [f"the `stays` of {' and '.join(case.timing.stays)}"] if case.timing.stays else []
    most = f"{number_words(ask.limit('wait', LATE))} s, all together, are the most"
    return f"Shorten what keeps it silent, {' and '.join(keys)}: {most}." if keys else ""


def silence_words(ask: Asking, case: Case, sensors: list[Sensor], listening: list[Alarm], found: Silence) -> str:
    """In mode normal, with cell lost and the pack at 18 V, 3 V a cell, nothing sounds."""
    cell = case.state.cell or Fraction(0)
    volts = f"a cell at {volt_words(cell)}"
    if ask.setup.battery.cells is not None:
        volts = f"the pack at {volt_words(cell * cell_count(ask))}, {volt_words(cell)} a cell"
    lost = [s.name for s in sensors if not is_heard(case, s)]
    if lost:
        volts = f"{'sensor' if len(lost) == 1 else 'sensors'} {' and '.join(lost)} lost and {volts}"
    where = f"in mode {case.evaluation.mode}" if case.evaluation.mode and found.here else "in flight"
    others = [
        a.name
        for a in ask.setup.alarms.values()
        if a.audible and a not in listening and truth(ask.setup, f.Sounds(a.name), case.state, case.evaluation)
    ]
    sound = f"no alarm for the voltage sounds, only {' and '.join(others)}" if others else "nothing sounds"
    return f"{where}, with {volts}, {sound}"


def raised_edit(ask: Asking, threshold: Threshold, least: Fraction) -> Edit | None:
    """A careful threshold in its place."""
    kind, name, _ = threshold.path
    wait = ask.setup.conditions[str(name)].after if kind == "conditions" else Fraction(0)
    number = careful_threshold(ask, least, wait) * threshold.units
    for atom in f.atoms(amend.formula_at(ask.setup, threshold.path) or f.TRUE):
        if isinstance(atom, f.Compare) and (atom.name, atom.number) == (threshold.sensor, threshold.volts):
            return amend.threshold_edit(ask, threshold.path, atom, number)
    return None


def floor_text(ask: Asking, least: Fraction) -> str:
    """The floor of a LiPo cell is 3.3 V loaded, 13.2 V for this pack of 4."""
    kind = CHEMISTRIES[str(ask.setup.battery.chemistry)]
    known = ask.setup.battery.cells is not None
    whole = f", {volt_words(least * cell_count(ask))} for this pack of {cell_count(ask)}" if known else ""
    return f"the floor of a {kind} cell is {volt_words(least)} loaded{whole}"
