"""A transmitter on the bench: one movement after another, and what it then puts out by the plain evaluator."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from copy import copy
from fractions import Fraction

from setuplint.bench import card_model
from setuplint.bench.card_model import Move, Reading, Row
from setuplint.bench.work import LOOKS_A_STAGE, CardWork, setup_size
from setuplint.dataclass import replace
from setuplint.engine.answers import Value
from setuplint.plain import settings
from setuplint.plain.evaluate import Evaluation, evaluate, power_up, truth
from setuplint.plain.resting import rest, shows_cell
from setuplint.plain.smoothed import MOST_CURVES, Smoothed, flown_curves
from setuplint.plain.state import LOST, OFF, UNHEARD, Memory, State
from setuplint.plain.ties import each_tie
from setuplint.setup import formulas as f
from setuplint.setup.dependencies import atoms_behind
from setuplint.setup.model import ZERO, Channel, Setup
from setuplint.setup.smoothings import possible

HOLD = f.Predicate("hold called")
DRIVEN_IN_HOLD = f.both(HOLD, f.Predicate("rotor driven"))
MOST_TIED = 10  # overrides of one tie; with more, its reading is not known
MOST_SMOOTHING = 500_000  # evaluations of one row, times what the file declares: what hangs on more is not known
HOLDS = 2  # the rank of the switches that call hold
# nominal readings on a bench: volts of a charged cell by its chemistry, and the others
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
    """The transmitter, its receiver, and the movements since the last reading. It starts switched off, everything at rest."""

    def __init__(self, setup: Setup, nominal: Mapping[str, Value] | None = None) -> None:
        """`nominal` are the setup's nominal readings, where they are known."""
        self.setup = setup
        self.nominal = nominal_readings(setup) if nominal is None else nominal
        self.still = rest(setup).readings
        self.state: State = settings.first(setup, {}, heard=False)
        self.memory: Memory = OFF  # before the state settled
        self.seen: Evaluation = evaluate(setup, self.state)
        self.came: tuple[State, Memory] = (self.state, OFF)
        self.start: tuple[State, Memory] | None = None  # at the last reading
        self.on = self.powered = False  # the transmitter, the receiver
        self.moves: list[Move] = []
        self.work = CardWork()
        self.size = setup_size(setup)
        self.row_size = self.size * row_evaluations(setup)
        self.hold_switches = hold_switches(setup)

    def copy(self) -> Walk:
        """A copy, to try movements on."""
        other = copy(self)
        other.moves = list(self.moves)
        return other

    def become(self, other: Walk) -> None:
        """Go on where the other walk is."""
        self.state, self.memory, self.seen, self.came = other.state, other.memory, other.seen, other.came
        self.start = other.start
        self.on, self.powered, self.moves = other.on, other.powered, other.moves

    # -- movements

    def do(self, move: Move) -> None:
        """Make one movement of any kind."""
        if move.kind == card_model.SET:
            self.set(move.control, move.value)
        elif move.kind == card_model.TRIM:
            self.trim(move.control, Fraction(move.value))
        elif move.kind == card_model.ON:
            self.switch_on()
        elif move.kind == card_model.OFF:
            self.switch_off()
        elif move.kind == card_model.RECEIVER:
            self.power_receiver()
        else:
            self.take_power()

    def set(self, control: str, value: Value) -> None:
        """Move one control, or bring a sensor to a reading. Nothing happens where it is there already."""
        if self._stands(control, value):
            return
        state = (
            settings.after(self.setup, self.state, {control: value}) if self._hears else self._unheard(control, value)
        )
        if state != self.state:
            self._move_to(state, Move(card_model.SET, control, value))

    def _stands(self, control: str, value: Value) -> bool:
        """Whether a switch or stick is there: with thousands of them a state takes long to make, and to compare."""
        return value == (self.state.positions.get(control) or self.state.sticks.get(control))

    def set_all(self, values: Mapping[str, Value]) -> None:
        """Move several controls one at a time, those that a hand must hold last. The switches of the hold go in an order in
        which it stays on, where there is one."""
        rank = {each: self._rank(each, value) for each, value in values.items() if not self._stands(each, value)}
        left = sorted(rank, key=lambda control: rank[control])
        while left:
            alike = [control for control in left if rank[control] == HOLDS] if rank[left[0]] == HOLDS else left[:1]
            control = next((c for c in alike if self._held_after(c, values[c])), alike[0])
            self.set(control, values[control])
            left.remove(control)

    def _held_after(self, control: str, value: Value) -> bool:
        trial = self.copy()
        trial.set(control, value)
        return trial.holds(HOLD)

    def set_readings(self, readings: Mapping[str, Value]) -> None:
        """Bring every sensor to a reading."""
        for sensor, reading in readings.items():
            self.set(sensor, reading)

    def trim(self, stick: str, amount: Fraction) -> None:
        if self.state.trim.get(stick, ZERO) != amount:
            trims = {name: at for name, at in {**self.state.trim, stick: amount}.items() if at}
            self._move_to(replace(self.state, trim=trims), Move(card_model.TRIM, stick, amount))

    def switch_off(self) -> None:
        if self.on:
            self.on = False
            self.moves.append(Move(card_model.OFF))

    def switch_on(self) -> None:
        """Switch on: all memory is off, and no sensor is heard until the receiver is on."""
        self.on, self.start = True, None
        self.came = (self.state, OFF)
        self.state = replace(self.state, readings=dict.fromkeys(self.setup.sensors, UNHEARD))
        self.memory, self.seen = OFF, evaluate(self.setup, self.state)
        self.moves.append(Move(card_model.ON))
        if self.powered:
            self._hear()

    def power_receiver(self) -> None:
        if not self.powered:
            self.powered = True
            self.moves.append(Move(card_model.RECEIVER))
            if self.on:
                self._hear()

    def take_power(self) -> None:
        """The receiver's power is taken away: nothing can be read of it, or heard, until it is given again."""
        if self.powered:
            self.powered = False
            self.moves.append(Move(card_model.UNPOWERED))

    def restart(self, controls: Mapping[str, Value]) -> None:
        """Switch off and on with controls elsewhere in between: the receiver's power goes first and comes last."""
        powered = self.powered
        self.take_power()
        self.switch_off()
        self.set_all(controls)
        self.switch_on()
        if powered:
            self.power_receiver()

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

    def _move_to(self, state: State, move: Move) -> None:
        self.work.add(self.size)
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
        """Seconds until all delays and ramps have run out, as if they came one after another."""
        delays = ZERO
        for name, condition in self.setup.conditions.items():
            if before.conditions[name] != after.conditions[name]:
                delays += condition.after if after.conditions[name] else condition.stays
        ramps = ZERO
        for name, channel in self.setup.channels.items() if after.mode_known else ():
            line = channel.line(after.mode)
            if not line.ramp_up and not line.ramp_down:
                continue
            old, new = before.demands[name], after.demands[name]
            if old is not None and new is not None:
                ramps = max(ramps, abs(new - old) / 200 * (line.ramp_up if new > old else line.ramp_down))
        return delays + ramps

    def _rank(self, control: str, value: Value) -> int:
        """The order of movements: readings first, what is let go of, then switches, sticks, and last what springs back."""
        switch = self.setup.switches.get(control)
        if switch is None:
            return 3 if control in self.setup.sticks else 0
        if switch.sprung:
            return 0 if value == switch.positions[0] else 4
        return HOLDS if control in self.hold_switches else 1

    def take_moves(self) -> tuple[Move, ...]:
        """The movements since the last reading, which are forgotten: what comes starts from here."""
        moves, self.moves = tuple(self.moves), []
        self.start = (self.state, self.memory) if self.on else None
        return moves

    # -- reading

    def holds(self, formula: f.Formula) -> bool:
        return truth(self.setup, formula, self.state, self.seen) is True

    def look(self, kind: str = card_model.READ) -> Row:
        """A row: the movements since the last one, and what must be read now."""
        start = self.start
        moves = self.take_moves()
        self.work.add(self.row_size)
        seen = self.seen if self.on else None  # switched off, what it remembered is not in what is seen
        return replace(expected_row(self.setup, kind, moves, self.state, self.memory, self.came, seen), start=start)


def row_evaluations(setup: Setup) -> int:
    """How often the setup is evaluated for the readings of one row, at most."""
    rivals = Counter((override.channel, override.priority) for override in setup.overrides.values())
    tied = max(rivals.values(), default=1)
    found = 2 + (min(tied, MOST_TIED) if tied > 1 else 0)
    hanging: set[tuple[str, ...]] = set()
    for channel in setup.channels.values():
        curves = (tuple(flown_curves(setup, channel, mode)) for mode in (*setup.modes, None))
        hanging.add(max((each for each in curves if len(each) <= MOST_CURVES), key=len, default=()))
    kinds = len(possible("unknown"))
    ways: int = sum(kinds ** len(curves) for curves in hanging if len(curves) > 1) + kinds * any(map(len, hanging))
    return found + min(ways, MOST_SMOOTHING // max(1, len(setup.declared)))


def expected_row(
    setup: Setup,
    kind: str,
    moves: tuple[Move, ...],
    state: State,
    memory: Memory,
    came: tuple[State, Memory],
    seen: Evaluation | None = None,
) -> Row:
    """A row with what must be read in a state; `seen` is what that comes to, where it is known."""
    seen = seen or evaluate(setup, state, memory)
    given = readings(setup, state, memory, seen)
    if kind == card_model.GONE:  # nothing is heard, and the transmitter says nothing
        return Row(kind, moves, state, memory, came, failsafe_readings(setup, given), None, (), (), False)
    alarms = (a.name for a in setup.alarms.values() if truth(setup, f.Sounds(a.name), state, seen) is True)
    timers = (t.name for t in setup.timers.values() if t.runs is None or truth(setup, t.runs, state, seen) is True)
    driven = kind == card_model.READ and truth(setup, DRIVEN_IN_HOLD, state, seen) is True
    return Row(kind, moves, state, memory, came, given, seen.mode, tuple(alarms), tuple(timers), driven)


def readings(setup: Setup, state: State, memory: Memory, seen: Evaluation | None = None) -> dict[str, Reading]:
    """What every channel puts out in a state; all possible values where there is more than one."""
    seen = seen or evaluate(setup, state, memory)
    won = list(each_tie(setup, state, memory, seen, MOST_TIED))
    smoothed = Smoothed(setup, lambda way, _: evaluate(setup, replace(state, smoothing=way), memory), MOST_SMOOTHING)
    return {
        name: _tied_reading(name, seen, won) if name in seen.tied else _reading(channel, seen, smoothed)
        for name, channel in setup.channels.items()
    }


def _tied_reading(channel: str, seen: Evaluation, won: Iterable[Evaluation]) -> Reading:
    """What any of a tie may put out; it is not known where there are more than are tried."""
    values = {each.outputs[channel] for each in won if len(seen.tied[channel]) <= MOST_TIED}
    return Reading(tuple(sorted(value for value in values if value is not None)))


def _reading(channel: Channel, seen: Evaluation, smoothed: Smoothed) -> Reading:
    setup, value, decider = smoothed.setup, seen.outputs[channel.name], seen.deciders[channel.name]
    if value is None or not seen.mode_known or (decider is not None and not setup.overrides[decider].limits):
        return Reading() if value is None else Reading((value,))
    curves = flown_curves(setup, channel, seen.mode)
    if not curves:
        return Reading((value,))
    given = (smoothed.seen(way).outputs[channel.name] for way in smoothed.ways(curves))
    found = {put for put in given if put is not None}
    if len(found) < 2:
        return Reading(tuple(found))
    return Reading((min(found), max(found)), between=True)


def failsafe_readings(setup: Setup, before: Mapping[str, Reading]) -> dict[str, Reading]:
    """What the receiver puts out when the link is lost, after channels gave those readings."""
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
    """The switches that decide whether hold is called, also through conditions and modes."""
    behind = atoms_behind(setup, [setup.intent.hold], modes=True)
    return frozenset(atom.switch for atom in behind if isinstance(atom, f.SwitchIs))


def nominal_readings(setup: Setup) -> dict[str, Value]:
    """What sensors read on a bench with everything in order. Where that would change anything, they read as at rest; so do those
    of thousands that would take more than a stage's looks to try."""
    still = rest(setup)
    cell = CELL.get(setup.battery.chemistry or "", CELL["lipo"])
    cells = {name: setup.cells_of(sensor) for name, sensor in setup.sensors.items()}
    volts = {name: cell * count for name, count in cells.items() if count is not None}
    there = dict(still.readings)
    switched_on = settings.first(setup, {}, heard=False)
    meant = _meaning(setup, replace(switched_on, readings=still.readings, cell=still.cell))
    left, size = LOOKS_A_STAGE, setup_size(setup)
    for name, sensor in setup.sensors.items():
        usual = volts.get(name, USUAL.get(sensor.reads))
        if usual is None or still.readings[name] == LOST:
            continue
        left -= size
        if left < 0:
            break
        alike = dict(there)
        for other in setup.sensors.values():
            shown = volts.get(other.name)
            if shown is not None and shows_cell(setup, other.name) and shows_cell(setup, name):
                alike[other.name] = shown
        tried = settings.after(setup, switched_on, {**alike, name: usual})
        if _meaning(setup, tried) == meant:
            there = dict(tried.readings)
    return there


def _meaning(setup: Setup, state: State) -> tuple[object, ...]:
    seen = evaluate(setup, state)
    alarms = tuple(truth(setup, alarm.when, state, seen) for alarm in setup.alarms.values())
    return seen, alarms


def starts(setup: Setup, state: State) -> bool:
    """Whether the transmitter starts when it is switched on in this state."""
    unheard = replace(state, readings=dict.fromkeys(setup.sensors, UNHEARD))
    return power_up(setup, unheard) is not None


def power_up_kind(setup: Setup, state: State) -> str:
    """What the transmitter does when it is switched on in this state: refused, warned or starts."""
    if not starts(setup, state):
        return card_model.REFUSED
    unheard = replace(state, readings=dict.fromkeys(setup.sensors, UNHEARD))
    warns = (
        setup.start_warns is not None and truth(setup, setup.start_warns, unheard, evaluate(setup, unheard)) is not True
    )
    return card_model.WARNED if warns else card_model.STARTS
