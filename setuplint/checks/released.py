"""Switched on, then the hold released: whether the rotor is driven soon after, whatever is delayed or on a ramp meanwhile."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from fractions import Fraction
from functools import partial
from itertools import islice

from setuplint.book.asking import Asking
from setuplint.checks.moves import tie_variants, with_pupils
from setuplint.checks.start import driving_motors
from setuplint.dataclass import dataclass, replace
from setuplint.engine import unknowns
from setuplint.engine.answers import NOT_DECIDED, Answer, Case
from setuplint.engine.literals import TRUE, UNKNOWN, Frame, Rails
from setuplint.engine.search import Movement, moved_state
from setuplint.plain.evaluate import evaluate
from setuplint.plain.simulate import simulate
from setuplint.plain.state import State
from setuplint.setup import formulas as f
from setuplint.setup.predicates import SURELY_STOPPED, surely_runs_above

HOLD = f.Predicate("hold called")
DRIVEN = f.Predicate("rotor driven")
RAMPS = "delays and ramps meet after the hold is released, and the run that was tried does not drive the rotor"

Driven = tuple[str, Fraction]  # a motor, and its highest output


@dataclass(frozen=True, slots=True)
class ReleaseQuestion:
    """A movement out of power-up: rails of the frame before it tell what is so for sure and what may be, and rest on formulas.
    Without what is `meant` nobody asks for what is `driven`; where that takes too much, what is so once `settled` is tried.
    `run` gives a case as it was run, None where that shows nothing."""

    movement: Movement
    meant: Callable[[Frame], Rails]
    driven: Callable[[Frame], Rails]
    settled: Callable[[Frame], int]
    formulas: Sequence[f.Formula]
    run: Callable[[Case], Case | None]


def find_released(ask: Asking, question: ReleaseQuestion, subject: str) -> Case | None:
    """A case as it was run. None where that is proved impossible; else it is noted as not judged or not decided."""
    meant = question.meant
    known: dict[int, Rails] = {}

    def both(frame: Frame) -> Rails:
        if id(frame) not in known:
            known[id(frame)] = frame.all_of((meant(frame), question.driven(frame)))
        return known[id(frame)]

    if release_answer(ask, question, lambda frame: -meant(frame)[1]).impossible:
        return None
    perhaps = release_answer(ask, question, lambda frame: -both(frame)[1])
    if perhaps.impossible:
        return None
    surely = partial(release_answer, ask, question, lambda frame: both(frame)[0])
    if perhaps.verdict == NOT_DECIDED:
        surely = partial(
            release_answer, ask, question, lambda frame: frame.both((meant(frame)[0], question.settled(frame)))
        )
    for answer in (surely(), perhaps):
        case = answer.case if answer.found else ask.noted(answer, subject)
        shown = map(question.run, tie_variants(ask, case)) if case is not None else ()
        found = next((each for each in shown if each is not None), None)
        if found is not None:
            return found
    if perhaps.found:
        cone = ask.decider.cone(question.formulas)
        reasons = unknowns.reasons(ask.as_decided(), f.And(tuple(question.formulas)), cone, ask.decider.unknowns)
        for because in reasons:
            ask.not_judged(because, subject)
        if not reasons:
            ask.undecided.append((subject, RAMPS))
    return None


def release_answer(ask: Asking, question: ReleaseQuestion, literal: Callable[[Frame], int]) -> Answer:
    movements, formulas = [question.movement], question.formulas
    return ask.decider.ask_movement(literal, lambda *_: TRUE, movements, formulas, at_power_up=True)


def soon_driven(ask: Asking, frame: Frame, moved: Frame) -> Rails:
    """The rotor is driven within the limit after a movement."""
    run = ask.decider.run_after(frame, moved, [DRIVEN], ask.limit("within"))
    free = ask.setup.craft.rotor_free
    if not ask.motors:
        return UNKNOWN
    surely, perhaps = (surely_runs_above(ask.setup), SURELY_STOPPED) if free is None else (free, free)
    driven = frame.any_of(run.exceeds(motor, surely) for motor in ask.motors)
    may_be = frame.any_of(run.exceeds(motor, perhaps) for motor in [*ask.motors, *ask.unread_drives])
    return driven[0], may_be[1]


def driven_within(ask: Asking, case: Case) -> Driven | None:
    """A motor that drives the rotor within the limit after the case's movement, and its highest output meanwhile."""
    assert case.after is not None
    changes = [(Fraction(0), case.after)]
    run = simulate(ask.as_decided(), case.state, case.evaluation.memory, changes, ask.limit("within"), jump=True)
    driven = [m.evaluation.outputs for m in islice(run, 1, None) if driving_motors(ask, m.evaluation.outputs)]
    if not driven:
        return None
    channel = driving_motors(ask, driven[0])[0].name
    return channel, max(value for outputs in driven if (value := outputs[channel]) is not None)


# -- the stick at the bottom


def bottom_of(ask: Asking) -> Fraction:
    """Where the throttle stick rests."""
    return ask.setup.sticks["throttle"].rest


def bottom_sticks(ask: Asking) -> dict[str, Fraction]:
    """The throttle stick there, the pupil's too."""
    return with_pupils(ask.setup, {"throttle": bottom_of(ask)})


def started_with(ask: Asking, case: Case, sticks: Mapping[str, Fraction]) -> Case:
    """The same switched on with some sticks elsewhere."""
    state = at_places(case.state, sticks)
    return moved_from(ask, replace(case, states=(state,), evaluations=(evaluate(ask.as_decided(), state),)))


def lowered(ask: Asking, case: Case) -> Case:
    """The stick is put to the bottom after power-up, where it does not stand there, before the movement."""
    case = replace(case, matters={**case.matters, "throttle": bottom_of(ask)})
    sticks = {name: at for name, at in bottom_sticks(ask).items() if case.state.sticks[name] != at}
    if not sticks:
        return case
    state = at_places(case.state, sticks)
    step: Mapping[str, str | Fraction] = dict(sticks)
    return moved_from(
        ask,
        replace(
            case,
            states=(*case.states, state),
            evaluations=(*case.evaluations, evaluate(ask.as_decided(), state, case.evaluation.memory)),
            steps=(*case.steps, step),
            matters={**case.matters, **sticks},
        ),
    )


def at_places(state: State, sticks: Mapping[str, Fraction]) -> State:
    return replace(state, sticks={**state.sticks, **sticks})


def moved_from(ask: Asking, case: Case) -> Case:
    """The case's movement out of its last state."""
    assert case.movement is not None
    assert case.after is not None
    after = replace(moved_state(case.state, case.movement), ties=case.after.ties)
    return replace(case, after=after, after_evaluation=evaluate(ask.as_decided(), after, case.evaluation.memory))
