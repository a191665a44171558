"""Movements that do more than is meant: a mode switch that makes the craft jump, a rescue switch with other work."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from fractions import Fraction
from functools import partial

from setuplint.book import thin_air
from setuplint.book.asking import Asking, both_scales, percent
from setuplint.budget import OutOfBudget
from setuplint.checks import amend
from setuplint.checks.aloft import off_the_ground
from setuplint.checks.levels import HeldLevels, OutputChange, find_change, output_levels, turned_levels
from setuplint.checks.listening import is_sound_known
from setuplint.checks.moves import (
    HoverPlace,
    MovementStep,
    held_at,
    hover_places,
    outputs_after,
    placed_sticks,
)
from setuplint.checks.outputs import (
    CLEAR,
    changed_words,
    note_undescribed,
    output_differs,
    points_apart,
    reads_switches,
)
from setuplint.checks.places import PlacePair, formula_differs, note_unknown, other_place
from setuplint.checks.rescue import is_callable_rescue
from setuplint.checks.trial import graver_rule
from setuplint.curves.turns import ANY
from setuplint.dataclass import dataclass, replace
from setuplint.engine.answers import Case
from setuplint.engine.literals import Frame, Rails
from setuplint.findings import Edit, Finding, Place
from setuplint.plain.evaluate import Evaluation, truth
from setuplint.plain.state import State
from setuplint.setup import formulas as f
from setuplint.setup.cone import names_of_kind
from setuplint.setup.model import Channel, Mode

HOLD = f.Predicate("hold called")
RESCUE = f.Predicate("rescue called")
CALM = f.both(f.Not(HOLD), f.Not(RESCUE))
MOST_MOVEMENTS = 30_000  # of one file: every movement from each mode to each other, for every channel


def mode_jump(ask: Asking) -> Iterator[Finding]:
    """One movement changes the mode, and the motor or the collective jumps. One finding for each mode entered."""
    modes = ask.setup.modes
    if len(modes) < 2:
        return
    flown = [m for m in modes if not ask.proved_impossible(f.both(CALM, f.ModeIs(m)))]
    movements = ask.decider.possible_movements([f.ModeIs(m) for m in modes])
    changing = ask.driving("motor", "collective")
    if len(flown) * (len(flown) - 1) * len(movements) * len(changing) > MOST_MOVEMENTS:
        ask.undecided.append(("", f"{len(flown)} modes and {len(movements)} movements between them are too many"))
        return
    for mode in (modes[m] for m in flown):
        found = [(c, case) for c in changing if (case := jump_finding(ask, flown, mode, c)) is not None]
        if found:
            yield jump_words(ask, mode, found)


def jump_finding(ask: Asking, flown: Sequence[str], entered: Mode, channel: Channel) -> Case | None:
    """A movement into a mode with which this channel jumps."""
    change = judged_change(ask, entered, channel)
    if change is None:
        return None
    modes = [f.ModeIs(m) for m in ask.setup.modes]
    subject = f"{entered.name} {channel.name}"
    try:
        left = [x for m in flown if m != entered.name for x in leaving_changes(ask, m, entered.name, channel, change)]
    except OutOfBudget as end:
        ask.undecided.append((subject, str(end)))
        return None
    if not left:
        return None
    throttle = f.Compare("throttle", ">=", Fraction(0))
    formulas = [CALM, *modes, throttle, f.OutputCompare(channel.name, "<", Fraction(0)), *hover_here(ask)]

    def make(change: OutputChange) -> MovementStep:
        return MovementStep(*entering_lines(ask, entered, change, left), formulas)

    knobs = any(turned_levels(x.before, x.after) for x in left)
    return find_change(ask, change, make, ask.decider.possible_movements(modes), subject, knobs)


@dataclass(frozen=True, slots=True)
class Leaving:
    """A mode that is left with the sticks `held`, at its hover, and what the channel may give there and then."""

    mode: str
    hover: HoverPlace
    held: Mapping[str, Fraction]
    before: HeldLevels
    after: HeldLevels


def leaving_changes(ask: Asking, mode: str, entered: str, channel: Channel, change: OutputChange) -> Iterator[Leaving]:
    """The places of the hover at which the change could be. OutOfBudget where a line has too many cases."""
    for hover in hover_places(ask, mode):
        held = placed_sticks(ask, channel, hover.stick, hover.at)
        before, after = (output_levels(ask, channel, [m], held, f.both(CALM, f.ModeIs(m))) for m in (mode, entered))
        if change.open(before, after):
            yield Leaving(mode, hover, held, before, after)


def entering_lines(
    ask: Asking, entered: Mode, change: OutputChange, left: Sequence[Leaving]
) -> tuple[Callable[[Frame, Frame], Rails], Callable[[Case], bool]]:
    """The change, as rails and to the plain evaluator."""

    def rails(frame: Frame, moved: Frame) -> Rails:
        jumps = [
            frame.all_of([frame.truth(f.ModeIs(x.mode)), x.hover.here(frame), frame.truth(held_at(x.held)),
                             replace(change, modes=(x.mode,)).rails(frame, moved, x.before, x.after, x.held)])
            for x in left
        ]  # fmt: skip
        calm = [frame.truth(CALM), moved.truth(CALM), moved.truth(f.ModeIs(entered.name))]
        return frame.all_of([*calm, frame.any_of(jumps)])

    def shown(case: Case) -> bool:
        assert case.after is not None
        assert case.after_evaluation is not None
        was, now = case.evaluation, case.after_evaluation
        calm = truth(ask.setup, CALM, case.state, was), truth(ask.setup, CALM, case.after, now)
        return calm == (True, True) and was.mode != now.mode == entered.name and change.shown(case)

    return rails, shown


def judged_change(ask: Asking, entered: Mode, channel: Channel) -> OutputChange | None:
    """The change of a channel that is too much; None where there is none: a ramp is written that softens it, a governor
    holds the motor's speed, or the channel neither drives a motor nor the collective."""
    if channel.drives not in ("motor", "collective") or (
        channel.drives == "motor" and ask.setup.craft.governed_above is not None
    ):
        return None
    if ask.unread_line(channel) or not channel.described:
        ask.not_judged(ask.setup.undescribed(channel.name))
        return None
    most, soft = ask.limit(channel.drives), ask.limit("ramp")
    line = channel.line(entered.name)
    up, down = (most if ramp < soft else None for ramp in (line.ramp_up, line.ramp_down))
    if channel.reversed:  # ramps are of the demand
        up, down = down, up
    return None if up is None and down is None else OutputChange(channel, up, down, then=(entered.name,))


def hover_here(ask: Asking) -> list[f.Formula]:
    """What the place of the hover rests on: the lines of the motors or collectives."""
    drives = "motor" if ask.setup.craft.rotor == "fixed" else "collective"
    return [f.OutputCompare(c.name, "<", Fraction(0)) for c in ask.setup.driving(drives)]


def jump_words(ask: Asking, mode: Mode, found: Sequence[tuple[Channel, Case]]) -> Finding:
    told = []
    for number, (channel, case) in enumerate(found):
        before, after = outputs_after(case, channel.name) or (Fraction(0), Fraction(0))
        value = both_scales if channel.drives == "motor" else percent
        points = f"{float(round(abs(after - before), 1)):g} points"
        told.append(f"{channel.name} goes from {value(before)} to {value(after)}, by {points}")
        if number and case.movement == found[0][1].movement and case.state == found[0][1].state:
            continue
        switch, position = case.movement or ("", "")
        left = case.evaluation.mode or ""
        told[-1] = (
            f"{switch} to {position} leaves {left} for {mode.name}, and {jump_place(ask, case, left)}, {told[-1]}"
        )
    channels = [channel.name for channel, _ in found]
    case = found[0][1]
    edit, words = softening_ramp(ask, mode, *found[0]) if len(found) == 1 else (None, "")
    return ask.finding(
        mode.name,
        "; ".join(told),
        ("modes", mode.name),
        case,
        related=[
            *(Place(line_of(ask, mode, c), "what it gives in this mode") for c in channels),
            *thin_air.places(ask.shift if ask.setup.craft.rotor == "fixed" else None),
        ],
        channels=channels,
        remedy=f"{ask.rule.remedy} {words}".strip(),
        edit=edit,
    )


def softening_ramp(ask: Asking, mode: Mode, channel: Channel, case: Case) -> tuple[Edit | None, str]:
    """A ramp of the motor in the direction of the jump, where no graver rule speaks against it, and what to say of it."""
    if channel.drives != "motor":
        return None, ""
    was, now = outputs_after(case, channel.name) or (Fraction(0), Fraction(0))
    way = "ramp-up" if (now > was) != channel.reversed else "ramp-down"
    soft, line = ask.limit("ramp"), channel.line(mode.name)
    ramped = replace(line, ramp_up=soft) if way == "ramp-up" else replace(line, ramp_down=soft)
    lines = {**channel.lines, mode.name: ramped}
    channels = {**ask.setup.channels, channel.name: replace(channel, lines=lines)}
    against = graver_rule(ask, replace(ask.setup, channels=channels))
    if against:
        return None, f"Here a {way} of {float(soft):g} s would not do: {against}."
    edit = amend.number_edit(("channels", channel.name, "in", mode.name, way), soft)
    return edit, f"Here that is {way} = {float(soft):g} of {channel.name} in {mode.name}."


def jump_place(ask: Asking, case: Case, mode: str | None) -> str:
    """Where the stick is in a case, in words: where a mode hovers."""
    here = [h for h in hover_places(ask, mode) if case.state.sticks[h.stick] == h.at]
    if not here:
        return "with the sticks as shown"
    if not here[0].known:
        return here[0].words
    shift = ask.shift if ask.setup.craft.rotor == "fixed" else None
    return f"{here[0].words}, where {mode or 'it'} hovers{f' ({shift.words})' if shift else ''}"


def line_of(ask: Asking, mode: Mode, channel: str) -> tuple[str, ...]:
    path = ("channels", channel, "in", mode.name)
    return path if path in ask.setup.declared else path[:2]


def rescue_shared(ask: Asking) -> Iterator[Finding]:
    """The movement that calls the rescue can release the hold; or the switches of the rescue's formula have two places
    without rescue or hold, off the ground, that differ in outputs, mode or alarms."""
    if not is_callable_rescue(ask):
        return
    inside = names_of_kind(ask.decider.cone([RESCUE]), "switch")
    switches = [s for s in ask.setup.switches if s in inside]
    held, saved = f.both(HOLD, f.Not(RESCUE)), f.both(RESCUE, f.Not(HOLD))
    movements = ask.decider.movements([RESCUE])
    shown: list[f.Formula] = [*(f.ModeIs(m) for m in ask.setup.modes), *(f.Sounds(a) for a in ask.setup.alarms)]
    rests = [f.OutputCompare(c.name, "<", Fraction(0)) for c in ask.setup.channels.values() if c.described]
    aloft = off_the_ground(ask, HOLD, RESCUE, *shown, *rests)
    calm = f.both(CALM, aloft)
    saved = f.both(saved, aloft)
    released = ask.find_movement(held, saved, "rescue", movements) if ask.setup.intent.hold is not None else None
    if released is not None:
        switch, position = released.movement or ("", "")
        yield ask.finding(
            "rescue",
            f"{switch} to {position} calls the rescue and releases the throttle hold with the same movement: "
            f"{jumping_motors(ask, released)}",
            ("intent", "rescue"),
            released,
            related=[Place(("intent", "hold"), "is released"), Place(("switches", switch), "does both")],
        )
        return
    note_unknown(ask, RESCUE)
    if switches and other_place(ask, both_calm(calm), switches, "rescue") is not None:
        yield from shared_finding(ask, switches, calm, shown)


def both_calm(calm: f.Formula) -> PlacePair:
    """Two places, the rescue not called in either."""
    return PlacePair(lambda one, two: one.all_of([one.truth(calm), two.truth(calm)]), lambda *_: True, (calm,))


def jumping_motors(ask: Asking, case: Case) -> str:
    told = []
    for channel in ask.motors:
        values = outputs_after(case, channel.name)
        if values is not None:
            told.append(f"{channel.name} goes from {both_scales(values[0])} to {both_scales(values[1])}")
    return " and ".join(told) or "what was held may move"


def shared_finding(ask: Asking, switches: list[str], calm: f.Formula, observed: list[f.Formula]) -> Iterator[Finding]:
    """Two places of the rescue's switches, the rescue not called in either, that differ."""
    setup = ask.as_decided()
    channels = [c for c in setup.channels.values() if c.described]

    def apart(one: Frame, two: Frame, share: Fraction = ANY) -> Rails:
        told = [formula_differs(one, two, o) for o in observed]
        told += [output_differs(one, two, c, switches, share) for c in channels]
        return one.all_of([one.truth(calm), two.truth(calm), one.any_of(told)])

    def shown(case: Case, state: State, there: Evaluation) -> bool:
        here = case.evaluation
        both = truth(setup, calm, case.state, here), truth(setup, calm, state, there)
        return both == (True, True) and bool(differences(ask, case, state, there))

    rests = [f.OutputCompare(c.name, "<", Fraction(0)) for c in channels]
    reads = any(reads_switches(c, switches) for c in channels)
    clearer = [partial(apart, share=share) for share in CLEAR if reads]
    pair = PlacePair(apart, shown, (calm, *observed, *rests), clearer)
    found = other_place(ask, pair, switches, "rescue")
    if found is None:
        note_undescribed(ask, "rescue")
        ask.unread("alarms", subject="rescue")
        for alarm in setup.alarms.values():
            if not is_sound_known(alarm):
                ask.missing("alarms", alarm.name, subject="rescue")
        return
    case, state, there = found
    moved = {s: p for s, p in state.positions.items() if case.state.positions[s] != p}
    yield ask.finding(
        "rescue",
        f"{' and '.join(moved)} both calls the rescue and, while it is not called, does something else: "
        f"{differences(ask, case, state, there)}",
        ("intent", "rescue"),
        replace(case, after_evaluation=there),
        related=[Place(("switches", s), "calls the rescue, and more") for s in moved],
        then="then " + ", ".join(f"{s} to {p}" for s, p in moved.items()),
        channels=changed_words(case.evaluation, there)[:1],
    )


def differences(ask: Asking, case: Case, state: State, there: Evaluation) -> str:
    """What two places differ in first, in words; nothing where they do not."""
    here = case.evaluation
    if here.mode != there.mode:
        was, now = (f"mode {e.mode}" if e.mode is not None else "no mode" for e in (here, there))
        return f"{was} is flown in one place of it and {now} in another"
    for name in changed_words(here, there):
        value = both_scales if ask.setup.channels[name].drives == "motor" else percent
        one, two = here.outputs[name], there.outputs[name]
        assert one is not None
        assert two is not None
        if value(one) == value(two):
            return f"it moves {name} by {points_apart(here, there, name)} points from {value(one)}"
        return f"it moves {name} from {value(one)} to {value(two)}"
    for name in ask.setup.alarms:
        sounds = f.Sounds(name)
        heard = truth(ask.setup, sounds, case.state, here), truth(ask.setup, sounds, state, there)
        if None not in heard and heard[0] != heard[1]:
            return f"alarm {name} sounds in one place of it and not in another"
    return ""
