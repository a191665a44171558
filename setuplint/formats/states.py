"""States of the controls, built as a pilot would set them: at rest but for what is said, one step after the other."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

from setuplint.decide.evaluate import evaluate, truth
from setuplint.decide.state import MOST_CELL_VOLTS, RANGES, UNHEARD, State
from setuplint.setup.formulas import Compare, Formula, atoms
from setuplint.setup.model import Sensor, Setup

Reading = Fraction | str
Given = Mapping[str, Reading]  # control or sensor: position, percent, reading


class Impossible(ValueError):
    """Settings that contradict each other, and why."""


def reading_range(setup: Setup, sensor: Sensor) -> tuple[Fraction, Fraction]:
    """The least and the greatest that a sensor can show, in its own unit."""
    if sensor.reads == "pack-voltage" and setup.battery.cells is not None:
        return Fraction(0), MOST_CELL_VOLTS * setup.battery.cells
    return RANGES[sensor.reads]


def cells_shown(setup: Setup, sensor: Sensor) -> int | None:
    """How many times the voltage of a cell it shows; None for what is independent of it."""
    return {"cell-voltage": 1, "pack-voltage": setup.battery.cells}.get(sensor.reads)


def first(setup: Setup, given: Given, *, heard: bool) -> State:
    """The state with everything at rest but what is given; `heard`: the receiver is on."""
    positions = {switch.name: switch.positions[0] for switch in setup.switches.values()}
    sticks = {stick.name: stick.rest for stick in setup.sticks.values()}
    unheard = dict.fromkeys(setup.sensors, UNHEARD)
    state = _moved(setup, State(positions, sticks, dict[str, Reading](unheard)), given)
    if not heard:
        if any(name in setup.sensors for name in given):
            raise Impossible("at power-up nothing is heard of any sensor: set it in a later step, with --then")
        return state
    return _hear(setup, state, given)


def after(setup: Setup, before: State, given: Given) -> State:
    """The state that follows when the given controls are moved; the first step after power-up has the receiver on."""
    state = _moved(setup, before, given)
    if all(reading == UNHEARD for reading in before.readings.values()):
        return _hear(setup, state, given)
    return _shown(setup, state, _readings(setup, given))


def _moved(setup: Setup, state: State, given: Given) -> State:
    positions = {name: str(where) for name, where in given.items() if name in setup.switches}
    sticks = {name: where for name, where in given.items() if name in setup.sticks and isinstance(where, Fraction)}
    return replace(state, positions={**state.positions, **positions}, sticks={**state.sticks, **sticks})


def _readings(setup: Setup, given: Given) -> Given:
    return {name: where for name, where in given.items() if name in setup.sensors}


def _hear(setup: Setup, state: State, given: Given) -> State:
    """With the receiver on: what is not given reads what it does at rest, unless all of it is said to be unheard."""
    readings = _readings(setup, given)
    if UNHEARD in readings.values():
        if any(reading != UNHEARD for reading in readings.values()):
            raise Impossible("unheard is said of the receiver: of all sensors at once or of none")
        return state
    return _at_rest(setup, state, readings)


def _shown(setup: Setup, state: State, readings: Given) -> State:
    """The state with new readings; the sensors of one pack show one voltage."""
    if UNHEARD in readings.values():
        raise Impossible("once the receiver is on, a sensor is lost, not unheard")
    cell = state.cell
    told: tuple[str, Fraction] | None = None
    for name, reading in readings.items():
        times = cells_shown(setup, setup.sensors[name])
        if times is None or not isinstance(reading, Fraction):
            continue
        if told is not None and told[1] != reading / times:
            raise Impossible(f"{told[0]} and {name} are of one pack and cannot read that at once")
        told = name, reading / times
        cell = told[1]
    after = {**state.readings, **readings}
    for name, reading in after.items():
        times = cells_shown(setup, setup.sensors[name])
        if times is not None and cell is not None and not isinstance(reading, str):
            after[name] = cell * times
    return replace(state, readings=after, cell=cell)


def _at_rest(setup: Setup, state: State, readings: Given) -> State:
    """Every sensor that is not given in the region where the fewest alarms hold, then the fewest conditions, then the
    greatest (MEANING.md 1), one quantity after the other."""
    quantities: dict[str, list[Sensor]] = {}
    for sensor in setup.sensors.values():
        quantities.setdefault("" if cells_shown(setup, sensor) else sensor.name, []).append(sensor)
    start, free = dict(readings), []
    for sensors in quantities.values():
        told = next((_shows(setup, sensor, readings) for sensor in sensors if _is_number(readings, sensor)), None)
        if told is None:
            free.append(sensors)
        start |= _reads(setup, sensors, next(_regions(setup, sensors)) if told is None else told, readings)
    best = _shown(setup, state, start)
    for _ in range(2):
        for sensors in free:
            tries = (_reads(setup, sensors, value, readings) for value in _regions(setup, sensors))
            best = min((_shown(setup, best, read) for read in tries), key=lambda tried: _disturbed(setup, tried))
    return best


def _is_number(readings: Given, sensor: Sensor) -> bool:
    return isinstance(readings.get(sensor.name), Fraction)


def _shows(setup: Setup, sensor: Sensor, readings: Given) -> Fraction:
    return Fraction(readings[sensor.name]) / (cells_shown(setup, sensor) or 1)


def _reads(setup: Setup, sensors: list[Sensor], value: Fraction, readings: Given) -> Given:
    return {sensor.name: value * (cells_shown(setup, sensor) or 1) for sensor in sensors if sensor.name not in readings}


def _regions(setup: Setup, sensors: list[Sensor]) -> Iterator[Fraction]:
    """A round number in each region that the thresholds cut, the greatest first; per cell where they show a cell."""
    low, high = reading_range(setup, sensors[0])
    times = cells_shown(setup, sensors[0]) or 1
    cuts = {low / times, high / times}
    for sensor in sensors:
        per = cells_shown(setup, sensor) or 1
        cuts |= {at / per for at in _thresholds(setup, sensor.name)}
    inside = sorted((cut for cut in cuts if low / times <= cut <= high / times), reverse=True)
    for upper, lower in pairwise(inside):
        if upper != high / times:
            yield upper
        yield _roundest(lower, upper, closed=upper == high / times)
    yield inside[-1]


def _roundest(low: Fraction, high: Fraction, *, closed: bool) -> Fraction:
    """The least multiple of the greatest power of ten in between; the upper end counts where `closed`."""
    for power in range(6, -12, -1):
        step = Fraction(10) ** power
        at = (low // step + 1) * step
        if at < high or (closed and at == high):
            return at
    return (low + high) / 2


def _thresholds(setup: Setup, name: str) -> Iterator[Fraction]:
    for formula in formulas(setup):
        for atom in atoms(formula):
            if isinstance(atom, Compare) and atom.name == name:
                yield atom.number


def formulas(setup: Setup) -> Iterator[Formula]:
    """Every formula that can change what the setup does."""
    parts: tuple[Mapping[str, object], ...] = (setup.conditions, setup.modes, setup.overrides, setup.alarms)
    for table in parts:
        for part in table.values():
            yield from (found for key in ("when", "until") if (found := getattr(part, key, None)) is not None)


def _disturbed(setup: Setup, state: State) -> tuple[int, int]:
    """How many alarms and how many conditions hold."""
    seen = evaluate(setup, state)
    alarms = sum(truth(setup, alarm.when, state, seen) is True for alarm in setup.alarms.values())
    return alarms, sum(value is True for value in seen.conditions.values())
