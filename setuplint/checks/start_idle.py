"""Switching on in idle-up, or with idle-up behind the hold: what releasing the hold then drives."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from setuplint.book.asking import Asking, both_scales
from setuplint.checks import amend
from setuplint.checks.moves import shows_both
from setuplint.checks.start import (
    DRIVEN,
    HOLD,
    driven_within,
    rest_words,
    start_place,
    stick_at_bottom,
    unsure_movements,
)
from setuplint.engine.answers import Case
from setuplint.engine.literals import Frame
from setuplint.engine.search import Movement, moved_state
from setuplint.findings import Finding, Place
from setuplint.plain.evaluate import evaluate, truth
from setuplint.setup import formulas as f
from setuplint.setup.model import Mode

RELEASED = f.Not(HOLD)
BEHIND = (
    "Let [start] requires ask for the places of the switches in which a mode is flown that stops at low stick: while the hold "
    "has a mode of its own, the mode does not tell which comes after it. If the speed controller takes two seconds or more to "
    "full speed, try that and say so with craft.soft-start."
)


def start_in_idle_up(ask: Asking) -> Iterator[Finding]:
    """Start allowed in an idle-up mode, or with one behind the hold; one movement releases hold, and the rotor is driven
    within the limit."""
    ask = ask.as_enforced()
    if ask.setup.craft.soft_start or ask.setup.intent.hold is None:
        return
    modes = [mode for mode in ask.setup.modes.values() if mode.idle_up]
    for mode in modes:
        before = f.both(HOLD, stick_at_bottom(ask), f.ModeIs(mode.name))
        start = ask.decider.find(before, at_power_up=True)
        ask.note(start, mode.name)
        for case in release_movements(ask, before, mode.name) if start.found else ():
            if driven := driven_after(ask, case):
                yield idle_up_finding(ask, mode, case, *driven)
                return
    for mode in modes:
        for case in movements_into(ask, mode, f.either(*(f.ModeIs(m.name) for m in modes))):
            if driven := driven_after(ask, case):
                yield idle_up_finding(ask, mode, case, *driven, behind=True)
                return


def driven_after(ask: Asking, case: Case) -> tuple[str, Fraction] | None:
    assert case.after is not None
    return driven_within(ask, case.state, case.evaluation.memory, case.after)


def idle_up_finding(
    ask: Asking, mode: Mode, case: Case, channel: str, peak: Fraction, *, behind: bool = False
) -> Finding:
    switch, position = case.movement or ("", "")
    where = f"with idle-up mode {mode.name} behind the hold" if behind else f"in idle-up mode {mode.name}"
    others = [f.Not(f.ModeIs(m.name)) for m in ask.setup.modes.values() if m.idle_up]
    return ask.finding(
        "start",
        f"the transmitter can be switched on {where}; then {switch} to {position} releases "
        f"the hold, and with the throttle stick {rest_words(ask)} {channel} goes to {both_scales(peak)} "
        f"within {float(ask.limit('within')):g} s, and drives the rotor",
        start_place(ask) or Place(("modes", mode.name)),
        case,
        related=[Place(("modes", mode.name), "an idle-up mode"), Place(("intent", "hold"), "what calls hold")],
        outputs={channel: peak},
        remedy=BEHIND if behind else "",
        edit=None if behind else amend.start_edit(ask, *others),
    )


def release_movements(ask: Asking, before: f.Formula, subject: str) -> Iterator[Case]:
    """Movements out of a power-up state that release the hold: those after which the rotor is driven first."""
    whole = ask.find_movement(before, f.both(RELEASED, DRIVEN), subject, at_power_up=True)
    if whole is not None:
        yield whole
    else:
        unsure_movements(ask, before, f.both(RELEASED, DRIVEN), subject)
    for movement in ask.decider.movements([HOLD]):
        for after in (f.both(RELEASED, DRIVEN), f.both(RELEASED, f.Not(DRIVEN))):
            case = ask.decider.find_movement(before, after, [movement], at_power_up=True).case
            if case is not None:
                yield case


def movements_into(ask: Asking, mode: Mode, idle_up: f.Formula) -> Iterator[Case]:
    """Those that release it into an idle-up mode, as every position of that switch does which releases it: a hold that is a
    mode of its own hides which mode the other switches have chosen."""
    before = f.both(HOLD, stick_at_bottom(ask), f.Not(idle_up))
    for movement in ask.decider.movements([HOLD]):
        for driven in (DRIVEN, f.Not(DRIVEN)):
            after = f.both(RELEASED, f.ModeIs(mode.name), driven)
            case = movement_into(ask, before, after, f.either(HOLD, idle_up), movement)
            if case is not None:
                yield case


def movement_into(
    ask: Asking, before: f.Formula, after: f.Formula, elsewhere: f.Formula, movement: Movement
) -> Case | None:
    """One out of power-up, `elsewhere` being true with the switch at any other position too."""
    setup, switch = ask.as_decided(), movement[0]
    others = [(switch, position) for position in setup.switches[switch].positions]

    def there(frame: Frame, moved: Frame) -> int:
        return frame.both((moved.truth(after)[0], *(frame.thrown(*each).truth(elsewhere)[0] for each in others)))

    def shown(case: Case) -> bool:
        places = [moved_state(case.state, each) for each in others]
        return shows_both(ask, before, after, case) and all(
            truth(setup, elsewhere, s, evaluate(setup, s, case.evaluation.memory)) is True for s in places
        )

    formulas = [before, after, elsewhere]
    answer = ask.decider.ask_movement(
        lambda frame: frame.truth(before)[0], there, [movement], formulas, shown, at_power_up=True
    )
    return ask.noted(answer, "start")
