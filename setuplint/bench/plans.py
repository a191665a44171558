"""How to get to what an item asks for, from hold on and the stick down, and back there again."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import islice, permutations

from setuplint.bench.items import HOLD, LOW, SPRUNG
from setuplint.bench.parts import Item, Row
from setuplint.bench.walk import DRIVEN_IN_HOLD, Walk, hold_switches, nominal
from setuplint.engine.answers import NOT_DECIDED, Answer, Case, Value
from setuplint.engine.decider import Decider
from setuplint.plain.resting import shows_cell
from setuplint.plain.state import LOST, UNHEARD, State
from setuplint.setup import formulas as f
from setuplint.setup.model import Setup

ASLEEP = "only while nothing is heard of the receiver"
ORDERS = 24  # in which the controls of one step are tried, one after the other


class Home:
    """Where steps start and end: a state of power-up in which hold is called, the stick is down and nothing sprung is held,
    as far as there is one."""

    def __init__(self, decider: Decider) -> None:
        self.setup = setup = decider.setup
        wishes = [(HOLD, LOW, SPRUNG), (HOLD, LOW), (LOW, SPRUNG), (LOW,), ()]
        answers = (decider.find(f.both(*wish), at_power_up=True) for wish in wishes)
        case = next((answer.case for answer in answers if answer.found), None)
        rest = decider.rest
        self.state: State = case.state if case is not None else rest
        self.readings = nominal(setup)
        self.controls: dict[str, Value] = {**self.state.positions, **self.state.sticks}
        sprung = [s.name for s in setup.switches.values() if s.sprung]
        hold = [s.name for s in setup.switches.values() if s.name in hold_switches(setup) and not s.sprung]
        others = [s for s in setup.sticks if s != "throttle"]
        self.order = [*sprung, *hold, "throttle", *others]
        self.held = self._holds()

    def _holds(self) -> bool:
        """Whether hold is called there, the receiver on."""
        walk = Walk(self.setup)
        self.whole(walk)
        walk.switch_on()
        walk.power_receiver()
        return walk.holds(HOLD)

    def back(self, walk: Walk) -> None:
        """Let go, hold on, stick down; the readings as they were. Switches that have no part in the hold stay where they
        are, unless hold would not be called then; memory that would drive the rotor is switched off with the transmitter."""
        for control in self.order:
            walk.set(control, self.controls[control])
        for stick in list(walk.state.trim):
            walk.trim(stick, Fraction(0))
        if not walk.on:
            self.whole(walk)
            walk.switch_on()
        if walk.powered:
            walk.set_readings(self.readings)
        if not self.safe(walk):
            self.whole(walk)
            if not self.safe(walk):
                walk.switch_off()
                walk.switch_on()

    def whole(self, walk: Walk) -> None:
        """Every switch as it was."""
        for control in [*self.order, *(c for c in self.controls if c not in self.order)]:
            walk.set(control, self.controls[control])

    def safe(self, walk: Walk) -> bool:
        return not self.held or (walk.holds(HOLD) and not walk.holds(DRIVEN_IN_HOLD))


@dataclass(frozen=True, slots=True)
class Way:
    """A state to get to: the engine's case, and the formula that holds in it."""

    formula: f.Formula
    case: Case

    def wants(self, setup: Setup) -> dict[str, Value]:
        """The switches that must stand somewhere for it, but for those of the hold and what springs back."""
        apart = hold_switches(setup)
        return {
            name: value
            for name, value in self.case.matters.items()
            if name in setup.switches and name not in apart and not setup.switches[name].sprung
        }


@dataclass(frozen=True, slots=True)
class Plan:
    """A step to be made: what it is for, and how its rows come about; `wants` is where switches stand in it; `assumed`
    what the engine's case takes for granted, as who wins a tie."""

    key: str
    subject: str
    aims: tuple[Item, ...]
    rows: Callable[[Walk], list[Row] | None]
    wants: Mapping[str, Value] = field(default_factory=dict)
    assumed: tuple[str, ...] = ()


def awake(setup: Setup) -> f.Formula:
    """The receiver is on: a sensor is heard, or lost."""
    sensor = next(iter(setup.sensors), None)
    return f.TRUE if sensor is None else f.either(f.Heard(sensor), f.Lost(sensor))


def seek(decider: Decider, wishes: Sequence[f.Formula]) -> tuple[Way | None, Answer]:
    """The first of the wishes that can be with the receiver on; else the last answer, which says why not."""
    on = awake(decider.setup)
    answer: Answer | None = None
    for wish in wishes:
        answer = decider.find(f.both(wish, on))
        if answer.found and answer.case is not None:
            return Way(wish, answer.case), answer
    assert answer is not None
    if answer.impossible and decider.find(wishes[-1]).found:
        answer = Answer(NOT_DECIDED, because=(ASLEEP,))
    return None, answer


def arrive(walk: Walk, way: Way, *, exactly: bool = False) -> bool:
    """Go there, one movement at a time: not at all, where it holds already; by the controls that matter; by all of them; by
    the steps that the engine found, with the memory there is; and by those from power-up. `exactly`: where its controls stand
    matters beyond the formula, for a movement that follows."""
    case = way.case
    matters = {n: v for n, v in case.matters.items() if n in walk.setup.switches or n in walk.setup.sticks}
    heard = {n: v for n, v in case.state.readings.items() if n in case.matters and v != UNHEARD}
    tries: list[Callable[[Walk], bool]] = [
        lambda trial: trial.holds(way.formula),
        lambda trial: _through(trial, [{**matters, **heard}], way.formula),
        lambda trial: _through(trial, [_all(trial, case.state)], way.formula),
    ]
    if len(case.states) > 1:
        tries.append(lambda trial: _through(trial, [_all(trial, state) for state in case.states[1:]], way.formula))
        tries.append(lambda trial: _through(trial, [_all(trial, state) for state in case.states], way.formula))
    if case.steps:
        tries.append(lambda trial: anew(trial, case, way.formula))
    for attempt in tries[1 if exactly else 0 :]:
        trial = walk.copy()
        if attempt(trial):
            walk.become(trial)
            return True
    return False


def _all(walk: Walk, state: State) -> dict[str, Value]:
    """Every control, and every reading; what reads as at rest reads what is usual on the bench."""
    setup = walk.setup
    off_rest = {name: value for name, value in state.readings.items() if value not in (UNHEARD, walk.still[name])}
    told = any(shows_cell(setup, name) and value != LOST for name, value in off_rest.items())
    usual = {
        name: value
        for name, value in walk.nominal.items()
        if state.readings[name] == walk.still[name] and not (told and shows_cell(setup, name))
    }
    return {**state.positions, **state.sticks, **usual, **off_rest}


def anew(walk: Walk, case: Case, formula: f.Formula) -> bool:
    """Off, the controls as at the case's power-up, on again, and its steps."""
    walk.switch_off()
    first = case.states[0]
    walk.set_all({**first.positions, **first.sticks})
    walk.switch_on()
    return _through(walk, [_all(walk, state) for state in case.states[1:]], formula)


def _through(walk: Walk, steps: Sequence[Mapping[str, Value]], formula: f.Formula) -> bool:
    """Through the steps, each with its controls moved one at a time, in an order in which the formula then holds."""
    if not steps:
        return walk.holds(formula)
    before = walk.copy()
    for step in steps:
        walk.set_all(step)
    if walk.holds(formula) or not any(c.remembers for c in walk.setup.conditions.values()):
        return walk.holds(formula)
    moved = [name for name, value in steps[-1].items() if _where(before, name) != value]
    for order in islice(permutations(moved), ORDERS):
        trial = before.copy()
        for step in steps[:-1]:
            trial.set_all(step)
        for name in order:
            trial.set(name, steps[-1][name])
        if trial.holds(formula):
            walk.become(trial)
            return True
    return False


def _where(walk: Walk, control: str) -> Value | None:
    state = walk.state
    return state.positions.get(control) or state.sticks.get(control, state.readings.get(control))
