"""Throttle hold that takes a control from its stick (hold-freezes-controls)."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from math import prod

from setuplint.book.asking import Asking, percent
from setuplint.checks import claims
from setuplint.checks.hold import CALLED, hold_switches, is_callable_hold
from setuplint.checks.moves import held_at
from setuplint.checks.places import MOST_PLACES, PlacePair, judged_answer, other_place, placed_state, placements
from setuplint.checks.travels import still_line
from setuplint.engine.answers import Case
from setuplint.engine.literals import Frame, Rails
from setuplint.findings import Finding, Place
from setuplint.plain.evaluate import Evaluation, truth
from setuplint.plain.state import LOST, State
from setuplint.setup import formulas as f
from setuplint.setup.cone import Cone, names_of_kind
from setuplint.setup.model import Channel

RESCUE = f.Predicate("rescue called")
CONTROLS = ("collective", "aileron", "elevator", "rudder")

ONE_PLACE = "what is no switch of the hold's was looked at in single places of sticks, knobs, sensors and memory"

Released = tuple[Case, State, Evaluation]  # a case with the hold called, and what it is compared with


def hold_freezes_controls(ask: Asking) -> Iterator[Finding]:
    """Hold called, rescue not: a control follows no stick, though it does with hold released and all else the same."""
    if not is_callable_hold(ask):
        return
    for channel in ask.driving(*CONTROLS):
        if any(line.terms is None for line in channel.every_line):
            ask.unread_line(channel, channel.name)  # it may be still, or may be what follows
        if not channel.described or not sticks_of(ask, channel):
            continue
        if not ask.proved_impossible(stiff_case(ask, channel)):
            deciders: list[str | None] = [o.name for o in ask.setup.acting_on(channel.name)]
            for override in [*deciders, None]:
                yield from frozen_findings(ask, channel, override)


def frozen_findings(ask: Asking, channel: Channel, override: str | None) -> Iterator[Finding]:
    setup, subject = ask.setup, override or channel.name
    follows = follows_one(ask, channel)
    still = f.both(stiff_case(ask, channel), f.Decides(channel.name, override))
    found = switched_release(ask, still, follows, subject)
    if found is None and not is_on_beside(ask, channel, override):
        found = other_release(ask, still, follows, subject)
    if found is None:
        return
    case, state, there = found
    if still_line(ask, channel, override, (case.state, case.evaluation)):
        override = None
    stick = next(s for s in sticks_of(ask, channel) if truth(setup, f.Follows(channel.name, s), state, there))
    value = case.evaluation.outputs[channel.name]
    stays = f"stays at {percent(value)}" if value is not None else "stays where it is"
    yield ask.finding(
        override or channel.name,
        f"with the throttle hold on, {channel.name} ({channel.drives}) {stays} wherever the sticks are: "
        f"{claims.decider_words(override)} decides it; with the hold off it follows the {stick} stick",
        claims.cause_place(ask, channel.name, override, case),
        case,
        related=[Place(("intent", "hold"), "what calls hold")],
        channels=[channel.name],
    )


def stiff_case(ask: Asking, channel: Channel) -> f.Formula:
    return f.both(CALLED, f.Not(RESCUE), f.Not(follows_one(ask, channel)))


def follows_one(ask: Asking, channel: Channel) -> f.Formula:
    return f.either(*(f.Follows(channel.name, s) for s in sticks_of(ask, channel)))


def sticks_of(ask: Asking, channel: Channel) -> list[str]:
    """The sticks, not knobs, that any of its lines reads."""
    return [s.name for s in ask.setup.sticks.values() if not s.knob and s.name in channel.sticks]


# -- with the hold off, all else the same


def switched_release(ask: Asking, still: f.Formula, follows: f.Formula, subject: str) -> Released | None:
    """By the switches that call it, from the same memory."""
    switches = hold_switches(ask)

    def apart(one: Frame, two: Frame) -> Rails:
        return one.all_of([one.truth(still), two.truth(f.Not(CALLED)), two.truth(follows)])

    def shown(case: Case, state: State, there: Evaluation) -> bool:
        return (
            truth(ask.setup, still, case.state, case.evaluation) is True
            and truth(ask.setup, CALLED, state, there) is False
            and truth(ask.setup, follows, state, there) is True
        )

    return other_place(ask, PlacePair(apart, shown, (still, follows)), switches, subject) if switches else None


def other_release(ask: Asking, still: f.Formula, follows: f.Formula, subject: str) -> Released | None:
    """Where its switches do not let go of it: in another state with what it does not rest on the same. What the hold remembers is
    as it may be, its sticks, knobs and sensors the same if they can be."""
    decider = ask.decider
    hold, cone = decider.cone([CALLED]), decider.cone([still, follows])
    if not measured_by(hold) and not has_memory(ask, hold):
        return None
    if ask.proved_impossible(f.both(f.Not(CALLED), follows)):
        return None
    kept = [s for s in ask.setup.switches if ("switch", s) in cone and ("switch", s) not in hold]
    tried: list[f.Formula] = []  # where the switches that are kept stood in vain
    while len(tried) < MOST_PLACES:
        case = unreleased_case(ask, f.both(still, *tried), subject)
        if case is None:
            return held_again(ask, still, follows, hold, subject) if tried else None
        other = let_go(ask, case, follows, cone, hold, subject)
        if other is not None:
            return case, other.state, other.evaluation
        tried.append(f.Not(f.both(*(f.SwitchIs(s, case.state.positions[s]) for s in kept))))
    ask.undecided.append((subject, f"more than {MOST_PLACES} places of the other switches would have to be looked at"))
    return None


def let_go(ask: Asking, case: Case, follows: f.Formula, cone: Cone, hold: Cone, subject: str) -> Case | None:
    """Where the hold is off, all else the same, and the control follows: by what the hold remembers alone if that lets go of it,
    else by its sticks, knobs and sensors too."""
    for moved in (set[str](), measured_by(hold)):
        released = f.both(f.Not(CALLED), same_besides(ask, case, cone, hold, moved))
        if ask.possible(released, subject):
            return ask.find(f.both(released, follows), subject)
    return None


def measured_by(hold: Cone) -> set[str]:
    return names_of_kind(hold, "stick") | names_of_kind(hold, "sensor")


def held_again(ask: Asking, still: f.Formula, follows: f.Formula, hold: Cone, subject: str) -> Released | None:
    """The same from the other side, as what is no switch was tried in one place for each place of the switches: out of a state
    with the hold off. Where there is none that way either it is not decided."""
    cone = ask.decider.cone([still, follows])
    other = ask.find(f.both(f.Not(CALLED), follows), subject)
    if other is None:
        return None
    for moved in (set[str](), measured_by(hold)):
        case = unreleased_case(ask, f.both(still, same_besides(ask, other, cone, hold, moved)), subject)
        back = case and let_go(ask, case, follows, cone, hold, subject)
        if case and back:
            return case, back.state, back.evaluation
    ask.undecided.append((subject, ONE_PLACE))
    return None


def is_on_beside(ask: Asking, channel: Channel, override: str | None) -> bool:
    """Whether an override rests on nothing that the hold rests on: it is on with the hold off, all else the same, and what beats
    it follows no stick either, where none limits the line."""
    if override is None or any(each.limits for each in ask.setup.acting_on(channel.name)):
        return False
    hold = ask.decider.cone([CALLED])
    return not any(node in hold for node in ask.decider.cone([f.Active(override)]))


def has_memory(ask: Asking, hold: Cone) -> bool:
    conditions = (ask.setup.conditions[name] for name in names_of_kind(hold, "condition"))
    return any(c.until is not None or c.toggles for c in conditions)


def unreleased_case(ask: Asking, here: f.Formula, subject: str) -> Case | None:
    """A state of that kind in which no place of the hold's switches lets go of it, where they have few."""
    switches = hold_switches(ask)
    few = prod(len(ask.setup.switches[s].positions) for s in switches) <= MOST_PLACES
    places = list(placements(ask.setup, switches)) if switches and few else []

    def rails(frame: Frame) -> Rails:
        moved = (frame.moved(positions={s: placed_state(ask.setup, s, at) for s, at in p.items()}) for p in places)
        return frame.all_of([frame.truth(here), *(m.truth(CALLED) for m in moved)])

    return judged_answer(ask, rails, ask.decider.cone([here, CALLED]), [here, CALLED], subject)


def same_besides(ask: Asking, case: Case, cone: Cone, hold: Cone, moved: set[str]) -> f.Formula:
    """What a question rests on is as in a case, but for what the hold rests on; its sticks, knobs and sensors too, but for those
    that are moved."""
    state, values = case.state, case.evaluation.conditions
    beside = [s for s in names_of_kind(cone, "switch") if ("switch", s) not in hold]
    free = [name for name in names_of_kind(cone, "condition") if rests_apart(ask, name, hold)]
    placed = {s: state.sticks[s] for s in names_of_kind(cone, "stick") - moved if s in state.sticks}
    readings = {s: state.readings[s] for s in names_of_kind(cone, "sensor") - moved if s in state.readings}
    return f.both(
        held_at(placed),
        *(same_reading(sensor, readings[sensor]) for sensor in sorted(readings)),
        *(f.SwitchIs(s, state.positions[s]) for s in sorted(beside)),
        *(f.Holds(name) if values[name] else f.Not(f.Holds(name)) for name in sorted(free) if values[name] is not None),
    )


def same_reading(sensor: str, reading: Fraction | str) -> f.Formula:
    if isinstance(reading, Fraction):
        return held_at({sensor: reading})
    return f.Lost(sensor) if reading == LOST else f.both(f.Not(f.Lost(sensor)), f.Not(f.Heard(sensor)))


def rests_apart(ask: Asking, condition: str, hold: Cone) -> bool:
    """Whether the condition rests on nothing that the hold rests on."""
    return not any(node in hold for node in ask.decider.cone([f.Holds(condition)]))
