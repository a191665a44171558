"""Switching on with the throttle stick up: what lies behind the hold."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from setuplint.book.asking import Asking, both_scales, percent
from setuplint.checks import amend
from setuplint.checks.moves import shows_both, with_pupils
from setuplint.checks.start import (
    DRIVEN,
    HOLD,
    SPRUNG,
    driven_within,
    hovers_at_rest,
    rest_words,
    start_place,
    stick_at_bottom,
    unsure_movements,
)
from setuplint.dataclass import replace
from setuplint.engine.answers import Case
from setuplint.engine.literals import Frame
from setuplint.engine.search import Movement
from setuplint.findings import Finding, Place
from setuplint.plain.evaluate import evaluate, truth
from setuplint.plain.state import State
from setuplint.setup import formulas as f


def start_stick_up(ask: Asking) -> Iterator[Finding]:
    """Start allowed with the hold called and the stick up; one movement releases the hold, and the rotor is driven within the
    limit, though not with the stick at the bottom."""
    ask = ask.as_enforced()
    if ask.setup.craft.soft_start or ask.setup.intent.hold is None or hovers_at_rest(ask):
        return
    idle_up = [f.Not(f.ModeIs(mode.name)) for mode in ask.setup.modes.values() if mode.idle_up]
    above = f.Compare("throttle", ">", bottom_of(ask) + ask.limit("above"))
    before = f.both(HOLD, SPRUNG, *idle_up, above)
    start = ask.decider.find(before, at_power_up=True)
    ask.note(start, "start")
    if not start.found:
        return
    for case in stick_cases(ask, before):
        peak = peak_within(ask, case, case.state)
        if peak is not None and peak_within(ask, case, at_bottom(ask, case.state)) is None:
            yield stick_finding(ask, case, *peak)
            return
    unsure_movements(ask, before, f.both(f.Not(HOLD), DRIVEN), "start")


def stick_cases(ask: Asking, before: f.Formula) -> Iterator[Case]:
    """Movements out of power-up that release the hold, for each those after which the rotor is driven first; the stick
    anywhere, and then at the top."""
    top = f.Compare("throttle", ">=", Fraction(100))
    for movement in ask.decider.movements([HOLD]):
        for driven in (DRIVEN, f.Not(DRIVEN)):
            for first in (before, f.both(before, top)):
                case = stick_case(ask, first, f.both(f.Not(HOLD), driven), movement)
                if case is not None:
                    yield case


def stick_case(ask: Asking, before: f.Formula, after: f.Formula, movement: Movement) -> Case | None:
    """One of them, out of a state from which it would not drive the rotor with the stick at the bottom, all having settled."""
    setup = ask.as_decided()
    bottom = ask.decider.at(**bottom_sticks(ask))

    def there(frame: Frame, moved: Frame) -> int:
        low = frame.elsewhere(bottom).thrown(*movement)
        return frame.both((moved.truth(after)[0], low.truth(DRIVEN)[1]))

    def shown(case: Case) -> bool:
        assert case.after is not None
        settled = evaluate(setup, at_bottom(ask, case.state))
        low = at_bottom(ask, case.after)
        still = truth(setup, DRIVEN, low, evaluate(setup, low, settled.memory)) is False
        return still and shows_both(ask, before, after, case)

    answer = ask.decider.ask_movement(
        lambda frame: frame.truth(before)[0],
        there,
        [movement],
        [before, after, DRIVEN, stick_at_bottom(ask)],
        shown,
        at_power_up=True,
    )
    return ask.noted(answer, "start")


def bottom_of(ask: Asking) -> Fraction:
    """Where the throttle stick rests."""
    return ask.setup.sticks["throttle"].rest


def bottom_sticks(ask: Asking) -> dict[str, Fraction]:
    """The throttle stick there, the pupil's too."""
    return with_pupils(ask.setup, {"throttle": bottom_of(ask)})


def at_bottom(ask: Asking, state: State) -> State:
    return replace(state, sticks={**state.sticks, **bottom_sticks(ask)})


def peak_within(ask: Asking, case: Case, state: State) -> tuple[str, Fraction] | None:
    """A motor that drives the rotor within the limit after the case's movement out of a power-up state, and its highest
    output meanwhile."""
    assert case.movement is not None
    setup = ask.as_decided()
    switch, position = case.movement
    after = replace(state, positions={**state.positions, switch: position})
    return driven_within(ask, state, evaluate(setup, state).memory, after)


def stick_finding(ask: Asking, case: Case, channel: str, peak: Fraction) -> Finding:
    switch, position = case.movement or ("", "")
    limit, above, at = ask.limit("within"), ask.limit("above"), percent(case.state.sticks["throttle"])
    return ask.finding(
        "start",
        f"the transmitter can be switched on with the hold on and the throttle stick at {at}; "
        f"then {switch} to {position} releases the hold, and {channel} goes to {both_scales(peak)} within {float(limit):g} s, "
        f"and drives the rotor; with the stick {rest_words(ask)} it would not",
        start_place(ask) or Place(("intent", "hold")),
        case,
        related=[Place(("intent", "hold"), "what calls hold")],
        outputs={channel: peak},
        edit=amend.start_edit(ask, f.Compare("throttle", "<", bottom_of(ask) + above / 2)),
    )
