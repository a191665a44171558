"""Two places of some switches, all other controls the same: whether the setup does something else there."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import partial
from itertools import islice, product
from math import prod

from setuplint.book.asking import Asking
from setuplint.dataclass import dataclass, replace
from setuplint.engine import unknowns
from setuplint.engine.answers import Case
from setuplint.engine.literals import FALSE, TRUE, Frame, Rails
from setuplint.engine.search import Disagreement
from setuplint.plain.evaluate import Evaluation, evaluate
from setuplint.plain.state import State
from setuplint.setup import formulas as f
from setuplint.setup.cone import Cone
from setuplint.setup.model import Setup

MOST_PLACES = 64  # more combinations of positions are left to the solver, one by one
MOST_TRIED = 10_000

Moved = dict[str, str]


@dataclass(frozen=True, slots=True)
class PlacePair:
    """A question about two places: as rails of the two frames, and to the plain evaluator (the case is the first
    place). `formulas` are what it rests on. `clearer`: rails that say less and are
    asked first, for a case that shows it better."""

    rails: Callable[[Frame, Frame], Rails]
    shown: Callable[[Case, State, Evaluation], bool]
    formulas: Sequence[f.Formula]
    clearer: Sequence[Callable[[Frame, Frame], Rails]] = ()


def other_place(
    ask: Asking, pair: PlacePair, switches: Sequence[str], subject: str
) -> tuple[Case, State, Evaluation] | None:
    """A reachable place, and another of the switches, that answer the question; the second with the fewest switches
    moved. None where there are none, or where that is not judged or not decided (noted)."""
    for rails in pair.clearer:
        quiet = replace(ask, unjudged={}, undecided=[])
        found = other_place(quiet, replace(pair, rails=rails, clearer=()), switches, subject)
        if found is not None:
            return found
    setup = ask.setup
    few = prod(len(setup.switches[s].positions) for s in switches) <= MOST_PLACES

    def any_place(frame: Frame) -> Rails:
        at = list(placements(setup, switches)) if few else [None]
        return frame.any_of([apart(frame, moved) for moved in at])

    cone = ask.decider.cone(pair.formulas) | {("switch", s) for s in switches}

    def apart(frame: Frame, moved: Moved | None) -> Rails:
        if moved is None:
            there = frame.moved(positions={s: frame.any_position(s) for s in switches})
            same = FALSE
        else:
            there = frame.moved(positions={s: placed_state(setup, s, p) for s, p in moved.items()})
            same = frame.both(frame.controls.positions[s][p] for s, p in moved.items())
        there.with_ties_of(frame)  # a tie that goes another way is no difference between places
        return frame.all_of([(-same, same), pair.rails(frame, there)])

    try:
        second = partial(second_place, ask, pair, switches)
        case = judged_answer(ask, any_place, cone, pair.formulas, subject, lambda case: second(case) is not None)
    except Disagreement:  # narrower than the plain evaluator looks: said, not dropped
        ask.undecided.append((subject, "the places found could not be shown one by one"))
        return None
    return None if case is None else second(case)


def second_place(
    ask: Asking, pair: PlacePair, switches: Sequence[str], case: Case
) -> tuple[Case, State, Evaluation] | None:
    """The other place, with the fewest switches moved, as the plain evaluator shows it."""
    here = case.state.positions
    places = islice(placements(ask.setup, switches), MOST_TRIED)
    for moved in sorted(places, key=lambda moved: sum(here[s] != p for s, p in moved.items())):
        state = replace(case.state, positions={**here, **moved})
        there = evaluate(ask.as_decided(), state, case.evaluation.memory)
        if state.positions != here and pair.shown(case, state, there):
            return case, state, there
    return None


def judged_answer(
    ask: Asking,
    rails: Callable[[Frame], Rails],
    cone: Cone,
    formulas: Sequence[f.Formula],
    subject: str,
    check: Callable[[Case], bool] | None = None,
) -> Case | None:
    """A case in which the rails are true, which `check` must show too; where they are only not known to be false, that
    is noted as not judged."""
    decider = ask.decider
    answer = decider.ask(lambda frame: rails(frame)[0], cone, check)
    if answer.impossible and not decider.is_described(cone, *formulas):
        true, false = rails(decider.settled)
        if true != -false and ask.may_be(decider.ask(lambda frame: -rails(frame)[1], cone), subject):
            for because in unknowns.reasons(decider.setup, f.And(tuple(formulas)), cone):
                ask.not_judged(because, subject)
    return ask.noted(answer, subject)


def note_unknown(ask: Asking, called: f.Predicate) -> None:
    """Which switches call something is not known where its formula names what is not described: noted as not judged."""
    for because in unknowns.reasons(ask.as_decided(), called, ask.decider.cone([called])):
        ask.not_judged(because, called.name.partition(" ")[0])


def placements(setup: Setup, switches: Sequence[str]) -> Iterator[Moved]:
    for positions in product(*(setup.switches[s].positions for s in switches)):
        yield dict(zip(switches, positions, strict=True))


def placed_state(setup: Setup, switch: str, position: str) -> dict[str, int]:
    """A switch's literals with it put in a position."""
    return {p: TRUE if p == position else FALSE for p in setup.switches[switch].positions}


# -- rails


def formula_differs(one: Frame, two: Frame, formula: f.Formula) -> Rails:
    """The formula is true in one place and false in the other."""
    (t1, n1), (t2, n2) = one.truth(formula), two.truth(formula)
    both, either = one.both, one.either
    return either((both((t1, n2)), both((n1, t2)))), either((both((t1, t2)), both((n1, n2))))
