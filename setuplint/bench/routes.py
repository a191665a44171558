"""Routes on the bench: from hold on and the stick down to a state that an item asks for, and back."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from fractions import Fraction
from itertools import islice, permutations

from setuplint.bench import missing
from setuplint.bench.card_model import Item, Row
from setuplint.bench.items import HOLD, LOW, SPRUNG
from setuplint.bench.questions import CardQuestions
from setuplint.bench.walk import DRIVEN_IN_HOLD, Walk, hold_switches, nominal_readings
from setuplint.dataclass import dataclass, field
from setuplint.engine.answers import NOT_DECIDED, Answer, Case, Value
from setuplint.plain.resting import shows_cell
from setuplint.plain.state import LOST, UNHEARD, State
from setuplint.setup import formulas as f
from setuplint.setup.model import Setup

UNHEARD_ONLY = "only while nothing is heard of the receiver"
Accepts = Callable[[Walk], bool]
ORDERS = 24  # orders of one step's movements that are tried


class Home:
    """Where steps start and end: a state of power-up with hold called, the stick down and nothing sprung held, as far as the
    set-up has one."""

    def __init__(self, questions: CardQuestions) -> None:
        self.setup = setup = questions.setup
        wishes = [(HOLD, LOW, SPRUNG), (HOLD, LOW), (LOW, SPRUNG), (LOW,), ()]
        answers = (questions.find(f.both(*wish), at_power_up=True) for wish in wishes)
        case = next((answer.case for answer in answers if answer.found), None)
        self.state: State = case.state if case is not None else questions.rest
        self.readings = nominal_readings(setup)
        self.controls: dict[str, Value] = {**self.state.positions, **self.state.sticks}
        sprung = [s.name for s in setup.switches.values() if s.sprung]
        self.hold_switches = hold_switches(setup)
        hold = [s.name for s in setup.switches.values() if s.name in self.hold_switches and not s.sprung]
        others = [s for s in setup.sticks if s != "throttle"]
        self.order = (sprung, hold, ["throttle"], others)
        self.held = self._holds()

    def _holds(self) -> bool:
        """Whether hold is called at home with the receiver on."""
        walk = Walk(self.setup, self.readings)
        self.reset(walk)
        walk.switch_on()
        walk.power_receiver()
        return walk.holds(HOLD)

    def go_back(self, walk: Walk) -> None:
        """Let go, hold on, stick down, the readings as they were. Switches that have no part in the hold stay where they are,
        unless hold would then not be called. Memory that would drive the rotor is cleared by switching off and on."""
        for controls in self.order:
            walk.set_all({control: self.controls[control] for control in controls})
        for stick in list(walk.state.trim):
            walk.trim(stick, Fraction(0))
        if not walk.on:
            self.reset(walk)
            walk.switch_on()
        if walk.powered:
            walk.set_readings(self.readings)
        if not self.safe(walk):
            self.reset(walk)
            if not self.safe(walk):
                walk.restart({})

    def reset(self, walk: Walk) -> None:
        """Put every control back."""
        known = [control for controls in self.order for control in controls]
        for controls in (*self.order, [control for control in self.controls if control not in known]):
            walk.set_all({control: self.controls[control] for control in controls})

    def safe(self, walk: Walk) -> bool:
        return not self.held or (walk.holds(HOLD) and not walk.holds(DRIVEN_IN_HOLD))


@dataclass(frozen=True, slots=True)
class Route:
    """A state to reach: a formula, and the engine's case in which it holds. `item`: what must be told there."""

    formula: f.Formula
    case: Case
    item: Item | None = None

    def accepts(self, walk: Walk) -> bool:
        """Whether the walk has come to where it leads."""
        if not walk.holds(self.formula):
            return False
        without = None if self.item is None else self.item.without
        return without is None or missing.tells(walk.setup, without(), walk.copy().look())

    def wants(self, home: Home) -> dict[str, Value]:
        """The switch positions that it needs, without those of the hold and of sprung switches."""
        switches = home.setup.switches
        return {
            name: value
            for name, value in self.case.matters.items()
            if name in switches and name not in home.hold_switches and not switches[name].sprung
        }


@dataclass(frozen=True, slots=True)
class Plan:
    """A step to be made: its items, and how its rows are found. `wants` are the switch positions that it needs; `assumed` is
    what the engine's case assumes, such as who wins a tie."""

    key: str
    subject: str
    aims: tuple[Item, ...]
    rows: Callable[[Walk], list[Row] | None]
    wants: Mapping[str, Value] = field(default_factory=dict)
    assumed: tuple[str, ...] = ()


def is_undecided(answer: Answer) -> bool:
    """Whether there may be a state all the same: it was too much to tell, or no timed run shows it."""
    return answer.verdict == NOT_DECIDED and answer.because != (UNHEARD_ONLY,)


def receiver_on(setup: Setup) -> f.Formula:
    """A formula: the receiver is on, so a sensor is heard or lost."""
    sensor = next(iter(setup.sensors), None)
    return f.TRUE if sensor is None else f.either(f.Heard(sensor), f.Lost(sensor))


def first_route(questions: CardQuestions, wishes: Sequence[f.Formula]) -> tuple[Route | None, Answer]:
    """A route to the first wish that is possible with the receiver on, and the engine's last answer, which says why not."""
    on = receiver_on(questions.setup)
    answer: Answer | None = None
    for wish in wishes:
        answer = questions.find(f.both(wish, on))
        if answer.found and answer.case is not None:
            return Route(wish, answer.case), answer
        if questions.over:  # so is every other wish: there may be tens of thousands
            break
    assert answer is not None
    if answer.impossible and questions.find(wishes[-1]).found:
        answer = Answer(NOT_DECIDED, because=(UNHEARD_ONLY,))
    return None, answer


def arrive(walk: Walk, route: Route, *, exactly: bool = False) -> bool:
    """Go to a state, one movement at a time. Whether that worked.

    Tried in turn: nothing at all, the controls that matter (at first with the hold as it is), all controls, the engine's steps
    with the memory that there is, and those steps from power-up. `exactly`: the positions matter too, for a movement that
    follows, not the formula alone."""
    case = route.case
    matters = {n: v for n, v in case.matters.items() if n in walk.setup.switches or n in walk.setup.sticks}
    held = {n: v for n, v in matters.items() if n not in walk.hold_switches}
    heard = {n: v for n, v in case.state.readings.items() if n in case.matters and v != UNHEARD}
    tries: list[Accepts] = [
        route.accepts,
        lambda trial: _go_through(trial, [{**held, **heard}], route.accepts),
        lambda trial: _go_through(trial, [{**matters, **heard}], route.accepts),
        lambda trial: _go_through(trial, [_all_controls(trial, case.state)], route.accepts),
    ]
    if len(case.states) > 1:
        tries.append(
            lambda trial: _go_through(trial, [_all_controls(trial, state) for state in case.states[1:]], route.accepts)
        )
        tries.append(
            lambda trial: _go_through(trial, [_all_controls(trial, state) for state in case.states], route.accepts)
        )
    if case.steps:
        tries.append(lambda trial: arrive_from_power_up(trial, case, route.accepts))
    for attempt in tries[2 if exactly else 0 :]:
        trial = walk.copy()
        if attempt(trial):
            walk.become(trial)
            return True
    return False


def _all_controls(walk: Walk, state: State) -> dict[str, Value]:
    """Every control and reading of a state. A sensor at rest reads its nominal value on the bench."""
    setup = walk.setup
    off_rest = {name: value for name, value in state.readings.items() if value not in (UNHEARD, walk.still[name])}
    told = any(shows_cell(setup, name) and value != LOST for name, value in off_rest.items())
    usual = {
        name: value
        for name, value in walk.nominal.items()
        if state.readings[name] == walk.still[name] and not (told and shows_cell(setup, name))
    }
    return {**state.positions, **state.sticks, **usual, **off_rest}


def arrive_from_power_up(walk: Walk, case: Case, accepts: Accepts) -> bool:
    """Switch off, set the controls of the case's power-up, switch on, and take its steps. Whether that is where to go."""
    first = case.states[0]
    walk.restart({**first.positions, **first.sticks})
    return _go_through(walk, [_all_controls(walk, state) for state in case.states[1:]], accepts)


def _go_through(walk: Walk, steps: Sequence[Mapping[str, Value]], accepts: Accepts) -> bool:
    """Take the steps, one control at a time, in an order that leads to where it accepts. Whether there is one."""
    if not steps:
        return accepts(walk)
    before = walk.copy()
    for step in steps:
        walk.set_all(step)
    if accepts(walk):
        return True
    if not any(c.remembers for c in walk.setup.conditions.values()):
        return False
    moved = [name for name, value in steps[-1].items() if _value_of(before, name) != value]
    for order in islice(permutations(moved), ORDERS):
        trial = before.copy()
        for step in steps[:-1]:
            trial.set_all(step)
        for name in order:
            trial.set(name, steps[-1][name])
        if accepts(trial):
            walk.become(trial)
            return True
    return False


def _value_of(walk: Walk, control: str) -> Value | None:
    state = walk.state
    return state.positions.get(control) or state.sticks.get(control, state.readings.get(control))
