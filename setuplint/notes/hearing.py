"""What is heard, and when, as a pack runs down, as the charge is used up, and as the receiver's supply sags."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from setuplint.formats.control_words import with_unit
from setuplint.formats.numbers import decimal
from setuplint.formats.terminal import FIXED_SPACE
from setuplint.notes.asking import Asker, Note, Open, written
from setuplint.setup import formulas as f
from setuplint.setup.dependencies import atoms_behind
from setuplint.setup.formula_text import decimal_text
from setuplint.setup.model import Alarm, Sensor, Setup

PACK, SUPPLY = "pack", "supply"
RISING = ("charge-used",)
NEVER = "is never heard"


def sound_words(alarm: Alarm) -> str:
    """`“land now”, every 5 s`."""
    how = [f"“{alarm.voice}”"] if alarm.voice else []
    how += [f"a tone ({alarm.name})"] if alarm.tone else []
    how += [f"a vibration ({alarm.name})"] if alarm.vibrate else []
    return f"{', '.join(how)}, {f'every {decimal(alarm.repeat)}{FIXED_SPACE}s' if alarm.repeat else 'once'}"


def pack_notes(ask: Asker) -> Iterator[Note]:
    yield from _sensor_notes(ask, PACK, ("pack-voltage", "cell-voltage", "charge-used"))


def supply_notes(ask: Asker) -> Iterator[Note]:
    if ask.setup.channels and not any(sensor.reads == "receiver-voltage" for sensor in ask.setup.sensors.values()):
        yield ask.note(SUPPLY, "when the receiver's supply sags nothing is heard: no sensor of the file reads it.")
        return
    yield from _sensor_notes(ask, SUPPLY, ("receiver-voltage",))


def _sensor_notes(ask: Asker, topic: str, kinds: tuple[str, ...]) -> Iterator[Note]:
    for sensor in [sensor for sensor in ask.setup.sensors.values() if sensor.reads in kinds]:
        found: list[tuple[Fraction, Note]] = []
        for alarm in [alarm for alarm in ask.setup.alarms.values() if alarm.audible]:
            try:
                found += _alarm_notes(ask, topic, sensor, alarm)
            except Open as why:
                yield ask.open_note(topic, f"when alarm {alarm.name} sounds by {sensor.name}", why)
        if found:
            yield from (note for _, note in sorted(found, key=lambda each: each[0], reverse=sensor.reads not in RISING))
        else:
            yield ask.note(topic, f"no alarm compares what {sensor.name} reads with a number.")


def _alarm_notes(ask: Asker, topic: str, sensor: Sensor, alarm: Alarm) -> Iterator[tuple[Fraction, Note]]:
    """For each number that the alarm compares the sensor with: whether it is sure to sound beyond it, and silent before."""
    sounds = written(alarm.when)
    for number in thresholds(ask.setup, alarm.when, sensor.name):
        beyond, before = _sides(sensor, number)
        place = f"{'under' if sensor.reads not in RISING else 'over'} {_volts(ask.setup, sensor, number)}"
        late = _seconds(ask.setup, alarm.when)
        wait = f" for {decimal(late)} s" if late else ""
        lead = f"whenever {sensor.name} {'has read' if late else 'reads'} {place}{wait}"
        if ask.never(beyond, f"not {sounds}"):
            kind = "is heard"
        elif ask.never(beyond, f"not {sounds}", "flying"):
            kind = "is heard while the craft flies"
        else:
            kind = "may be heard or not" if ask.can_be(beyond, sounds) else NEVER
        text = f"{lead}, {sound_words(alarm)} {kind}"
        if ask.never(before, sounds):
            text += ", nor is it before" if kind == NEVER else ", and not before"
        yield number, ask.note(topic, f"{text}.")


def _sides(sensor: Sensor, number: Fraction) -> tuple[str, str]:
    """What is asked of the sensor beyond the number, and on the other side of it, heard on both."""
    text = decimal_text(number)
    low, high = f"{sensor.name} < {text}", f"{sensor.name} > {text}"
    return (high, low) if sensor.reads in RISING else (low, high)


def _volts(setup: Setup, sensor: Sensor, number: Fraction) -> str:
    text, cells = with_unit(sensor.reads, number), setup.cells_of(sensor)
    return text if cells in (None, 1) else f"{text} ({decimal(number / cells)} V a cell)"


def thresholds(setup: Setup, formula: f.Formula, sensor: str) -> list[Fraction]:
    """The numbers that a formula compares a sensor with, also through conditions."""
    behind = atoms_behind(setup, [formula], until=True)
    return list(dict.fromkeys(atom.number for atom in behind if isinstance(atom, f.Compare) and atom.name == sensor))


def _seconds(setup: Setup, formula: f.Formula) -> Fraction:
    """The longest that conditions can keep a formula waiting: conditions stand in dependency order."""
    waits: dict[str, Fraction] = {}
    for condition in setup.conditions.values():
        below = [waits[a.condition] for a in f.atoms(condition.when) if isinstance(a, f.Holds)]
        waits[condition.name] = condition.after + max(below, default=Fraction(0))
    return max((waits[a.condition] for a in f.atoms(formula) if isinstance(a, f.Holds)), default=Fraction(0))
