"""Switching on in idle-up, or with idle-up behind the hold: what releasing the hold then drives."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from setuplint.book.asking import Asking, both_scales
from setuplint.checks import amend
from setuplint.checks.moves import shows_both
from setuplint.checks.released import (
    DRIVEN,
    HOLD,
    ReleaseQuestion,
    bottom_sticks,
    driven_within,
    find_released,
    lowered,
    soon_driven,
)
from setuplint.checks.start import RESCUE, is_rest_unread, rest_words, start_place, stick_at_bottom
from setuplint.dataclass import dataclass
from setuplint.engine.answers import Case
from setuplint.engine.literals import Frame, Rails, known
from setuplint.engine.search import Movement, moved_state
from setuplint.findings import Finding, Place
from setuplint.plain.evaluate import evaluate, truth
from setuplint.setup import formulas as f
from setuplint.setup.cone import has_kind, names_of_kind
from setuplint.setup.model import ZERO, Mode

RELEASED = f.Not(HOLD)
BEHIND = (
    "Let [start] requires ask for the places of the switches in which a mode is flown that stops at low stick: while the hold "
    "has a mode of its own, the mode does not tell which comes after it. If the speed controller takes two seconds or more to "
    "full speed, try that and say so with craft.soft-start."
)


def start_in_idle_up(ask: Asking) -> Iterator[Finding]:
    """Start allowed in an idle-up mode, or with one behind the hold; one movement releases hold, the stick at the bottom by
    then, and the rotor is driven within the limit, the rescue not called."""
    ask = ask.as_enforced()
    modes = [mode for mode in ask.setup.modes.values() if mode.idle_up]
    if ask.setup.craft.soft_start or ask.setup.intent.hold is None or not modes or is_rest_unread(ask):
        return
    idle_up = f.either(*(f.ModeIs(mode.name) for mode in modes))
    for mode in modes:
        start = ask.decider.find(f.both(HOLD, f.ModeIs(mode.name)), at_power_up=True)
        ask.note(start, mode.name)
        if not start.found:
            continue
        for movement in ask.decider.possible_movements([HOLD]):
            case = released_from(ask, mode, idle_up, movement)
            if case is not None:
                yield idle_up_finding(ask, mode, case)
                return
    for movement in ask.decider.possible_movements([HOLD]):
        case = released_into(ask, idle_up, movement)
        flown = case.after_evaluation.mode if case is not None and case.after_evaluation is not None else None
        if case is not None and flown is not None:
            yield idle_up_finding(ask, ask.setup.modes[flown], case, behind=True)
            return


def released_from(ask: Asking, mode: Mode, idle_up: f.Formula, movement: Movement) -> Case | None:
    """A movement that releases the hold, out of a power-up state in an idle-up mode, and drives the rotor."""
    started, low = f.both(HOLD, f.ModeIs(mode.name)), f.both(HOLD, idle_up)
    return find_started(StartedRelease(ask, movement, started, low, RELEASED), mode.name)


def released_into(ask: Asking, idle_up: f.Formula, movement: Movement) -> Case | None:
    """One that releases it into an idle-up mode, as every position of that switch does which releases it: a hold that is a
    mode of its own hides which mode the other switches have chosen."""
    held, places = f.both(HOLD, f.Not(idle_up)), ask.setup.switches[movement[0]].positions
    others = [(movement[0], position) for position in places]
    into = f.both(RELEASED, idle_up)
    return find_started(StartedRelease(ask, movement, held, held, into, f.either(HOLD, idle_up), others), "start")


@dataclass(frozen=True, slots=True)
class StartedRelease:
    """A movement that releases the hold: what holds at power-up, then with the stick at the bottom, and after the movement;
    `around` holds with the other positions of its switch."""

    ask: Asking
    movement: Movement
    started: f.Formula
    low: f.Formula
    after: f.Formula
    around: f.Formula = f.TRUE
    others: Sequence[Movement] = ()

    def meant(self, frame: Frame, down: Frame) -> Rails:
        moved = down.thrown(*self.movement)
        around = [down.thrown(*each).truth(self.around) for each in self.others]
        unsaved = known(-moved.truth(RESCUE)[0])
        return frame.all_of(
            [frame.truth(self.started), down.truth(self.low), moved.truth(self.after), unsaved, *around]
        )

    def at_bottom(self, frame: Frame) -> Rails:
        return frame.all_of([frame.truth(stick_at_bottom(self.ask)), self.meant(frame, frame)])

    def driven(self, down: Frame) -> Rails:
        return soon_driven(self.ask, down, down.thrown(*self.movement))

    def settled(self, down: Frame) -> int:
        return down.thrown(*self.movement).truth(DRIVEN)[0]

    def lowered(self, frame: Frame) -> Frame:
        """The state once the stick is put to the bottom."""
        return frame.shadow(self.ask.decider.at(**bottom_sticks(self.ask)))

    def run(self, case: Case) -> Case | None:
        ask, setup = self.ask, self.ask.as_decided()
        case = lowered(ask, case)
        places = [moved_state(case.state, each) for each in self.others]
        around = (truth(setup, self.around, s, evaluate(setup, s, case.evaluation.memory)) for s in places)
        met = truth(setup, self.started, case.states[0], case.evaluations[0]) is True and all(around)
        met = met and shows_both(ask, self.low, self.after, case) and not is_saving(ask, case)
        return case if met and driven_within(ask, case) is not None else None


def is_saving(ask: Asking, case: Case) -> bool:
    """The rescue is called after the movement: what it does to a craft that stands on the ground is a note."""
    assert case.after is not None
    assert case.after_evaluation is not None
    return truth(ask.as_decided(), RESCUE, case.after, case.after_evaluation) is True


def find_started(release: StartedRelease, subject: str) -> Case | None:
    """A case of it out of a start with the stick at the bottom, or else with the stick put there afterwards."""
    ask, movement = release.ask, release.movement
    rests_on = [release.started, release.low, release.after, release.around, DRIVEN, RESCUE, stick_at_bottom(ask)]
    question = ReleaseQuestion(movement, release.at_bottom, release.driven, release.settled, rests_on, release.run)
    case = find_released(ask, question, subject)
    if case is not None or not may_be_lowered(ask, release.started):
        return case
    lowering = ReleaseQuestion(
        movement,
        lambda frame: release.meant(frame, release.lowered(frame)),
        lambda frame: release.driven(release.lowered(frame)),
        lambda frame: release.settled(release.lowered(frame)),
        rests_on,
        release.run,
    )
    return find_released(ask, lowering, subject)


def may_be_lowered(ask: Asking, started: f.Formula) -> bool:
    """Whether it can start with the formula and the stick where it could not with the stick at the bottom; or memory tells."""
    decider, allowed = ask.decider, f.both(f.Predicate("start allowed"), started)
    cone = decider.cone([allowed, DRIVEN])
    remembering = [n for n in names_of_kind(cone, "condition") if ask.setup.conditions[n].remembers]
    if any(has_kind(decider.cone([f.Holds(name)]), "stick") for name in remembering):
        return True

    def question(frame: Frame) -> int:
        low = frame.elsewhere(decider.at(**bottom_sticks(ask)))
        return frame.both((frame.truth(started)[0], -low.truth(allowed)[0]))

    return not decider.ask(question, cone, at_power_up=True).impossible


def idle_up_finding(ask: Asking, mode: Mode, case: Case, *, behind: bool = False) -> Finding:
    channel, peak = driven_within(ask, case) or ("", ZERO)
    switch, position = case.movement or ("", "")
    where = f"with idle-up mode {mode.name} behind the hold" if behind else f"in idle-up mode {mode.name}"
    others = [f.Not(f.ModeIs(m.name)) for m in ask.setup.modes.values() if m.idle_up]
    return ask.finding(
        "start",
        f"the transmitter can be switched on {where}; then {switch} to {position} releases "
        f"the hold, and with the throttle stick {rest_words(ask)}, {channel} goes to {both_scales(peak)} "
        f"within {float(ask.limit('within')):g} s, and drives the rotor",
        start_place(ask) or Place(("modes", mode.name)),
        case,
        related=[Place(("modes", mode.name), "an idle-up mode"), Place(("intent", "hold"), "what calls hold")],
        outputs={channel: peak},
        remedy=BEHIND if behind else "",
        edit=None if behind else amend.start_edit(ask, *others),
    )
