"""The pack's voltage, and whether anything speaks while it can still be landed."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from setuplint.book.asking import Asking, plain
from setuplint.checks import amend
from setuplint.checks.charge import is_charge_counted, no_sound
from setuplint.checks.listening import PACK, Threshold, listens, sensor_kind, thresholds, unreadable_alarms
from setuplint.checks.remaining import BELOW, careful_threshold
from setuplint.engine.answers import Case
from setuplint.findings import Edit, Finding, Place
from setuplint.setup import formulas as f
from setuplint.setup.model import Alarm, Path, Sensor

CHEMISTRIES = {"lipo": "LiPo", "lihv": "high-voltage LiPo", "li-ion": "Li-ion", "life": "LiFePO4"}
MOST_CELLS = 24


def voltage_alarm_missing(ask: Asking) -> Iterator[Finding]:
    """A sensor of the pack's voltage and no alarm that listens to one; without a sensor a timer must do."""
    sensors = pack_sensors(ask)
    if not sensors:
        timer_instead(ask)
    elif not pack_alarms(ask) and alarms_known(ask):
        first = sensors[0]
        names = " and ".join(s.name for s in sensors)
        yield ask.finding(
            first.name,
            f"{names} {'reads' if len(sensors) == 1 else 'read'} the pack's voltage, and no alarm sounds when it falls",
            ("sensors", first.name),
            related=[Place(("sensors", s.name), "no alarm listens to this one either") for s in sensors[1:]],
        )


def timer_instead(ask: Asking) -> None:
    """Without a sensor: not judged, but where an alarm of the charge used, or a sounding timer, comes in time; an engine has no
    pack."""
    battery = ask.setup.battery
    if ask.unread("craft", "power") or ask.setup.is_engine:
        return
    if unread_sensor(ask) or is_charge_counted(ask, ask.limit("capacity")):
        return
    timers = [t for t in ask.setup.timers.values() if t.audible]
    capacity, current = battery.capacity_mah, battery.hover_current_a
    if not timers:
        ask.not_judged("no sensor reads the pack's voltage, and no sounding timer is given")
    elif capacity is None or current is None:
        lacking_key(ask, "capacity-mah", "hover-current-a")
    elif min(t.seconds for t in timers) * current * 1000 / 3600 > capacity * ask.limit("capacity") / 100:
        share = f"{number_words(ask.limit('capacity'))} % of the capacity"
        ask.not_judged(f"no sensor reads the pack's voltage, and no sounding timer ends by {share} at hover-current-a")


def lacking_key(ask: Asking, *keys: str) -> bool:
    """Whether a key of [battery] is not given; noted."""
    absent = [key for key in keys if getattr(ask.setup.battery, key.replace("-", "_")) is None]
    for key in absent:
        ask.missing("battery", key)
    return bool(absent)


def unread_sensor(ask: Asking) -> bool:
    """Whether some sensor cannot be read: it may be the pack's."""
    if ask.unread("sensors"):
        return True
    names = {str(path[1]) for path in ask.setup.broken if path[:1] == ("sensors",)}
    for name in sorted(names):
        ask.missing("sensors", name)
    return bool(names)


def pack_sensors(ask: Asking) -> list[Sensor]:
    return [s for s in ask.setup.sensors.values() if s.reads in PACK]


def pack_alarms(ask: Asking) -> list[Alarm]:
    return [a for a in ask.setup.alarms.values() if listens(ask.setup, a, PACK)]


def alarms_known(ask: Asking) -> bool:
    """Whether it can be told of every alarm what it listens to; else it is noted why not."""
    because = [reason for a in ask.setup.alarms.values() for reason in unreadable_alarms(ask.setup, a)]
    for reason in because:
        ask.not_judged(reason)
    return not ask.unread("alarms") and not because


def floor_limit(ask: Asking) -> Fraction | None:
    """The least loaded voltage of a cell; None, and noted, where the chemistry is not known."""
    chemistry = ask.setup.battery.chemistry
    if chemistry is None:
        ask.missing("battery", "chemistry")
        return None
    return ask.limit(f"floor-{chemistry}", BELOW)


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
    if any(ask.setup.cells_of(sensor) is None for sensor in sensors):
        ask.missing("battery", "cells")
    elif least is not None:
        case = ask.find(unwarned_case(ask, sensors, listening, least))
        if case is not None:
            yield below_floor(ask, case, listening, least)


def unwarned_case(ask: Asking, sensors: list[Sensor], listening: list[Alarm], least: Fraction) -> f.Formula:
    heard = f.either(*(f.Heard(s.name) for s in sensors))
    silent = no_sound(ask, {alarm.name for alarm in listening})
    return f.both(f.Predicate("flying"), heard, f.CellBelow(least), *silent)


def below_floor(ask: Asking, case: Case, listening: list[Alarm], least: Fraction) -> Finding:
    """Said of the alarm that comes nearest: the one with the highest threshold of those that make a sound."""
    audible = [a for a in listening if a.audible]
    given = [t for a in audible or listening for t in thresholds(ask.setup, a)]
    best = max(given, key=lambda t: t.cell or Fraction(0), default=None)
    alarm = best.alarm if best else (audible or listening)[0]
    low = best is not None and best.cell is not None and best.cell < least
    path: Path = ("alarms", alarm.name, "when")
    if not audible:
        what = f"alarm {alarm.name} has neither voice, tone nor vibration, and makes no sound"
        path = ("alarms", alarm.name)
    elif best is not None and low:
        what = f"alarm {alarm.name} sounds only below {threshold_words(ask, best)}, when it is too late"
        path = best.path
    elif best is not None:
        what = f"alarm {alarm.name} is silent where it is needed, though its threshold, {threshold_words(ask, best)}, is right"
    else:
        what = f"alarm {alarm.name} compares the voltage, but sounds below no threshold"
    wrong = [text for a in listening for t in thresholds(ask.setup, a) for text in other_count(ask, t, least)]
    where = f"in mode {case.evaluation.mode}" if case.evaluation.mode and not low else "in flight"
    cell = case.state.cell or Fraction(0)
    known = ask.setup.battery.cells is not None
    pack = (
        f"the pack at {volt_words(cell * cell_count(ask))}, {volt_words(cell)} a cell"
        if known
        else f"a cell at {volt_words(cell)}"
    )
    now = f"{where}, with {pack}, nothing sounds"
    related = [] if path[0] == "alarms" else [Place(("alarms", alarm.name), "the alarm")]
    keys = [("battery", "chemistry"), ("battery", "cells")]
    return ask.finding(
        alarm.name,
        "; ".join([f"{what}: {floor_text(ask, least)}", now, *dict.fromkeys(wrong)]),
        path,
        case,
        related=[*related, *(Place(key, "what the floor rests on") for key in keys if key in ask.setup.declared)],
        edit=raised_edit(ask, best, least) if audible and low and best is not None else None,
    )


def raised_edit(ask: Asking, threshold: Threshold, least: Fraction) -> Edit | None:
    """A careful threshold in its place."""
    kind, name, _ = threshold.path
    wait = ask.setup.conditions[str(name)].after if kind == "conditions" else Fraction(0)
    number = careful_threshold(ask, least, wait) * threshold.units
    for atom in f.atoms(amend.formula_at(ask.setup, threshold.path) or f.TRUE):
        whole = isinstance(atom, f.Compare) and sensor_kind(ask.setup, atom.name) == PACK[0]
        if isinstance(atom, f.Compare) and atom.number == threshold.volts and whole == threshold.whole:
            return amend.threshold_edit(ask, threshold.path, atom, number)
    return None


def floor_text(ask: Asking, least: Fraction) -> str:
    """The floor of a LiPo cell is 3.3 V loaded, 13.2 V for this pack of 4."""
    kind = CHEMISTRIES[str(ask.setup.battery.chemistry)]
    known = ask.setup.battery.cells is not None
    whole = f", {volt_words(least * cell_count(ask))} for this pack of {cell_count(ask)}" if known else ""
    return f"the floor of a {kind} cell is {volt_words(least)} loaded{whole}"


def cell_count(ask: Asking) -> int:
    """The number of cells, where it is known that it is given."""
    assert ask.setup.battery.cells is not None
    return ask.setup.battery.cells


def threshold_words(ask: Asking, threshold: Threshold) -> str:
    """11.1 V, which is 2.775 V a cell on 4 cells."""
    if not threshold.whole:
        return f"{volt_words(threshold.volts)} a cell"
    return (
        f"{volt_words(threshold.volts)}, which is {volt_words(threshold.cell or Fraction(0))} a cell on "
        f"{cell_words(threshold.units)}"
    )


def other_count(ask: Asking, threshold: Threshold, least: Fraction) -> Iterator[str]:
    """What other numbers of cells a threshold of the pack fits, if it does not fit this one."""
    full = ask.limit(f"full-{ask.setup.battery.chemistry}", "cell-count-mismatch")
    part = threshold.units != ask.setup.battery.cells  # its sensor stands across a part of the pack
    if not threshold.whole or part or threshold.cell is None or least <= threshold.cell <= full:
        return
    fitting = [n for n in range(1, MOST_CELLS + 1) if least <= threshold.volts / n <= full]
    if len(fitting) == 1:
        each = volt_words(threshold.volts / fitting[0])
        yield f"{volt_words(threshold.volts)} fits a pack of {cell_words(fitting[0])} ({each} a cell)"
    elif fitting:
        yield f"{volt_words(threshold.volts)} fits a pack of {fitting[0]} to {cell_words(fitting[-1])}"


def cell_count_mismatch(ask: Asking) -> Iterator[Finding]:
    """A threshold below the floor or above a full pack for this count, and careful for another."""
    if ask.said(BELOW):
        return
    alarms_known(ask)
    listening = [a for a in pack_alarms(ask) if not ask.broken("alarms", a.name)]
    given = [t for a in listening for t in thresholds(ask.setup, a) if t.whole]
    if not given:
        return
    least = floor_limit(ask)
    if ask.setup.battery.cells is None:
        ask.missing("battery", "cells")
    elif least is not None:
        said = set()
        for threshold in given:
            for text in other_count(ask, threshold, least):
                if threshold.alarm.name not in said and (threshold.path, threshold.volts) not in said:
                    said |= {threshold.alarm.name, (threshold.path, threshold.volts)}
                    yield mismatch_finding(ask, threshold, least, text)


def mismatch_finding(ask: Asking, threshold: Threshold, least: Fraction, text: str) -> Finding:
    full = ask.limit(f"full-{ask.setup.battery.chemistry}")
    assert threshold.cell is not None
    beyond = (
        f"under the floor of {volt_words(least)}"
        if threshold.cell < least
        else f"more than a full cell's {volt_words(full)}"
    )
    return ask.finding(
        threshold.alarm.name,
        f"alarm {threshold.alarm.name} has its threshold at {threshold_words(ask, threshold)}, {beyond}: {text}",
        threshold.path,
        related=[Place(("battery", "cells"), "this pack's cells")],
    )


def cell_words(count: int) -> str:
    return f"{count} cell" if count == 1 else f"{count} cells"


def number_words(value: Fraction) -> str:
    return f"{plain(round(value, 3)):g}"


def volt_words(value: Fraction) -> str:
    return f"{number_words(value)} V"
