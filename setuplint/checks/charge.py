"""Alarms that count the charge used: whether they sound while there is something left to land with."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from fractions import Fraction

from setuplint.book.asking import Asking, plain
from setuplint.checks import amend
from setuplint.checks.listening import (
    Leaf,
    alarm_leaves,
    alarms_known,
    is_heard,
    is_sound_known,
    unread_sensor,
    unreadable_alarms,
)
from setuplint.engine.answers import Case
from setuplint.findings import Finding, Place
from setuplint.named_tuple import NamedTuple
from setuplint.setup import formulas as f
from setuplint.setup.model import Alarm, Path, Sensor

FLYING = f.Predicate("flying")


def charge_sensors(ask: Asking) -> list[Sensor]:
    return [s for s in ask.setup.sensors.values() if s.reads == "charge-used"]


def listeners(ask: Asking, sensor: Sensor) -> list[Alarm]:
    """The sounding alarms that compare the sensor with a number."""
    return [a for a in ask.setup.alarms.values() if a.audible and own_leaves(ask, a, sensor)]


def pack_watchers(ask: Asking) -> list[Alarm]:
    """The sounding alarms of the charge used, which tell of the pack where no voltage does; an engine has no pack."""
    sensors = [] if ask.setup.is_engine else charge_sensors(ask)
    return list(dict.fromkeys(alarm for sensor in sensors for alarm in listeners(ask, sensor)))


def own_leaves(ask: Asking, alarm: Alarm, sensor: Sensor) -> list[Leaf]:
    """Its comparisons of the sensor with numbers."""
    return [x for x in alarm_leaves(ask.setup, alarm) if isinstance(x.atom, f.Compare) and x.atom.name == sensor.name]


class Growing(NamedTuple):
    """From what on an alarm can sound as the charge used grows, and where that stands."""

    alarm: Alarm
    atom: f.Compare
    path: Path


def growing_comparisons(ask: Asking, alarms: Iterable[Alarm], sensor: Sensor) -> Iterator[Growing]:
    for alarm in alarms:
        for leaf in own_leaves(ask, alarm, sensor):
            assert isinstance(leaf.atom, f.Compare)
            if not leaf.allows and (leaf.atom.op in (">", ">=")) == leaf.positive:
                yield Growing(alarm, leaf.atom, leaf.path)


def no_sound(ask: Asking, heeded: Collection[str]) -> list[f.Formula]:
    """None of these alarms sounds; unknown where one cannot be read, or might be one of them."""
    silent: list[f.Formula] = []
    for alarm in ask.setup.alarms.values():
        if not is_sound_known(alarm) or (alarm.name not in heeded and unreadable_alarms(ask.setup, alarm)):
            silent.append(f.Unknown(f"alarms.{alarm.name} cannot be read"))
        elif alarm.name in heeded:
            silent.append(f.Not(f.Sounds(alarm.name)))
    if ask.broken("alarms"):
        silent.append(f.Unknown("alarms cannot be read"))
    return silent


def unwarned_charge(ask: Asking, sensor: Sensor, most: Fraction) -> f.Formula:
    """Flying, more used than that, and no alarm that listens to the sensor sounds."""
    heeded = {alarm.name for alarm in ask.setup.alarms.values() if own_leaves(ask, alarm, sensor)}
    return f.both(FLYING, f.Compare(sensor.name, ">", most), *no_sound(ask, heeded))


def is_charge_counted(ask: Asking, percent: Fraction) -> bool:
    """Whether an alarm of the charge used sounds by that share of the capacity in every flying state, for sure."""
    capacity = ask.setup.battery.capacity_mah
    return capacity is not None and any(
        listeners(ask, sensor) and ask.proved_impossible(unwarned_charge(ask, sensor, capacity * percent / 100))
        for sensor in charge_sensors(ask)
    )


def charge_alarm_late(ask: Asking) -> Iterator[Finding]:
    """Flying, more of the capacity used than the limit, and no alarm that listens to it sounds, though one does higher up."""
    capacity = ask.setup.battery.capacity_mah
    unread_sensor(ask)
    for sensor in charge_sensors(ask):
        heard = listeners(ask, sensor)
        if not heard:
            alarms_known(ask)
            for alarm in ask.setup.alarms.values():
                if own_leaves(ask, alarm, sensor):
                    is_heard(ask, alarm)
            continue
        if capacity is None:
            if not ask.setup.is_engine:  # that has none
                ask.missing("battery", "capacity-mah")
            return
        most = capacity * ask.limit("capacity") / 100
        above = f.both(FLYING, f.Compare(sensor.name, ">", most))
        if not ask.possible(f.both(above, f.either(*(f.Sounds(a.name) for a in heard))), sensor.name):
            continue
        case = ask.find(unwarned_charge(ask, sensor, most), sensor.name)
        if case is not None:
            yield late_charge_finding(ask, sensor, heard, most, case)


def late_charge_finding(ask: Asking, sensor: Sensor, heard: list[Alarm], most: Fraction, case: Case) -> Finding:
    """Said of the alarm that comes first of those that wait for the charge used to grow."""
    capacity, limit = ask.setup.battery.capacity_mah or Fraction(0), ask.limit("capacity")
    first = min(growing_comparisons(ask, heard, sensor), key=lambda each: each.atom.number, default=None)
    alarm = heard[0] if first is None else first.alarm
    path: Path = ("alarms", alarm.name, "when") if first is None else first.path
    edit, comes = None, f"alarm {alarm.name} is silent where it is needed"
    if first is not None and first.atom.number > most:
        share = first.atom.number / capacity * 100
        comes = f"alarm {alarm.name} sounds from {amount(first.atom.number)} on, {round(share)} % of the capacity"
        edit = amend.threshold_edit(ask, path, first.atom, Fraction(int(most)))
    mode = f" in mode {case.evaluation.mode}" if case.evaluation.mode else ""
    reading = case.state.readings[sensor.name]
    now = amount(reading) if isinstance(reading, Fraction) else "more"
    return ask.finding(
        alarm.name,
        f"{comes}: flying{mode} with {now} used nothing that listens to {sensor.name} sounds, and {plain(limit):g} % of "
        f"{amount(capacity)} is {amount(most)}",
        path,
        case,
        related=[Place(("battery", "capacity-mah"), "the capacity")],
        edit=edit,
    )


def amount(charge: Fraction) -> str:
    """2080 mAh, for messages."""
    return f"{plain(round(charge, 1))} mAh"
