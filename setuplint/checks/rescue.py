"""What a rescue must give, in every state in which it is called: power, lift, at one movement."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction
from math import ceil

from setuplint.book import thin_air
from setuplint.book.asking import Asking, both_scales, percent
from setuplint.checks import amend, claims
from setuplint.checks.aloft import off_the_ground
from setuplint.checks.claims import line_place
from setuplint.checks.corners import line_goes_on, mode_is
from setuplint.checks.rescue_height import height_words
from setuplint.dataclass import dataclass, replace
from setuplint.engine.answers import Case
from setuplint.findings import Edit, Finding, Place
from setuplint.setup import formulas as f
from setuplint.setup.cone import names_of_kind
from setuplint.setup.model import Bound, Channel, Path

CALLED = f.both(f.Predicate("rescue called"), f.Not(f.Predicate("hold called")))
IT_STOPS = """\
This override stops the motor, also where no rescue is called: do not give it power. If it is a throttle hold or a \
motor stop, name what calls it in [intent] hold; else let the rescue's override have the higher priority."""


@dataclass(frozen=True, slots=True)
class Need:
    """What one channel must put out in a rescue: `short` holds where it does not."""

    channel: Channel
    short: f.Formula
    words: str
    bounds: tuple[Fraction | None, Fraction | None]  # the least and the most that is enough
    places: tuple[Place, ...]  # where the need is written


def is_callable_rescue(ask: Asking) -> bool:
    """Whether there is a rescue to judge; one that cannot be read is noted."""
    if ask.unread("intent", "rescue"):
        return False
    return ask.setup.intent.rescue is not None


def motor_need(ask: Asking) -> tuple[Fraction, str, Path] | None:
    """The least output of a motor in a rescue (RULES.md, "Rescue"), in words too, and the key it rests on."""
    governed = ask.setup.craft.governed_above
    if ask.unread("craft", "governed-above"):
        return None
    if governed is not None:
        words = f"the {both_scales(governed)} from which the governor holds the rotor's speed"
        return governed, words, ("craft", "governed-above")
    hover = ask.hover_throttle
    if hover is None:
        ask.no_hover_throttle()
        return None
    over, shift = ask.limit("over-hover"), ask.shift
    need = hover + over
    shown = need if shift is None else Fraction(ceil(need * 10), 10)
    reckoned = f": {shift.words}" if shift else ""
    words = f"the {both_scales(shown)} that stops a fall ({float(over):g} points over the hover{reckoned})"
    return need, words, ("craft", "hover-throttle")


def lift_need(ask: Asking) -> Need | None:
    """What the collective's channel must give; nothing where the stabiliser moves it, or there is none."""
    lift = ask.setup.intent.lift
    if ask.broken("intent", "lift") or (lift is None and ask.setup.craft.rotor == "collective"):
        ask.missing("intent", "lift")
    if not isinstance(lift, Bound):
        return None
    channel = ask.setup.channels[lift.channel]
    return Need(
        channel,
        f.Not(f.Predicate("lifted")),
        f"the {bound_words(lift)} that lifts",
        amend.least_and_most(lift),
        (Place(("intent", "lift")),),
    )


def needs_of(ask: Asking) -> Iterator[Need]:
    """Each channel that must give something, those that cannot be read left out (noted)."""
    motor = motor_need(ask)
    if motor is not None:
        value, words, path = motor
        for channel in ask.judged_motors:
            short = f.OutputCompare(channel.name, "<", value)
            yield Need(channel, short, words, (value, None), need_places(ask, path))
    lift = lift_need(ask)
    if lift is not None:
        yield lift


def need_places(ask: Asking, path: Path) -> tuple[Place, ...]:
    """The key that a motor's need rests on, and the elevations where they make another of it."""
    shift = ask.shift if path == ("craft", "hover-throttle") else None
    return Place(path, "what it needs"), *thin_air.places(shift)


def bound_words(bound: Bound) -> str:
    if bound.value is not None:
        return percent(bound.value)
    parts = [f"{percent(bound.at_least)} or more"] if bound.at_least is not None else []
    if bound.at_most is not None:
        parts.append(f"{percent(bound.at_most)} or less")
    return ", ".join(parts)


def follows_formula(channel: Channel) -> f.Formula:
    """The channel follows some stick or knob."""
    return f.either(*(f.Follows(channel.name, stick) for stick in channel.sticks))


def unread_formula(ask: Asking, channel: Channel) -> f.Formula:
    """What decides the channel, its line or a limit of that, cannot be read: what it follows is not known."""
    modes = [mode_is(ask, m) for m in [*ask.setup.modes, None] if channel.line(m).terms is None]
    overrides = ask.setup.acting_on(channel.name)
    goes_on, lost_line = line_goes_on(ask, channel.name), f.Unknown(ask.setup.undescribed(channel.name))
    lines = [f.both(f.either(*modes), goes_on, lost_line)] if modes else []
    lost = [o.name for o in overrides if not o.numbers]
    return f.either(
        *lines, *(f.both(f.Decides(channel.name, n), f.Unknown(f"overrides.{n} cannot be read")) for n in lost)
    )


def given_words(ask: Asking, case: Case, channel: Channel) -> str:
    value = case.evaluation.outputs[channel.name]
    assert value is not None
    return both_scales(value) if channel.drives == "motor" else percent(value)


def listed_needs(words: Iterable[str], last: str = "and") -> str:
    found = list(words)
    return found[0] if len(found) == 1 else f"{', '.join(found[:-1])} {last} {found[-1]}"


def rescue_incomplete(ask: Asking) -> Iterator[Finding]:
    """Off the ground, rescue called, hold not: a channel gives less than the need while it follows a stick or knob."""
    if not is_callable_rescue(ask):
        return
    needs = list(needs_of(ask))
    called = f.both(CALLED, off_the_ground(ask, CALLED, *(need.short for need in needs)))
    for need in needs:
        channel = need.channel
        case = ask.find(f.both(called, need.short, follows_formula(channel)), channel.name)
        if case is None:
            ask.possible(f.both(called, need.short, unread_formula(ask, channel)), channel.name)
            continue
        read = [s for s in channel.sticks if s in case.matters] or channel.sticks
        mode = f" in mode {case.evaluation.mode}" if case.evaluation.mode is not None else ""
        yield ask.finding(
            channel.name,
            f"the rescue leaves {channel.name} to {listed_needs(read, 'or')}{mode}: it gives "
            f"{given_words(ask, case, channel)}, less than {need.words}",
            Place(line_place(ask, channel.name, case).path, "still follows the stick"),
            case,
            related=[Place(("intent", "rescue"), "what calls the rescue"), *need.places],
            channels=[channel.name],
            estimate=height_words(ask, channel, case.evaluation.outputs[channel.name]),
        )


def rescue_too_weak(ask: Asking) -> Iterator[Finding]:
    """Off the ground, rescue called, hold not: a channel gives less than the need and follows nothing. One finding a decider."""
    if not is_callable_rescue(ask):
        return
    needs = list(needs_of(ask))
    aloft = off_the_ground(ask, CALLED, *(need.short for need in needs))
    for need in needs:
        channel = need.channel
        weak = f.both(CALLED, need.short, f.Not(follows_formula(channel)))
        if not ask.possible(f.both(weak, aloft), channel.name):
            continue
        deciders = [o.name for o in ask.setup.acting_on(channel.name)]
        for override in [*deciders, None]:
            case = ask.find(f.both(weak, aloft, f.Decides(channel.name, override)), override or channel.name)
            if case is not None:
                yield weak_finding(ask, need, override, case, weak)


def weak_finding(ask: Asking, need: Need, override: str | None, case: Case, weak: f.Formula) -> Finding:
    channel = need.channel
    who = f"override {override} puts {channel.name}" if override else f"the rescue leaves {channel.name}"
    return ask.finding(
        override or channel.name,
        f"with the rescue called, {who} at {given_words(ask, case, channel)}, less than {need.words}",
        claims.demand_place(ask, override) if override else line_place(ask, channel.name, case),
        case,
        related=[
            Place(("intent", "rescue"), "what calls the rescue"),
            *need.places,
            *claims.servo_places(ask, case, channel.name),
        ],
        channels=[channel.name],
        remedy=IT_STOPS if guard_formula(ask, override, channel) else "",
        edit=stronger_edit(ask, override, channel, *need.bounds),
        hazard=weak,
        estimate=height_words(ask, channel, case.evaluation.outputs[channel.name]),
    )


def rescue_not_level(ask: Asking) -> Iterator[Finding]:
    """Off the ground, rescue called, hold not, and not levelled."""
    if not is_callable_rescue(ask):
        return
    level, hazard = ask.setup.intent.level, f.both(CALLED, f.Not(f.Predicate("levelled")))
    if level is None:
        ask.missing("intent", "level")
        return
    never = f.both(hazard, off_the_ground(ask, hazard))
    for finding in claims.claim_causes(ask, never, level.channel, [level.channel]):
        yield replace(finding, hazard=hazard)


def guard_formula(ask: Asking, override: str | None, channel: Channel) -> bool:
    """Whether an override stops the motor, and not for the rescue alone: a hold or a stop, whatever [intent] says."""
    if override is None or channel.drives != "motor":
        return False
    stops = claims.stopping(ask, ask.setup.overrides[override])
    return stops and not claims.is_only_when(ask, override, f.Predicate("rescue called"))


def stronger_edit(
    ask: Asking, override: str | None, channel: Channel, least: Fraction | None, most: Fraction | None
) -> Edit | None:
    """A value with which an override gives more, unless it is there to stop the motor."""
    if override is None or guard_formula(ask, override, channel):
        return None
    return amend.override_edit(ask.setup.overrides[override], channel, least, most)


def rescue_two_moves(ask: Asking) -> Iterator[Finding]:
    """A flying state, off the ground, the rescue not called, from which no one movement of a switch calls it."""
    if not is_callable_rescue(ask):
        return
    flying = f.both(f.Predicate("flying"), f.Not(f.Predicate("rescue called")))
    flying = f.both(flying, off_the_ground(ask, flying))
    if not ask.possible(flying, "rescue"):
        return
    case = ask.noted(ask.decider.find_no_movement(flying, f.Predicate("rescue called")), "rescue")
    if case is None:
        return
    rescue, called = ask.setup.intent.rescue, f.Predicate("rescue called")
    assert rescue is not None
    conditions = [atom.condition for atom in f.atoms(rescue) if isinstance(atom, f.Holds)]
    brief = is_timed(ask, called) and not ask.never(called)
    words = "in flight, from the state shown, no one switch calls the rescue"
    if ask.proved_impossible(called):
        words = "nothing keeps the rescue called" if brief else "nothing calls the rescue"
    if brief:
        words += " once the delays that it rests on have run out"
    role = "what the rescue rests on" if brief else "what the rescue waits for"
    yield ask.finding(
        "rescue",
        words,
        Place(("intent", "rescue")),
        case,
        related=dict.fromkeys(Place(("conditions", name, "when"), role) for name in conditions),
    )


def is_timed(ask: Asking, formula: f.Formula) -> bool:
    """Whether it rests on a condition that comes late or lingers."""
    names = names_of_kind(ask.decider.cone([formula]), "condition")
    return any(ask.setup.conditions[name].after or ask.setup.conditions[name].stays for name in names)
