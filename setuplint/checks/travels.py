"""How far and how fast a control goes with its own stick, from one end to the other."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from fractions import Fraction

from setuplint.book.asking import Asking, percent
from setuplint.budget import OutOfBudget
from setuplint.checks.corners import Looks, guarded_case, mode_is
from setuplint.checks.curve_shapes import FULL, key_path
from setuplint.checks.moves import MIDDLE, held_at
from setuplint.checks.spans import flown_spans, is_flown_at
from setuplint.curves.flown import Flown
from setuplint.curves.lines import YES, LineCase
from setuplint.curves.servo import moving_demands, output, unrounded
from setuplint.curves.sums import limits
from setuplint.dataclass import dataclass, replace
from setuplint.engine.answers import Case
from setuplint.findings import Finding
from setuplint.hints import Any
from setuplint.plain.evaluate import Evaluation, truth
from setuplint.plain.state import State
from setuplint.setup import formulas as f
from setuplint.setup.model import Channel, Override, Path, pupil_name
from setuplint.setup.smoothings import possible

OWN = {"aileron": "aileron", "elevator": "elevator", "rudder": "rudder", "collective": "throttle"}  # the stick of each
MOST_CASES = 1000  # of one line, each another sum
STEERED = ("aileron", "elevator", "rudder")
Spot = tuple[State, Evaluation]  # a state, and what the setup does there
AN_OVERRIDE = "override "  # before the name of one that freezes a control, where a channel is called so too
FREE = f.both(f.Not(f.Predicate("hold called")), f.Not(f.Predicate("rescue called")))


def controls(ask: Asking, *drives: str) -> list[Channel]:
    """The described channels that drive one of these, or any control; what cannot be read is noted."""
    found = ask.driving(*(drives or OWN))
    for channel in found:
        ask.unread_line(channel, channel.name)
    return [c for c in found if c.described]


def in_flight(ask: Asking, *formulas: f.Formula) -> f.Formula:
    """These hold, neither hold nor rescue is called, and a mode is flown where the file has any."""
    ask.unread("modes")
    modes = [f.ModeIs(mode) for mode in ask.setup.modes]
    return f.both(FREE, *([f.either(*modes)] if modes else []), *formulas)


def flying_modes(ask: Asking) -> list[str | None]:
    """The modes that some state flies with neither hold nor rescue called; None where the file has none. Where it is not known
    of a mode that is noted."""
    ask.unread("modes")
    found: list[str | None] = list(ask.setup.modes) or [None]
    return [mode for mode in found if not mode or ask.is_flown(mode, FREE)]


def surely_moves(ask: Asking, channel: Channel, mode: str | None, stick: str) -> bool:
    """It moves the output in every case of its line, wherever the other sticks are, and no formula that decides compares it: no
    question."""
    try:
        cases = ask.decider.lines(channel, mode)
    except OutOfBudget:
        return False
    if not cases or ask.decider.thresholds(channel.name, stick):
        return False
    return all(moves_beside(channel, case, stick) for case in cases)


def moves_beside(channel: Channel, case: LineCase, stick: str) -> bool:
    """Whether a stick moves the output in a case of a line, wherever the other sticks of the sum are."""
    shapes = dict(case.shapes)
    if stick not in shapes:
        return False
    (_, low), (_, high) = shapes.pop(stick).extremes(-FULL, FULL)
    if not shapes:
        return output(channel, case.constant + low) != output(channel, case.constant + high)
    least, greatest = limits(tuple(shapes.items()), dict.fromkeys(shapes, (-FULL, FULL)))
    bottom, top = moving_demands(channel) or (FULL, -FULL)
    under, over = bottom < case.constant + least + high, case.constant + greatest + low < top
    return low < high and bottom < top and under and over


def surely_follows(ask: Asking, channel: Channel, mode: str | None, stick: str) -> bool:
    """Whether that is so in every state of a mode, as no override acts on the channel: no question."""
    return not ask.setup.acting_on(channel.name) and surely_moves(ask, channel, mode, stick)


@dataclass(frozen=True, slots=True)
class OwnTravel:
    """A case of a control's line in a mode, as its own stick flies it with all other sticks and knobs in the middle, and an
    override perhaps limits it."""

    mode: str | None
    case: LineCase
    flown: Flown
    stick: str
    limit: Override | None = None

    def demand(self, x: Fraction) -> Fraction:
        demand = self.flown.constant + self.flown.shape.value(x)
        return demand if self.limit is None else self.limit.limited(demand)

    def output(self, x: Fraction) -> Fraction:
        return unrounded(self.flown.channel, self.demand(x))

    @property
    def direction(self) -> int:
        """The sign of its movement while no limit holds it."""
        rise = self.flown.shape.value(FULL) - self.flown.shape.value(-FULL)
        return ((rise > 0) - (rise < 0)) * (-1 if self.flown.channel.reversed else 1)

    @property
    def halves(self) -> tuple[Fraction, Fraction]:
        """By how much it moves from the middle to the bottom of its stick, and to the top."""
        low, middle, high = (self.output(x) for x in (-FULL, MIDDLE, FULL))
        return abs(low - middle), abs(high - middle)

    @property
    def extents(self) -> tuple[Fraction, Fraction]:
        """How far apart its outputs are over the lower half of its stick, and over the upper."""
        low, high = (
            [self.output(x) for x, _ in self.flown.shape.extremes(*half)] for half in ((-FULL, MIDDLE), (MIDDLE, FULL))
        )
        return abs(low[1] - low[0]), abs(high[1] - high[0])


def own_stick(channel: Channel, read: Iterable[str]) -> str | None:
    """Its own stick among those that a case of its line reads, or the pupil's place of it."""
    stick = OWN[channel.drives]
    return next((name for name in read if name in (stick, pupil_name(stick))), None)


def own_travels(ask: Asking, channel: Channel) -> Iterator[OwnTravel]:
    """Every case of its lines in which its own stick moves the sum, in the modes that are flown. OutOfBudget where there are
    too many."""
    limits = [None, *(o for o in ask.setup.acting_on(channel.name) if o.limits)]
    for mode in flying_modes(ask):
        cases = ask.decider.lines(channel, mode) or ()
        if len(cases) > MOST_CASES:
            raise OutOfBudget(f"its line in a mode hangs on more than {MOST_CASES} places of switches")
        for case in cases:
            shapes = dict(case.shapes)
            read = own_stick(channel, shapes)
            if read is not None:
                own = shapes.pop(read)
                others = sum((shape.value(MIDDLE) for shape in shapes.values()), case.constant)
                yield from (OwnTravel(mode, case, Flown(channel, others, own), read, limit) for limit in limits)


def case_there(ask: Asking, channel: Channel, spot: Spot) -> LineCase:
    """The case of its line that the channel stands in, whatever decides it."""
    for case in ask.decider.lines(channel, spot[1].mode) or ():
        if any(all(stands_so(ask, spot, *guard) for guard in guards) for guards in case.guards):
            return case
    raise AssertionError("the cases of a line are exhaustive")


def stands_so(ask: Asking, spot: Spot, kind: str, name: Any, choice: str) -> bool:
    state = spot[0]
    if kind == "switch":
        return state.positions[name] == choice
    if kind == "lent":
        return truth(ask.setup, name, *spot) is (choice == YES)
    return state.smoothing.get(name, possible(ask.setup.curves[name].smoothing)[0]) == choice


def is_still(channel: Channel, case: LineCase) -> bool:
    """Whether no stick moves the channel in this case of its line, without an override."""
    least, greatest = limits(case.shapes, dict.fromkeys(dict(case.shapes), (-FULL, FULL)))
    return output(channel, case.constant + least) == output(channel, case.constant + greatest)


def still_line(ask: Asking, channel: Channel, override: str | None, spot: Spot) -> bool:
    """Whether a channel that an override limits would stand still there without it."""
    limits_it = override is not None and ask.setup.overrides[override].limits
    return limits_it and is_still(channel, case_there(ask, channel, spot))


def reached_travel(ask: Asking, travel: OwnTravel) -> Case | None:
    """A state that flies it so, the other sticks and knobs that the line reads in the middle."""
    held = {name: MIDDLE for name, _ in travel.case.shapes if name != travel.stick}
    name = travel.flown.channel.name
    decides = f.Decides(name, travel.limit.name if travel.limit else None)
    given = f.both(mode_is(ask, travel.mode), FREE, decides, held_at(held))
    return guarded_case(ask, given, travel.case.guards, name)


# -- one half and the other


def half_findings(ask: Asking, channel: Channel, wrong: Callable[[OwnTravel], bool], words: str) -> Iterator[Finding]:
    """What is said of the two halves of an aileron's, elevator's or rudder's stick where they are wrong, the most unequal first,
    once for each key that makes them so. A collective's middle is no rest."""
    looks, told = Looks(), set[Path]()
    if channel.drives not in STEERED:
        return
    try:
        found = [travel for travel in own_travels(ask, channel) if wrong(travel)]
        for travel in sorted(found, key=lambda travel: min(travel.halves) / (max(travel.halves) or FULL)):
            limit = None if wrong(replace(travel, limit=None)) else travel.limit  # else it is wrong without
            key = travel_key(ask, travel, limit)
            if key in told:
                continue
            looks.one()
            case = reached_travel(ask, travel) if is_flown_whole(ask, travel) else None
            if case is not None:
                told.add(key)
                limited = f"override {limit.name} limits it: " if limit else ""
                yield half_finding(ask, travel, key, case, words + limited)
    except OutOfBudget as end:
        ask.undecided.append((channel.name, str(end)))


def is_flown_whole(ask: Asking, travel: OwnTravel) -> bool:
    """Whether its mode is flown with the stick at both ends: what flies half of the travel by a mode of its own is no half."""
    spans = flown_spans(ask, travel.flown.channel, travel.stick, f.both(mode_is(ask, travel.mode), FREE))
    return is_flown_at(spans, -FULL) and is_flown_at(spans, FULL)


def is_half_dead(ask: Asking, travel: OwnTravel) -> bool:
    least = ask.limit("half", "control-dead")
    return min(travel.halves) < least and min(travel.extents) < least <= max(travel.extents)


def half_finding(ask: Asking, travel: OwnTravel, key: Path, case: Case, words: str) -> Finding:
    low, middle, high = (round(travel.output(x), 1) for x in (-FULL, MIDDLE, FULL))
    name = travel.flown.channel.name
    where = f"in mode {travel.mode}, " if travel.mode else ""
    at = [f"{n} {p}, " for kind, n, p in travel.case.guards[0] if kind == "switch" and len(travel.case.guards) == 1]
    return ask.finding(
        name,
        f"{where}{''.join(at)}{words}from the middle of the {travel.stick} stick, at {percent(middle)}, {name} goes to "
        f"{percent(low)} at one end and to {percent(high)} at the other",
        key,
        case,
        channels=[name],
    )


def travel_key(ask: Asking, travel: OwnTravel, limit: Override | None) -> Path:
    """What makes the halves unequal: an override that limits, the channel's travel, its curve, or its limits."""
    channel = travel.flown.channel
    mode = ask.setup.modes[travel.mode] if travel.mode else None
    whole: Path = ("channels", channel.name)
    if limit is not None:
        return ("overrides", limit.name)
    if channel.down != channel.up:
        return (*whole, "travel")
    terms = channel.line(mode.name if mode else None).terms or ()
    place, term = next((n, t) for n, t in enumerate(terms) if t.source == OWN[channel.drives])
    if term.curve is not None:
        return key_path(ask, channel, mode, place, "curve")
    return next(((*whole, k) for k in ("low", "high", "sub-trim") if (*whole, k) in ask.setup.declared), whole)


def control_lopsided(ask: Asking) -> Iterator[Finding]:
    """From the middle a control goes much farther to one side than to the other."""
    yield from ask.each(lopsided_channel, controls(ask))


def lopsided_channel(ask: Asking, channel: Channel) -> Iterator[Finding]:
    share = ask.limit("share")

    def lopsided(travel: OwnTravel) -> bool:
        return min(travel.halves) < share * max(travel.halves) and not is_half_dead(ask, travel)

    yield from half_findings(ask, channel, lopsided, "")
