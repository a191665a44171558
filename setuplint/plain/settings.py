"""States of the controls, built as a pilot would set them: at rest but for what is said, one step after the other."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from setuplint.dataclass import replace
from setuplint.plain.resting import rest
from setuplint.plain.state import MOST_CELL_VOLTS, RANGES, TRIM, UNHEARD, State
from setuplint.setup.model import Sensor, Setup

Reading = Fraction | str
Given = Mapping[str, Reading]  # control, its trim or sensor: position, percent, reading


class Impossible(ValueError):
    """Settings that contradict each other, and why."""


def reading_range(setup: Setup, sensor: Sensor) -> tuple[Fraction, Fraction]:
    """The least and the greatest that a sensor can show, in its own unit."""
    cells = setup.cells_of(sensor)
    return RANGES[sensor.reads] if cells is None else (Fraction(0), MOST_CELL_VOLTS * cells)


def cells_shown(setup: Setup, sensor: Sensor) -> int | None:
    """How many times the voltage of a cell it shows; None for what is independent of it."""
    return setup.cells_of(sensor)


def first(setup: Setup, given: Given, *, heard: bool) -> State:
    """The state with everything at rest but what is given; `heard`: the receiver is on."""
    positions = {switch.name: switch.positions[0] for switch in setup.switches.values()}
    sticks = {stick.name: stick.rest for stick in setup.sticks.values()}
    unheard = dict.fromkeys(setup.sensors, UNHEARD)
    state = moved(setup, State(positions, sticks, dict[str, Reading](unheard)), given)
    if not heard:
        if any(name in setup.sensors for name in given):
            raise Impossible("at power-up nothing is heard of any sensor: set it in a later step, with --then")
        return state
    return _hear(setup, state, given)


def after(setup: Setup, before: State, given: Given) -> State:
    """The state that follows when the given controls are moved; the first step after power-up has the receiver on."""
    state = moved(setup, before, given)
    if all(reading == UNHEARD for reading in before.readings.values()):
        return _hear(setup, state, given)
    return _sensor_values(setup, state, _readings(setup, given))


def moved(setup: Setup, state: State, given: Given) -> State:
    """The state with switches, sticks, their trims and knobs as given, and every reading as it was."""
    positions = {name: str(where) for name, where in given.items() if name in setup.switches}
    sticks = {name: where for name, where in given.items() if name in setup.sticks and isinstance(where, Fraction)}
    trims = {name.removesuffix(TRIM): where for name, where in given.items()
             if name.endswith(TRIM) and isinstance(where, Fraction)}  # fmt: skip
    return replace(
        state,
        positions={**state.positions, **positions},
        sticks={**state.sticks, **sticks},
        trim={**state.trim, **trims},
    )


def _readings(setup: Setup, given: Given) -> Given:
    return {name: where for name, where in given.items() if name in setup.sensors}


def _hear(setup: Setup, state: State, given: Given) -> State:
    """With the receiver on: what is not given reads what it does at rest, unless all of it is said to be unheard."""
    readings = _readings(setup, given)
    if UNHEARD in readings.values():
        if any(reading != UNHEARD for reading in readings.values()):
            raise Impossible("unheard is about the receiver: all sensors at once or none")
        return state
    return _at_rest(setup, state, readings)


def _sensor_values(setup: Setup, state: State, readings: Given) -> State:
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
    """What is not given reads what it does with everything at rest; what shows a voltage that is given, that."""
    still = rest(setup)
    told = any(_of_pack(setup, name) and isinstance(reading, Fraction) for name, reading in readings.items())
    heard: dict[str, Reading] = {}
    for name, reading in still.readings.items():
        if name not in readings:
            heard[name] = Fraction(0) if told and _of_pack(setup, name) else reading
    return _sensor_values(setup, replace(state, readings={**state.readings, **heard}, cell=still.cell), readings)


def _of_pack(setup: Setup, sensor: str) -> bool:
    return cells_shown(setup, setup.sensors[sensor]) is not None
