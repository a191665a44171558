"""A transmitter on the bench: one movement of a hand after the other, and what it then does, by the plain evaluator."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from fractions import Fraction
from itertools import product

from setuplint.bench import parts
from setuplint.bench.parts import Move, Reading, Row
from setuplint.engine.answers import Value
from setuplint.plain import settings
from setuplint.plain.evaluate import Evaluation, evaluate, output, power_up, truth
from setuplint.plain.resting import rest, shows_cell
from setuplint.plain.state import LOST, OFF, UNHEARD, Memory, State
from setuplint.setup import formulas as f
from setuplint.setup.model import Channel, Setup
from setuplint.setup.smoothings import possible

ZERO = Fraction(0)
DRIVEN_IN_HOLD = f.both(f.Predicate("hold called"), f.Predicate("rotor driven"))
MOST_CURVES = 4  # of unknown smoothing in one line: beyond, its reading is not told
# what is usual on a bench: volts of a charged cell by its chemistry, and other readings
CELL = {"lipo": Fraction(4), "lihv": Fraction(4), "li-ion": Fraction(39, 10), "life": Fraction(33, 10)}
USUAL = {
    "receiver-voltage": Fraction(6),
    "current": Fraction(0),
    "charge-used": Fraction(0),
    "rotor-speed": Fraction(0),
    "temperature": Fraction(25),
    "link-quality": Fraction(100),
    "signal-strength": Fraction(-50),
}


class Walk:
    """The transmitter, its receiver, and the movements since the last look. It starts switched off, with everything at rest."""

    def __init__(self, setup: Setup) -> None:
        self.setup = setup
        self.nominal = nominal(setup)
        self.still = rest(setup).readings
        self.state: State = settings.first(setup, {}, heard=False)
        self.memory: Memory = OFF  # before the state settled
        self.seen: Evaluation = evaluate(setup, self.state)
        self.came: tuple[State, Memory] = (self.state, OFF)
        self.on = self.powered = False  # the transmitter, the receiver
        self.moves: list[Move] = []

    def copy(self) -> Walk:
        """The same, to try something on."""
        other = Walk.__new__(Walk)
        other.__dict__.update(self.__dict__)
        other.moves = list(self.moves)
        return other

    def become(self, other: Walk) -> None:
        self.__dict__.update(other.__dict__)

    # -- movements

    def do(self, move: Move) -> None:
        """One movement, whatever kind it is of."""
        if move.kind == parts.SET:
            self.set(move.control, move.value)
        elif move.kind == parts.TRIM:
            self.trim(move.control, Fraction(move.value))
        elif move.kind == parts.ON:
            self.switch_on()
        elif move.kind == parts.OFF:
            self.switch_off()
        else:
            self.power_receiver()

    def set(self, control: str, value: Value) -> None:
        """Put one control somewhere, or bring a sensor to a reading; nothing where it is there already."""
        state = (
            settings.after(self.setup, self.state, {control: value}) if self._hears else self._unheard(control, value)
        )
        if state != self.state:
            self._to(state, Move(parts.SET, control, value))

    def set_all(self, values: Mapping[str, Value]) -> None:
        """Several, one at a time: what is under the hand last."""
        for control in sorted(values, key=self._turn):
            self.set(control, values[control])

    def set_readings(self, readings: Mapping[str, Value]) -> None:
        """Every sensor to a reading."""
        for sensor, reading in readings.items():
            self.set(sensor, reading)

    def trim(self, stick: str, amount: Fraction) -> None:
        if self.state.trim.get(stick, ZERO) != amount:
            trims = {name: at for name, at in {**self.state.trim, stick: amount}.items() if at}
            self._to(replace(self.state, trim=trims), Move(parts.TRIM, stick, amount))

    def switch_off(self) -> None:
        if self.on:
            self.on = False
            self.moves.append(Move(parts.OFF))

    def switch_on(self) -> None:
        """All memory is off, and no sensor is heard until the receiver is."""
        self.on = True
        self.came = (self.state, OFF)
        self.state = replace(self.state, readings=dict.fromkeys(self.setup.sensors, UNHEARD))
        self.memory, self.seen = OFF, evaluate(self.setup, self.state)
        self.moves.append(Move(parts.ON))
        if self.powered:
            self._hear()

    def power_receiver(self) -> None:
        if not self.powered:
            self.powered = True
            self.moves.append(Move(parts.RECEIVER))
            if self.on:
                self._hear()

    def _hear(self) -> None:
        state = settings.after(self.setup, self.state, self.nominal)
        self.came, self.memory = (self.state, self.memory), self.seen.memory
        self.state, self.seen = state, evaluate(self.setup, state, self.memory)

    @property
    def _hears(self) -> bool:
        return self.on and self.powered

    def _unheard(self, control: str, value: Value) -> State:
        if control in self.setup.sensors:
            raise settings.Impossible(f"{control} is not heard")
        return settings.moved(self.setup, self.state, {control: value})

    def _to(self, state: State, move: Move) -> None:
        before, self.came = self.seen, (self.state, self.memory)
        self.state = state
        if not self.on:
            self.seen = evaluate(self.setup, state)
            self.moves.append(move)
            return
        self.memory = before.memory
        self.seen = evaluate(self.setup, state, self.memory)
        self.moves.append(replace(move, wait=self._wait(before, self.seen)))

    def _wait(self, before: Evaluation, after: Evaluation) -> Fraction:
        """Until delays and ramps have run out, all of them one after the other at most."""
        delays = ZERO
        for name, condition in self.setup.conditions.items():
            if before.conditions[name] != after.conditions[name]:
                delays += condition.after if after.conditions[name] else condition.stays
        ramps = ZERO
        for name, channel in self.setup.channels.items():
            old, new = before.demands[name], after.demands[name]
            if old is not None and new is not None and after.mode_known:
                line = channel.line(after.mode)
                ramps = max(ramps, abs(new - old) / 200 * (line.ramp_up if new > old else line.ramp_down))
        return delays + ramps

    def _turn(self, control: str) -> int:
        """What is set first: readings, then switches, sticks, and last what springs back."""
        switch = self.setup.switches.get(control)
        if switch is not None:
            return 4 if switch.sprung else 2 if control in hold_switches(self.setup) else 1
        return 3 if control in self.setup.sticks else 0

    # -- looking

    def holds(self, formula: f.Formula) -> bool:
        return truth(self.setup, formula, self.state, self.seen) is True

    def look(self, kind: str = parts.READ) -> Row:
        """A row: the movements since the last, and what is read now."""
        moves, self.moves = tuple(self.moves), []
        return row(self.setup, kind, moves, self.state, self.memory, self.came)


def row(
    setup: Setup, kind: str, moves: tuple[Move, ...], state: State, memory: Memory, came: tuple[State, Memory]
) -> Row:
    """What must be read in a state."""
    seen = evaluate(setup, state, memory)
    given = readings(setup, state, memory)
    if kind == parts.GONE:  # nothing is heard, and the transmitter says nothing
        return Row(kind, moves, state, memory, came, failsafe(setup, given), None, (), (), False)
    alarms = (a.name for a in setup.alarms.values() if truth(setup, f.Sounds(a.name), state, seen) is True)
    timers = (t.name for t in setup.timers.values() if t.runs is None or truth(setup, t.runs, state, seen) is True)
    driven = kind == parts.READ and truth(setup, DRIVEN_IN_HOLD, state, seen) is True
    return Row(kind, moves, state, memory, came, given, seen.mode, tuple(alarms), tuple(timers), driven)


def readings(setup: Setup, state: State, memory: Memory) -> dict[str, Reading]:
    """What every channel puts out in a state, all that is possible where that is not one value."""
    seen = evaluate(setup, state, memory)
    return {name: _reading(setup, channel, state, memory, seen) for name, channel in setup.channels.items()}


def _reading(setup: Setup, channel: Channel, state: State, memory: Memory, seen: Evaluation) -> Reading:
    tied = seen.tied.get(channel.name)
    if tied:
        values = {setup.overrides[name].value for name in tied}
        return Reading(tuple(sorted({output(channel, value) for value in values if value is not None})))
    value = seen.outputs[channel.name]
    if value is None or not seen.mode_known or seen.deciders[channel.name] is not None:
        return Reading() if value is None else Reading((value,))
    line = channel.line(seen.mode)
    curves = [t.curve for t in line.terms or () if t.curve and setup.curves[t.curve].smoothing == "unknown"]
    curves = list(dict.fromkeys(curves))
    if not curves:
        return Reading((value,))
    if len(curves) > MOST_CURVES:
        return Reading()
    found: set[Fraction] = set()
    for kinds in product(possible("unknown"), repeat=len(curves)):
        smoothed = replace(state, smoothing=dict(zip(curves, kinds, strict=True)))
        put = evaluate(setup, smoothed, memory).outputs[channel.name]
        if put is not None:
            found.add(put)
    return Reading((value,)) if len(found) == 1 else Reading((min(found), max(found)), between=True)


def failsafe(setup: Setup, before: Mapping[str, Reading]) -> dict[str, Reading]:
    """What the receiver puts out when the link is gone, where channels gave that before."""
    given: dict[str, Reading] = {}
    for name in setup.channels:
        entry = (setup.failsafe or {}).get(name)
        if isinstance(entry, Fraction):
            given[name] = Reading((entry,))
        elif entry == "keep":
            given[name] = replace(before[name], word="keep")
        else:
            given[name] = Reading(word=entry or "")
    return given


def hold_switches(setup: Setup) -> frozenset[str]:
    """The switches that what calls hold is written with, through conditions and modes."""
    return frozenset(_switches(setup, [setup.intent.hold]))


def _switches(setup: Setup, formulas: Iterable[f.Formula | None]) -> set[str]:
    left, seen, found = list(formulas), set[str](), set[str]()
    while left:
        formula = left.pop()
        for atom in f.atoms(formula) if formula is not None else ():
            if isinstance(atom, f.SwitchIs):
                found.add(atom.switch)
            elif isinstance(atom, f.Holds) and atom.condition not in seen:
                seen.add(atom.condition)
                left.append(setup.conditions[atom.condition].when)
            elif isinstance(atom, f.ModeIs) and "mode " not in seen:
                seen.add("mode ")
                left += [mode.when for mode in setup.modes.values()]
    return found


def nominal(setup: Setup) -> dict[str, Value]:
    """What sensors read on a bench on which all is well: where that means the same as rest, else as at rest."""
    still = rest(setup)
    cell = CELL.get(setup.battery.chemistry or "", CELL["lipo"])
    cells = setup.battery.cells
    volts = {"pack-voltage": cell * cells if cells else None, "cell-voltage": cell}
    there = dict(still.readings)
    for name, sensor in setup.sensors.items():
        usual = volts.get(sensor.reads, USUAL.get(sensor.reads))
        if usual is None or still.readings[name] == LOST:
            continue
        alike = dict(there)
        for other in setup.sensors.values():
            shown = volts.get(other.reads)
            if shown is not None and shows_cell(setup, other.name) and shows_cell(setup, name):
                alike[other.name] = shown
        tried = settings.after(setup, settings.first(setup, {}, heard=False), {**alike, name: usual})
        if _means(setup, tried) == _means(setup, replace(tried, readings=still.readings, cell=still.cell)):
            there = dict(tried.readings)
    return there


def _means(setup: Setup, state: State) -> tuple[object, ...]:
    seen = evaluate(setup, state)
    alarms = tuple(truth(setup, alarm.when, state, seen) for alarm in setup.alarms.values())
    return seen, alarms


def starts(setup: Setup, state: State) -> bool:
    """Whether the transmitter starts, switched on like this."""
    unheard = replace(state, readings=dict.fromkeys(setup.sensors, UNHEARD))
    return power_up(setup, unheard) is not None
