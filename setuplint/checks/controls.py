"""Controls that go the wrong way, go nowhere, or answer to another's stick (RULES.md, "Controls and channels")."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from functools import partial
from math import prod

from setuplint.book.asking import Asking, percent, plain
from setuplint.budget import OutOfBudget
from setuplint.checks.corners import guard_formulas, mode_is
from setuplint.checks.curve_shapes import FULL, key_path
from setuplint.checks.places import MOST_PLACES, Moved, placements
from setuplint.checks.travels import (
    AN_OVERRIDE,
    FREE,
    OWN,
    STEERED,
    OwnTravel,
    Spot,
    case_there,
    controls,
    flying_modes,
    half_findings,
    in_flight,
    is_half_dead,
    is_still,
    own_stick,
    own_travels,
    still_line,
    surely_follows,
)
from setuplint.curves.flown import Flown
from setuplint.engine.answers import Case
from setuplint.findings import Edit, Finding, Place
from setuplint.plain.evaluate import truth
from setuplint.plain.state import State
from setuplint.setup import formulas as f
from setuplint.setup.cone import names_of_kind
from setuplint.setup.model import BySwitch, Channel, Path, Term

SEE_WHICH = (
    "See on the craft which of the two ways is right, and give the rate or curve of the other that sign. A servo that is mounted "
    "the other way is what `reversed` is for: it turns the channel round in all modes at once."
)


# -- the wrong way


def control_reversed(ask: Asking) -> Iterator[Finding]:
    """A control goes one way with its own stick in one state, and the other way in another."""
    yield from ask.each(reversed_channel, controls(ask))


def reversed_channel(ask: Asking, channel: Channel) -> Iterator[Finding]:
    try:
        signs = [travel.direction for travel in own_travels(ask, channel) for _ in travel.case.guards]
    except OutOfBudget as end:
        ask.undecided.append((channel.name, str(end)))
        return
    if len(set(signs)) < 2 and all(line.terms is not None for line in channel.every_line):
        return
    ways = {sign: in_flight(ask, direction(ask, channel, sign)) for sign in (-1, 1)}
    found = [ask.possible(way, channel.name) for way in ways.values()]
    if all(found):
        by_positions = sum(sign * len(positions_of(ask, channel, way)) for sign, way in ways.items())
        odd = odd_direction(by_positions, signs)
        agreed = sum(signs) != 0 and by_positions * sum(signs) >= 0
        yield reversed_finding(ask, channel, ways[-odd], ways[odd], agreed)


def direction(ask: Asking, channel: Channel, sign: int) -> f.Formula:
    return f.Rises(channel.name, OWN[channel.drives], sign * ask.limit("alike", "control-reversed"))


def positions_of(ask: Asking, channel: Channel, way: f.Formula) -> list[Moved]:
    """The positions, of the switches that its line and the modes hang on, in which it can go a way; none where they are many."""
    inside = names_of_kind(ask.decider.cone([f.Follows(channel.name, s) for s in channel.sticks]), "switch")
    switches = [s for s in ask.setup.switches if s in inside]
    if prod(len(ask.setup.switches[s].positions) for s in switches) > MOST_PLACES:
        return []
    return [place for place in placements(ask.setup, switches)
            if ask.may_be(ask.decider.find(f.both(way, *(f.SwitchIs(s, at) for s, at in place.items()))))]  # fmt: skip


def odd_direction(by_positions: int, signs: list[int]) -> int:
    """The direction that fewer positions of switches have, in the modes that are flown; in a tie not the first's. With too many
    positions to ask about each those that its lines hang on count."""
    total = by_positions or sum(signs)
    return -1 if total > 0 or (total == 0 and signs[:1] == [1]) else 1


def reversed_finding(ask: Asking, channel: Channel, regular: f.Formula, slipped: f.Formula, agreed: bool) -> Finding:
    """With the movement that turns it round, where there is one; where it is not clear which is the slip no edit is offered."""
    stick = OWN[channel.drives]
    case, there, here = turned_case(ask, regular, slipped, channel.name)
    path, edit = slipped_key(ask, channel, here, there)
    usual, _ = slipped_key(ask, channel, there, here)
    where, elsewhere = place_words(channel, here, there)
    return ask.finding(
        channel.name,
        f"{channel.name} goes the other way {where}: with the {stick} stick from one end to the other "
        f"it goes {ends_words(ask, channel, here)} there, and {ends_words(ask, channel, there)} {elsewhere}",
        path,
        case,
        related=[] if usual == path else [Place(usual, f"the other way round {elsewhere}")],
        outputs={},
        remedy="" if agreed else SEE_WHICH,
        edit=edit if agreed else None,
    )


def turned_case(ask: Asking, before: f.Formula, after: f.Formula, subject: str) -> tuple[Case, Spot, Spot]:
    """A case of one movement from a state to the other, where there is one, else of the second; and both states. Each is known
    to be found."""
    answer = ask.decider.find_movement(before, after)
    if answer.found and answer.case is not None:
        case = answer.case
        assert case.after is not None
        assert case.after_evaluation is not None
        return case, (case.state, case.evaluation), (case.after, case.after_evaluation)
    found = ask.find(before, subject), ask.find(after, subject)
    assert found[0] is not None
    assert found[1] is not None
    return found[1], (found[0].state, found[0].evaluation), (found[1].state, found[1].evaluation)


def travel_there(ask: Asking, channel: Channel, spot: Spot) -> OwnTravel:
    """The channel as its own stick flies it in a state in which its line goes on, the other sticks where they are."""
    state, evaluation = spot
    decider, case = evaluation.deciders[channel.name], case_there(ask, channel, spot)
    shapes = dict(case.shapes)
    stick = own_stick(channel, shapes) or OWN[channel.drives]
    own = shapes.pop(stick)
    others = sum((shape.value(state.sticks[name]) for name, shape in shapes.items()), case.constant)
    limit = ask.setup.overrides[decider] if decider else None
    return OwnTravel(evaluation.mode, case, Flown(channel, others, own), stick, limit)


def ends_words(ask: Asking, channel: Channel, spot: Spot) -> str:
    travel = travel_there(ask, channel, spot)
    low, high = (percent(round(travel.output(x), 1)) for x in (-FULL, FULL))
    return f"from {low} to {high}"


def place_words(channel: Channel, here: Spot, there: Spot) -> tuple[str, str]:
    """Where the line is flown in two states: its mode, and the switches that its rates and expos hang on; where these are the
    same in both, what else stands differently."""
    words, one, two = ("", ""), here[0], there[0]
    moved = [s for s, at in one.positions.items() if two.positions[s] != at]
    turned = [name for name, x in one.sticks.items() if two.sticks[name] != x]
    for besides in ([], moved, turned):
        words = spot_words(channel, here, besides), spot_words(channel, there, besides)
        if words[0] != words[1]:
            break
    return words


def spot_words(channel: Channel, spot: Spot, besides: list[str]) -> str:
    state, evaluation = spot
    terms = channel.line(evaluation.mode).terms or ()
    hung = [by.switch for t in terms if t.kind == "stick" for by in (t.rate, t.expo) if isinstance(by, BySwitch)]
    stands = [f"{name} {state.positions[name]}" if name in state.positions else f"{name} at {percent(state.sticks[name])}"
              for name in dict.fromkeys([*hung, *besides])]  # fmt: skip
    mode = [f"in mode {evaluation.mode}"] if evaluation.mode else []
    return " ".join([*mode, *(["with " + " and ".join(stands)] if stands else [])]) or "there"


def own_term(channel: Channel, mode: str | None) -> tuple[int, Term]:
    terms = channel.line(mode).terms or ()
    return next((n, t) for n, t in enumerate(terms) if t.kind == "stick" and t.source == OWN[channel.drives])


def slipped_key(ask: Asking, channel: Channel, here: Spot, there: Spot) -> tuple[Path, Edit | None]:
    """The key that turns it round: the rate, where its sign is another; else the curve."""
    mode = here[1].mode
    (place, odd), (_, usual) = (own_term(channel, spot[1].mode) for spot in (here, there))
    rates = [amount_there(term.rate, spot[0]) for term, spot in ((odd, here), (usual, there))]
    flown = ask.setup.modes[mode] if mode else None
    if rates[0] * rates[1] >= 0:
        return key_path(ask, channel, flown, place, "curve" if odd.curve or usual.curve else "from"), None
    path = key_path(ask, channel, flown, place, "rate")
    written = path in ask.setup.declared
    if isinstance(odd.rate, BySwitch):
        path = (*path, "at", here[0].positions[odd.rate.switch])
    return path, Edit(path, f"{plain(-rates[0]):g}") if written else None


def amount_there(amount: Fraction | BySwitch, state: State) -> Fraction:
    return amount.at[state.positions[amount.switch]] if isinstance(amount, BySwitch) else amount


# -- nowhere


def control_dead(ask: Asking) -> Iterator[Finding]:
    """In some state no stick or knob moves a control, though in another one does; or half of its own stick's travel does not."""
    yield from ask.each(dead_channel, controls(ask))


def dead_channel(ask: Asking, channel: Channel) -> Iterator[Finding]:
    told: set[Path] = set()
    half = half_findings(ask, channel, partial(is_half_dead, ask), "half of its travel is dead: ")
    for finding in (*still_findings(ask, channel), *half):
        if finding.primary.path not in told:
            told.add(finding.primary.path)
            yield finding


def still_findings(ask: Asking, channel: Channel) -> Iterator[Finding]:
    """One for each override that freezes it, and for each key that leaves it dead in a mode."""
    name = channel.name
    sticks = channel.sticks
    follows = f.either(*(f.Follows(name, stick) for stick in sticks))
    ways = (direction(ask, channel, sign) for sign in (1, -1))
    dead, moving = in_flight(ask, f.Not(follows), *map(f.Not, ways)), in_flight(ask, follows)
    if all(surely_follows(ask, channel, mode, OWN[channel.drives]) for mode in flying_modes(ask)):
        return
    if not sticks or not ask.possible(dead, name) or not ask.possible(moving, name):
        return
    for decider in dead_deciders(ask, channel):
        here = f.both(decider, dead)
        if ask.possible(here, name):
            yield still_finding(ask, channel, *turned_case(ask, moving, here, name), sticks)


def dead_deciders(ask: Asking, channel: Channel) -> Iterator[f.Formula]:
    """Each override that can hold it, and the line of each mode: also where an override limits it, if it stands still without."""
    mine = ask.setup.acting_on(channel.name)
    bounds = f.either(*(f.Decides(channel.name, o.name) for o in mine if o.limits))
    alone: dict[str | None, f.Formula] = {mode: f.Decides(channel.name, None) for mode in flying_modes(ask)}
    still: list[f.Formula] = []
    for mode in alone if any(o.limits for o in mine) else ():
        cases = [case for case in ask.decider.lines(channel, mode) or () if is_still(channel, case)]
        guards = f.either(*(f.both(*guard_formulas(guards)) for case in cases for guards in case.guards))
        still.append(f.both(mode_is(ask, mode), guards))
        alone[mode] = f.either(alone[mode], f.both(bounds, guards))
    for override in mine:
        decides = f.Decides(channel.name, override.name)
        yield f.both(decides, f.Not(f.either(*still))) if override.limits else decides
    yield from (f.both(decides, mode_is(ask, mode)) for mode, decides in alone.items())


def still_finding(ask: Asking, channel: Channel, case: Case, there: Spot, here: Spot, sticks: list[str]) -> Finding:
    name, override = channel.name, here[1].deciders[channel.name]
    override = None if still_line(ask, channel, override, here) else override
    stick = next((s for s in sticks if truth(ask.setup, f.Follows(name, s), *there)), sticks[0])
    value = here[1].outputs[name]
    stays = "stays where it is" if value is None else f"stays at {percent(value)}"
    reason, path = dead_key(ask, channel, here, override)
    where, elsewhere = place_words(channel, here, there)
    return ask.finding(
        subject_of(ask, override) if override else f"{name} {here[1].mode}" if "in" in path[2:3] else name,
        f"{name} ({channel.drives}) {stays} wherever sticks and knobs are, {where}: {reason}; "
        f"{elsewhere} it follows {stick}",
        path,
        case,
        outputs={} if value is None else {name: value},
    )


def subject_of(ask: Asking, override: str) -> str:
    """An override by its name, unless a channel, which is another cause, has the same."""
    return f"{AN_OVERRIDE}{override}" if override in ask.setup.channels else override


def dead_key(ask: Asking, channel: Channel, here: Spot, override: str | None) -> tuple[str, Path]:
    """Why nothing moves it there, as far as its own stick's term tells, and the key to change."""
    if override is not None:
        return f"override {override} decides it", ("overrides", override)
    mode = ask.setup.modes[here[1].mode] if here[1].mode else None
    terms = channel.line(here[1].mode).terms or ()
    stick = OWN[channel.drives]
    place, term = next(((n, t) for n, t in enumerate(terms) if t.source == stick), (0, None))
    if term is None:
        return "its line there names no stick", key_path(ask, channel, mode, 0, "from")
    path = key_path(ask, channel, mode, place, "rate")
    if not amount_there(term.rate, here[0]):
        return "its rate is 0 %", (*path, "at", here[0].positions[term.rate.switch]) if isinstance(
            term.rate, BySwitch
        ) else path
    if term.curve is not None:
        return f"curve {term.curve} is flat there", key_path(ask, channel, mode, place, "curve")
    return "the sum is beyond its limits", path


# -- another's stick


def control_crossed(ask: Asking) -> Iterator[Finding]:
    """In a mode an aileron, elevator or rudder follows another of their sticks, and its own in no state."""
    found = controls(ask, *STEERED)
    driven = {channel.drives for channel in found}
    for channel in found:
        others = [stick for stick in STEERED if stick != OWN[channel.drives] and stick in driven]
        told: set[Path] = set()
        for mode in flying_modes(ask) if others else ():
            terms = channel.line(mode).terms or ()
            for place, term in enumerate(terms):
                path = key_path(ask, channel, ask.setup.modes[mode] if mode else None, place, "from")
                if term.source in others and path not in told and not follows_own(ask, channel, mode):
                    told.add(path)
                    yield from crossed_finding(ask, channel, mode, str(term.source), path)


def follows_own(ask: Asking, channel: Channel, mode: str | None) -> bool:
    """In some state of a mode; where that is not known it is noted, and taken so."""
    if surely_follows(ask, channel, mode, OWN[channel.drives]):
        return True
    own = f.both(FREE, mode_is(ask, mode), f.Follows(channel.name, OWN[channel.drives]))
    return ask.possible(own, channel.name) or not ask.proved_impossible(own)


def crossed_finding(ask: Asking, channel: Channel, mode: str | None, stick: str, path: Path) -> Iterator[Finding]:
    case = ask.find(f.both(FREE, mode_is(ask, mode), f.Follows(channel.name, stick)), channel.name)
    if case is not None:
        own = OWN[channel.drives]
        other = next(c.name for c in controls(ask, stick))
        yield ask.finding(
            channel.name,
            f"{channel.name} ({channel.drives}) follows the {stick} stick{f' in mode {mode}' if mode else ''}, and the {own} "
            f"stick nowhere in it; {stick} is {other}'s",
            path,
            case,
            outputs={},
            edit=Edit(path, f'"{own}"') if path in ask.setup.declared else None,
        )
