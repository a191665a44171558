"""What a rescue does to power and lift when it comes and when it goes: weaker than before, too strong, a drop, too early."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from functools import cache

from setuplint.book import thin_air
from setuplint.book.asking import Asking, both_scales, percent
from setuplint.budget import OutOfBudget
from setuplint.checks import amend, claims
from setuplint.checks.aloft import off_the_ground
from setuplint.checks.corners import mode_is
from setuplint.checks.levels import HeldLevels, OutputChange, find_change, output_levels, turned_levels
from setuplint.checks.movements import jump_place
from setuplint.checks.moves import (
    MIDDLE,
    HoverPlace,
    MovementStep,
    find_step,
    held_at,
    hover_places,
    outputs_after,
    placed_sticks,
    settled_case,
    shows_both,
)
from setuplint.checks.rescue import CALLED, IT_STOPS, follows_formula, guard_formula, is_callable_rescue, stronger_edit
from setuplint.checks.rescue_height import in_reserve
from setuplint.dataclass import replace
from setuplint.engine.answers import Case
from setuplint.engine.literals import FirstMoment, Frame, Rails
from setuplint.engine.search import Movement
from setuplint.findings import Edit, Finding, Place
from setuplint.plain.channel_values import output
from setuplint.plain.evaluate import Evaluation, truth
from setuplint.plain.simulate import simulate
from setuplint.setup import formulas as f
from setuplint.setup.model import Bound, Channel

HOLD = f.Predicate("hold called")
RESCUE = f.Predicate("rescue called")
STOP = f.Predicate("stop called")
FLYING = f.Predicate("flying")
LIFTED = f.Predicate("lifted")
RELEASED = f.both(f.Not(RESCUE), f.Not(HOLD))
WHO = Place(("intent", "rescue"), "what calls the rescue")


def deciders(ask: Asking, channel: Channel) -> list[str | None]:
    return [*(o.name for o in ask.setup.acting_on(channel.name)), None]


def judged_motors(ask: Asking) -> Iterator[Channel]:
    """The described motors; one that cannot be read is noted."""
    for channel in ask.judged_motors:
        if channel.described:
            yield channel
        else:
            ask.not_judged(ask.setup.undescribed(channel.name))


# -- weaker than before


def rescue_lowers_power(ask: Asking) -> Iterator[Finding]:
    """The movement that calls the rescue off the ground lowers the motor, the stick in the middle. One finding a decider."""
    if not is_callable_rescue(ask):
        return
    aloft = off_the_ground(ask, FLYING, RESCUE)
    for channel in judged_motors(ask):
        for override in deciders(ask, channel):
            case = lowering_case(ask, channel, override, aloft)
            if case is not None:
                yield lowered_finding(ask, channel, override, case)


def lowering_case(ask: Asking, channel: Channel, override: str | None, aloft: f.Formula) -> Case | None:
    held = placed_sticks(ask, channel, "throttle", MIDDLE)
    before = f.both(FLYING, f.Not(RESCUE), aloft, held_at(held))
    after = f.both(CALLED, f.Decides(channel.name, override))
    subject, modes = override or channel.name, [*ask.setup.modes, None]
    if ask.proved_impossible(after):
        return None
    change = OutputChange(channel, down=ask.limit("drop"))
    try:
        gave = output_levels(ask, channel, modes, held, f.both(FLYING, f.Not(RESCUE)))
        value = ask.setup.overrides[override].value if override is not None else None
        gives = (
            output_levels(ask, channel, modes, held, after) if value is None else HeldLevels((output(channel, value),))
        )
    except OutOfBudget as end:
        ask.undecided.append((subject, str(end)))
        return None
    if not change.open(gave, gives):
        return None

    def step(change: OutputChange) -> MovementStep:
        def rails(frame: Frame, moved: Frame) -> Rails:
            return frame.all_of(
                [frame.truth(before), moved.truth(after), change.rails(frame, moved, gave, gives, held)]
            )

        return MovementStep(
            rails, lambda case: shows_both(ask, before, after, case) and change.shown(case), [before, after]
        )

    return find_change(ask, change, step, ask.decider.possible_movements([RESCUE]), subject, turned_levels(gave, gives))


def lowered_finding(ask: Asking, channel: Channel, override: str | None, case: Case) -> Finding:
    was, now = outputs_after(case, channel.name) or (MIDDLE, MIDDLE)
    switch, position = case.movement or ("", "")
    there = settled_case(case)
    mode = f" in mode {case.evaluation.mode}" if case.evaluation.mode is not None else ""
    line = claims.line_place(ask, channel.name, there)
    return ask.finding(
        override or channel.name,
        f"{switch} to {position}{mode}, stick in the middle, takes power away: {channel.name} goes from "
        f"{both_scales(was)} down to the {both_scales(now)} that {claims.decider_words(override)} gives it, by "
        f"{point_words(was - now)} points",
        claims.demand_place(ask, override) if override else line,
        case,
        related=[WHO, Place(claims.line_place(ask, channel.name, case).path, "what it gave before")],
        channels=[channel.name],
        remedy=IT_STOPS if guard_formula(ask, override, channel) else "",
        edit=stronger_edit(ask, override, channel, was, None),
    )


# -- too strong


def rescue_too_strong(ask: Asking) -> Iterator[Finding]:
    """Ungoverned: the rescue puts the motor above the limit, and it follows nothing. One finding a decider."""
    if not is_callable_rescue(ask) or ask.setup.craft.governed_above is not None:
        return
    most = ask.limit("most")
    for channel in judged_motors(ask):
        above = f.OutputCompare(channel.name, ">", most)
        strong = f.both(CALLED, above, f.Not(follows_formula(channel)))
        if not ask.possible(strong, channel.name):
            continue
        for override in deciders(ask, channel):
            for mode in [None] if override else [*ask.setup.modes, None]:
                case = putting_cases(ask, channel, override, mode, above, strong)
                if case is not None:
                    yield too_strong_finding(ask, channel, override, case)
                    break


def putting_cases(
    ask: Asking, channel: Channel, override: str | None, mode: str | None, above: f.Formula, strong: f.Formula
) -> Case | None:
    """A case in which that decides, because of the rescue: it puts the motor there after a movement only, or never decides
    without it."""
    decides: f.Formula = f.Decides(channel.name, override)
    if override is None:
        decides = f.both(decides, mode_is(ask, mode))
    case = ask.find(f.both(strong, decides), override or channel.name)
    if case is None or ask.proved_impossible(f.both(decides, f.Not(RESCUE))):
        return case
    before, after = f.both(f.Not(RESCUE), f.Not(f.both(decides, above))), f.both(strong, decides)
    return step_between(ask, before, after, ask.decider.possible_movements([RESCUE]), override or channel.name)


def too_strong_finding(ask: Asking, channel: Channel, override: str | None, case: Case) -> Finding:
    there = settled_case(case) if case.after is not None else case
    value = there.evaluation.outputs[channel.name]
    assert value is not None
    most = ask.limit("most")
    mode = f" in mode {there.evaluation.mode}" if there.evaluation.mode is not None and not override else ""
    edit = None
    if override is not None and output(channel, most) == most:
        key = amend.demand_key(ask.setup.overrides[override], channel, upwards=False)
        edit = None if key is None else Edit(("overrides", override, key), f"{float(most):g}")
    speeds = ", and the rotor may run too fast" if ask.setup.craft.rotor == "collective" else ""
    return ask.finding(
        override or channel.name,
        f"with the rescue called, {claims.decider_words(override)}{mode} puts {channel.name} at {both_scales(value)}, above "
        f"{both_scales(most)}, wherever the stick is: nothing is left above it{speeds}",
        claims.demand_place(ask, override) if override else claims.line_place(ask, channel.name, there),
        case,
        related=[WHO],
        channels=[channel.name],
        edit=edit,
        hazard=f.both(CALLED, f.OutputCompare(channel.name, ">", most), f.Not(follows_formula(channel))),
        estimate=in_reserve(ask, channel, value, most),
    )


# -- the drop at its end


def rescue_release_drop(ask: Asking) -> Iterator[Finding]:
    """Letting go with the stick at its hover point drops the motor below the hover. One finding a mode and motor."""
    craft = ask.setup.craft
    if not is_callable_rescue(ask) or craft.governed_above is not None:
        return
    hover = ask.hover_throttle
    if hover is None:
        ask.no_hover_throttle()
        return
    least = hover - ask.limit("drop")
    landed = [m.name for m in ask.setup.modes.values() if not m.idle_up]
    for channel in judged_motors(ask):
        for mode in [*landed, None]:
            case = dropping_case(ask, channel, mode, least)
            if case is not None:
                yield dropped_finding(ask, channel, mode, case)


def dropping_case(ask: Asking, channel: Channel, mode: str | None, least: Fraction) -> Case | None:
    """A movement that ends the rescue in a mode, the stick where that mode hovers, after which a motor is below `least`,
    and was not before; nothing else that is called stops it."""
    before = f.both(CALLED, f.OutputCompare(channel.name, ">=", least))
    after = f.both(RELEASED, f.Not(STOP), mode_is(ask, mode), f.OutputCompare(channel.name, "<", least))

    @cache
    def points() -> list[HoverPlace]:
        return hover_places(ask, mode)

    def rails(frame: Frame, moved: Frame) -> Rails:
        here = [frame.all_of([hover.here(moved), frame.truth(at(hover))]) for hover in points()]
        return frame.all_of([frame.truth(before), moved.truth(after), frame.any_of(here)])

    def at(hover: HoverPlace) -> f.Formula:
        return held_at(placed_sticks(ask, channel, hover.stick, hover.at))

    drives = "motor" if ask.setup.craft.rotor == "fixed" else "collective"
    rests = [f.OutputCompare(c.name, "<", least) for c in ask.setup.driving(drives)]
    step = MovementStep(rails, lambda case: shows_both(ask, before, after, case),
                [before, after, f.Compare("throttle", ">=", MIDDLE), *rests])  # fmt: skip
    return find_step(ask, step, ask.decider.possible_movements([RESCUE]), channel.name if mode is None else mode)


def dropped_finding(ask: Asking, channel: Channel, mode: str | None, case: Case) -> Finding:
    was, now = outputs_after(case, channel.name) or (MIDDLE, MIDDLE)
    switch, position = case.movement or ("", "")
    there = settled_case(case)
    override = there.evaluation.deciders[channel.name]
    hover, shift = ask.hover_throttle, ask.shift
    assert hover is not None
    told = f" ({shift.words})" if shift and ask.setup.craft.rotor != "fixed" else ""
    own = channel.name if mode is None else mode
    subject = own if len(ask.motors) == 1 or mode is None else f"{mode} {channel.name}"
    return ask.finding(
        subject,
        f"letting the rescue go by {switch} to {position}, {jump_place(ask, case, mode)}, drops {channel.name} from "
        f"{both_scales(was)} to {both_scales(now)}, {point_words(hover - now)} points below the hover{told}",
        claims.cause_place(ask, channel.name, override, there),
        case,
        related=[WHO, Place(("craft", "hover-throttle"), "what it hovers at"), *thin_air.places(shift)],
        channels=[channel.name],
    )


# -- lift before the roll


def lift_before_level(ask: Asking) -> Iterator[Finding]:
    """The collective is lifted at once by a channel, out of an aerobatic mode. One finding a decider."""
    lift, modes = ask.setup.intent.lift, [m.name for m in ask.setup.modes.values() if m.aerobatic]
    if not modes or not is_callable_rescue(ask) or ask.setup.craft.rotor != "collective":
        return
    if lift is None:
        ask.missing("intent", "lift")
    if not isinstance(lift, Bound):
        return
    channel = ask.setup.channels[lift.channel]
    for override in deciders(ask, channel):
        found = next(
            ((mode, case) for mode in modes if (case := lifting_overrides(ask, channel, override, mode))), None
        )
        if found is None:
            continue
        mode, case = found
        was, now = outputs_after(case, channel.name) or (MIDDLE, MIDDLE)
        switch, position = case.movement or ("", "")
        yield ask.finding(
            override or channel.name,
            f"{switch} to {position} in aerobatic mode {mode} moves {channel.name} from {percent(was)} to {percent(now)} "
            "at once: an inverted craft is pushed down until it has rolled level",
            Place(("overrides", override, "when"))
            if override
            else claims.line_place(ask, channel.name, settled_case(case)),
            case,
            related=[Place(("intent", "lift"), "what lifts"), Place(("modes", mode), "flown inverted too")],
            channels=[channel.name],
            status="advice",
        )


def lifting_overrides(ask: Asking, channel: Channel, override: str | None, mode: str) -> Case | None:
    """A movement out of a mode that calls the rescue and lifts, by this decider, in its very first moment: that is what
    the case shows after it."""
    setup = ask.as_decided()
    quick = [mode_is(ask, m) for m in [*setup.modes, None] if not is_ramped(ask, channel, m)]
    before = f.both(f.ModeIs(mode), RELEASED, f.Not(LIFTED))
    after = f.both(CALLED, LIFTED, f.Decides(channel.name, override), f.either(*quick))

    def shown(case: Case) -> bool:
        assert case.after is not None
        was = truth(setup, before, case.state, case.evaluation)
        return was is True and truth(setup, after, case.after, at_first(ask, case)) is True

    step = MovementStep(
        lambda frame, moved: frame.all_of([frame.truth(before), FirstMoment(frame, moved).truth(after)]),
        shown,
        [before, after],
    )
    case = find_step(ask, step, ask.decider.possible_movements([RESCUE]), override or channel.name)
    return None if case is None else replace(case, after_evaluation=at_first(ask, case))


def is_ramped(ask: Asking, channel: Channel, mode: str | None) -> bool:
    """In a mode the channel does not lift at once."""
    lift, line = ask.setup.intent.lift, channel.line(mode)
    upwards = not (isinstance(lift, Bound) and lift.at_least is None and lift.at_most is not None)
    return (line.ramp_up if upwards != channel.reversed else line.ramp_down) > 0


def at_first(ask: Asking, case: Case) -> Evaluation:
    """The same by the timed simulator."""
    assert case.after is not None
    moments = simulate(ask.as_decided(), case.state, case.evaluation.memory, [(Fraction(0), case.after)], Fraction(0))
    return list(moments)[-1].evaluation


# -- what they share


def step_between(
    ask: Asking, before: f.Formula, after: f.Formula, movements: Sequence[Movement], subject: str
) -> Case | None:
    """A movement out of a state with the one formula into one with the other."""
    step = MovementStep(
        lambda frame, moved: frame.all_of([frame.truth(before), moved.truth(after)]),
        lambda case: shows_both(ask, before, after, case),
        [before, after],
    )
    return find_step(ask, step, movements, subject)


def point_words(number: Fraction) -> str:
    return f"{float(round(number, 1)):g}"
