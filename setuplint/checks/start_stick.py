"""Switching on with the throttle stick up: what lies behind the hold."""

from __future__ import annotations

from collections.abc import Iterator

from setuplint.book.asking import Asking, both_scales, percent
from setuplint.checks import amend
from setuplint.checks.moves import held_at, shows_both
from setuplint.checks.released import (
    DRIVEN,
    HOLD,
    ReleaseQuestion,
    bottom_of,
    driven_within,
    find_released,
    soon_driven,
    started_with,
)
from setuplint.checks.start import SPRUNG, hovers_at_rest, is_rest_unread, rest_words, start_place, stick_at_bottom
from setuplint.engine.answers import Case
from setuplint.engine.literals import Frame, Rails
from setuplint.engine.search import Movement
from setuplint.findings import Edit, Finding, Place
from setuplint.setup import formulas as f
from setuplint.setup.model import ZERO, pupil_name

RELEASED = f.Not(HOLD)
LENT = (
    "Let [start] requires ask for the sticks not to be lent: the pupil's throttle stick is none that it can ask for. If the "
    "speed controller takes two seconds or more to full speed, try that and say so with craft.soft-start."
)


def start_stick_up(ask: Asking) -> Iterator[Finding]:
    """Start allowed with the hold called and the stick up, or the pupil's; one movement releases the hold, and the rotor is
    driven within the limit, though not with the stick at the bottom."""
    ask = ask.as_enforced()
    if ask.setup.craft.soft_start or ask.setup.intent.hold is None or hovers_at_rest(ask) or is_rest_unread(ask):
        return
    for stick, up in raised(ask):
        before = f.both(HOLD, SPRUNG, up)
        start = ask.decider.find(before, at_power_up=True)
        ask.note(start, "start")
        for movement in ask.decider.possible_movements([HOLD]) if start.found else ():
            case = raised_case(ask, stick, before, movement)
            if case is not None:
                yield stick_finding(ask, case, stick)
                return


def raised(ask: Asking) -> Iterator[tuple[str, f.Formula]]:
    """The throttle stick, and the formula that it alone is up; the pupil's, where one can be lent, and that it is."""
    over, pupil = bottom_of(ask) + ask.limit("above"), pupil_name("throttle")
    yield "throttle", f.both(f.Compare("throttle", ">", over), *held_below(ask, pupil))
    if pupil in ask.setup.sticks:
        yield pupil, f.Compare(pupil, ">", over)


def held_below(ask: Asking, stick: str) -> list[f.Formula]:
    """A stick at the bottom, where there is one."""
    return [held_at({stick: bottom_of(ask)})] if stick in ask.setup.sticks else []


def raised_case(ask: Asking, stick: str, before: f.Formula, movement: Movement) -> Case | None:
    """A movement that releases the hold out of a power-up state and drives the rotor, as it would not if that had been one with
    the stick at the bottom."""
    bottom = {stick: bottom_of(ask)}

    def meant(frame: Frame) -> Rails:
        return frame.all_of([frame.truth(before), frame.thrown(*movement).truth(RELEASED)])

    def driven(frame: Frame) -> Rails:
        low = frame.elsewhere(ask.decider.at(**bottom))
        low_driven, low_still = soon_driven(ask, low, low.thrown(*movement))
        return frame.all_of([soon_driven(ask, frame, frame.thrown(*movement)), (low_still, low_driven)])

    def settled(frame: Frame) -> int:
        low = frame.elsewhere(ask.decider.at(**bottom)).thrown(*movement)
        return frame.both((frame.thrown(*movement).truth(DRIVEN)[0], low.truth(DRIVEN)[1]))

    def run(case: Case) -> Case | None:
        driven = shows_both(ask, before, RELEASED, case) and driven_within(ask, case) is not None
        return case if driven and driven_within(ask, started_with(ask, case, bottom)) is None else None

    question = ReleaseQuestion(movement, meant, driven, settled, [before, RELEASED, DRIVEN, stick_at_bottom(ask)], run)
    return find_released(ask, question, "start")


def stick_finding(ask: Asking, case: Case, stick: str) -> Finding:
    channel, peak = driven_within(ask, case) or ("", ZERO)
    switch, position = case.movement or ("", "")
    limit, at = ask.limit("within"), percent(case.state.sticks[stick])
    pupil = stick != "throttle"
    whose = "pupil's " if pupil else ""
    return ask.finding(
        "start",
        f"the transmitter can be switched on with the hold on and the {whose}throttle stick at {at}; "
        f"then {switch} to {position} releases the hold, and {channel} goes to {both_scales(peak)} within {float(limit):g} s, "
        f"and drives the rotor; with the stick {rest_words(ask)} it would not",
        start_place(ask) or Place(("intent", "hold")),
        case,
        related=[Place(("intent", "hold"), "what calls hold"), *([Place(("trainer", "lent"))] if pupil else [])],
        outputs={channel: peak},
        remedy=LENT if pupil else "",
        edit=stick_edit(ask, pupil),
    )


def stick_edit(ask: Asking, pupil: bool) -> Edit | None:
    """What [start] requires lacks: a low stick, or one that is not lent."""
    if pupil:
        trainer = ask.setup.trainer
        return None if trainer is None else amend.start_edit(ask, f.negation(trainer.lent))
    return amend.start_edit(ask, f.Compare("throttle", "<", bottom_of(ask) + ask.limit("above") / 2))
