"""Routes to states in which a part is told: what is read there would be something else if the part were missing."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from setuplint.bench import missing
from setuplint.bench.card_model import READ, Item
from setuplint.bench.items import control_at, outputs_under
from setuplint.bench.questions import CardQuestions
from setuplint.bench.routes import Home, Route, first_route
from setuplint.bench.walk import expected_row
from setuplint.budget import OutOfBudget
from setuplint.dataclass import replace
from setuplint.engine.answers import NOT_JUDGED, Answer, Case
from setuplint.plain.state import OFF
from setuplint.setup import formulas as f
from setuplint.setup.model import Override, Setup

PLACES = tuple(map(Fraction, (100, -100, 50, -50, 0)))  # of a stick or knob, where a line may give something else
UNTOLD = "no movement shows it: without it nothing would read otherwise by 3 points or more, or sound otherwise"


def told_route(
    questions: CardQuestions, home: Home, item: Item, wishes: Sequence[f.Formula]
) -> tuple[Route | None, Answer]:
    """A route to a state in which the item is told, and the engine's last answer, which says why there is none."""
    route, answer = first_route(questions, wishes)
    if route is None or item.without is None:
        return route, answer
    if _is_told(home, route.case, item):
        return replace(route, item=item), answer
    for case in _other_cases(questions, item, wishes):
        if _is_told(home, case, item):
            return Route(item.formula, case, item), answer
    return None, Answer(NOT_JUDGED, because=(UNTOLD,))


def is_untold(answer: Answer) -> bool:
    return answer.because == (UNTOLD,)


def _is_told(home: Home, case: Case, item: Item) -> bool:
    """Whether the part is told by the state of a case, for who comes from home."""
    assert item.without is not None
    memory = case.evaluations[-2].memory if len(case.evaluations) > 1 else OFF
    came = case.state, memory
    row = replace(expected_row(home.setup, READ, (), *came, came), start=(home.state, OFF))
    return missing.tells(home.setup, item.without(), row)


def _other_cases(questions: CardQuestions, item: Item, wishes: Sequence[f.Formula]) -> Iterator[Case]:
    setup = questions.setup
    if item.kind == "override":
        yield from _cases_without(questions, item, wishes)
        return
    for more in _more(setup, item):
        for wish in dict.fromkeys((wishes[0], wishes[-1])):
            route, _ = first_route(questions, [f.both(wish, more)])
            if route is not None:
                yield route.case


def _cases_without(questions: CardQuestions, item: Item, wishes: Sequence[f.Formula]) -> Iterator[Case]:
    """Where the channel, without the override, would put out something else while the override's `when` holds: exactly those."""
    assert item.without is not None
    override = questions.setup.overrides[item.subject]
    try:
        there = questions.of_variant(item.without())
    except OutOfBudget:
        return
    asked = f.both(override.when, *_none_higher(questions.setup, override), _put_elsewhere(questions.setup, override))
    for wish in wishes:
        answer = there.find(f.both(asked, _without_decider(wish, item.formula)))
        if answer.found and answer.case is not None:
            yield answer.case


def _without_decider(wish: f.Formula, formula: f.Formula) -> f.Formula:
    """What a wish asks besides the item's own formula."""
    if wish == formula:
        return f.TRUE
    assert isinstance(wish, f.And)
    return f.both(*(part for part in wish.items if part != formula))


def _none_higher(setup: Setup, override: Override) -> Iterator[f.Formula]:
    mine = override.priority
    for other in setup.overrides.values():
        rival = other.channel == override.channel and other is not override
        if rival and mine is not None and other.priority is not None and other.priority >= mine:
            yield f.Not(f.Active(other.name))


def _put_elsewhere(setup: Setup, override: Override) -> f.Formula:
    """The channel puts out what can be told from all that the override lets it put out."""
    allowed = outputs_under(setup, override)
    return f.either(
        f.OutputCompare(override.channel, ">=", max(allowed) + missing.TOLD),
        f.OutputCompare(override.channel, "<=", min(allowed) - missing.TOLD),
    )


def _more(setup: Setup, item: Item) -> Iterator[f.Formula]:
    """What else to wish for, where the part may be told."""
    if item.kind in ("line", "flown"):
        for stick in setup.sticks.values():
            if stick.pupil_of is None:
                yield from (control_at(stick.name, place) for place in PLACES)
    elif item.kind == "remembers":
        yield from (f.Decides(override.channel, override.name) for override in setup.overrides.values())
        yield from (f.Sounds(alarm) for alarm in setup.alarms)
    elif item.kind == "sounds":
        yield f.both(*(f.Not(f.Sounds(alarm)) for alarm in setup.alarms if alarm != item.subject))
