"""The pack's voltage, and whether anything speaks while it can still be landed."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from setuplint.book.asking import Asking, plain
from setuplint.checks.charge import FLYING, is_charge_counted
from setuplint.checks.listening import (
    PACK,
    Threshold,
    alarm_leaves,
    alarms_known,
    is_heard,
    is_sound_known,
    listens,
    sensor_kind,
    thresholds,
    unread_sensor,
)
from setuplint.checks.remaining import BELOW
from setuplint.findings import Finding, Place
from setuplint.setup import formulas as f
from setuplint.setup.model import Alarm, Path, Sensor, Timer

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
    timers = counting_timers(ask)
    capacity, current = battery.capacity_mah, battery.hover_current_a
    if not timers:
        ask.not_judged("no sensor reads the pack's voltage, and no sounding timer is given")
    elif capacity is None or current is None:
        lacking_key(ask, "capacity-mah", "hover-current-a")
    elif min(t.seconds for t in timers) * current * 1000 / 3600 > capacity * ask.limit("capacity") / 100:
        share = f"{number_words(ask.limit('capacity'))} % of the capacity"
        ask.not_judged(f"no sensor reads the pack's voltage, and no sounding timer ends by {share} at hover-current-a")


def counting_timers(ask: Asking) -> list[Timer]:
    """The timers with a sound that count in some flying state, as far as is known."""
    heard = [t for t in ask.setup.timers.values() if t.audible]
    return [t for t in heard if t.runs is None or not ask.proved_impossible(f.both(FLYING, t.runs))]


def lacking_key(ask: Asking, *keys: str) -> bool:
    """Whether a key of [battery] is not given; noted."""
    absent = [key for key in keys if getattr(ask.setup.battery, key.replace("-", "_")) is None]
    for key in absent:
        ask.missing("battery", key)
    return bool(absent)


def pack_sensors(ask: Asking) -> list[Sensor]:
    return [s for s in ask.setup.sensors.values() if s.reads in PACK]


def pack_alarms(ask: Asking) -> list[Alarm]:
    return [a for a in ask.setup.alarms.values() if listens(ask.setup, a, PACK)]


def known_pack_alarms(ask: Asking) -> list[Alarm]:
    """The same; of the others, and of parts of these, it is noted why it is not known what they listen to, or if they sound."""
    ask.unread("alarms")
    found = []
    for alarm in ask.setup.alarms.values():
        atoms = [leaf.atom for leaf in alarm_leaves(ask.setup, alarm)]
        if any(isinstance(atom, f.Compare) and sensor_kind(ask.setup, atom.name) in PACK for atom in atoms):
            found.append(alarm)
            is_heard(ask, alarm)
        for atom in atoms:
            if isinstance(atom, f.Unknown):
                ask.not_judged(atom.because)
    return found


def floor_limit(ask: Asking) -> Fraction | None:
    """The least loaded voltage of a cell; None, and noted, where the chemistry is not known."""
    chemistry = ask.setup.battery.chemistry
    if chemistry is None:
        ask.missing("battery", "chemistry")
        return None
    return ask.limit(f"floor-{chemistry}", BELOW)


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
    listening = [a for a in known_pack_alarms(ask) if is_sound_known(a)]
    given = [t for a in listening for t in thresholds(ask.setup, a) if t.whole]
    if not given:
        return
    least = floor_limit(ask)
    if ask.setup.battery.cells is None:
        ask.missing("battery", "cells")
    elif least is not None:
        said: set[tuple[Path, Fraction]] = set()  # a threshold that several alarms use is one cause
        for alarm in listening:
            wrong = [
                (t, text)
                for t in thresholds(ask.setup, alarm)
                for text in other_count(ask, t, least)
                if (t.path, t.volts) not in said
            ]
            said |= {(t.path, t.volts) for t, _ in wrong}
            if wrong:
                yield mismatch_finding(ask, alarm, wrong, least)


def mismatch_finding(ask: Asking, alarm: Alarm, wrong: list[tuple[Threshold, str]], least: Fraction) -> Finding:
    full = ask.limit(f"full-{ask.setup.battery.chemistry}")
    told = {}
    for threshold, text in sorted(wrong, key=lambda each: -each[0].volts):
        low = threshold.cell is not None and threshold.cell < least
        beyond = f"under the floor of {volt_words(least)}" if low else f"more than a full cell's {volt_words(full)}"
        told[f"at {threshold_words(ask, threshold)}, {beyond}: {text}"] = threshold.path
    return ask.finding(
        alarm.name,
        f"alarm {alarm.name} has its {'threshold' if len(told) == 1 else 'thresholds'} {'; and '.join(told)}",
        next(iter(told.values())),
        related=[Place(("battery", "cells"), "this pack's cells")],
    )


def cell_words(count: int) -> str:
    return f"{count} cell" if count == 1 else f"{count} cells"


def number_words(value: Fraction) -> str:
    return f"{plain(round(value, 3)):g}"


def volt_words(value: Fraction) -> str:
    return f"{number_words(value)} V"
