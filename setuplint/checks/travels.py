"""How far and how fast a control goes with its own stick, from one end to the other."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from types import MappingProxyType

from setuplint.book.asking import Asking, percent, plain, seconds
from setuplint.budget import OutOfBudget
from setuplint.checks.corners import guarded_case, mode_is
from setuplint.checks.curve_shapes import FULL, key_path
from setuplint.checks.moves import MIDDLE, held_at
from setuplint.curves.flown import Flown
from setuplint.curves.lines import LineCase
from setuplint.curves.servo import demand_for, unrounded
from setuplint.engine.answers import Case
from setuplint.findings import Finding
from setuplint.plain.simulate import simulate
from setuplint.setup import formulas as f
from setuplint.setup.model import Channel, Mode, Override, Path

OWN = {"aileron": "aileron", "elevator": "elevator", "rudder": "rudder", "collective": "throttle"}  # the stick of each
WHOLE_TRAVEL = 200  # percent: what a ramp's seconds are for
STEERED = ("aileron", "elevator", "rudder")
FREE = f.both(f.Not(f.Predicate("hold called")), f.Not(f.Predicate("rescue called")))


def controls(ask: Asking, *drives: str) -> list[Channel]:
    """The described channels that drive one of these, or any control; what cannot be read is noted."""
    found = [c for c in ask.setup.channels.values() if c.drives in (drives or OWN)]
    for channel in found:
        if ask.broken("channels", channel.name):
            ask.not_judged(f"channels.{channel.name} cannot be read", channel.name)
    return [c for c in found if c.described]


def in_flight(ask: Asking, *formulas: f.Formula) -> f.Formula:
    """These hold, neither hold nor rescue is called, and a mode is flown where the file has any."""
    modes = [f.ModeIs(mode) for mode in ask.setup.modes]
    return f.both(FREE, *([f.either(*modes)] if modes else []), *formulas)


def flying_modes(ask: Asking) -> list[str | None]:
    """The modes that some state flies with neither hold nor rescue called; None where the file has none."""
    found: list[str | None] = list(ask.setup.modes) or [None]
    return [mode for mode in found if not mode or ask.may_be(ask.decider.find(f.both(FREE, f.ModeIs(mode))), mode)]


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


def own_travels(ask: Asking, channel: Channel) -> Iterator[OwnTravel]:
    """Every case of its lines in which its own stick moves the sum, in the modes that are flown. OutOfBudget where there are
    too many."""
    stick = OWN[channel.drives]
    limits = [None, *(o for o in ask.setup.overrides.values() if o.channel == channel.name and o.limits)]
    for mode in flying_modes(ask):
        for case in ask.decider.lines(channel, mode) or ():
            shapes = dict(case.shapes)
            own = shapes.pop(stick, None)
            if own is not None:
                others = sum((shape.value(MIDDLE) for shape in shapes.values()), case.constant)
                yield from (OwnTravel(mode, case, Flown(channel, others, own), stick, limit) for limit in limits)


def reached_travel(ask: Asking, travel: OwnTravel, own: Mapping[str, Fraction] = MappingProxyType({})) -> Case | None:
    """A state that flies it so, the other sticks and knobs that the line reads in the middle; its own where that is said."""
    held = {name: MIDDLE for name, _ in travel.case.shapes if name != travel.stick} | dict(own)
    name = travel.flown.channel.name
    decides = f.Decides(name, travel.limit.name if travel.limit else None)
    given = f.both(mode_is(ask, travel.mode), FREE, decides, held_at(held))
    return guarded_case(ask, given, travel.case.guards, name)


# -- one half and the other


def half_travels(ask: Asking, channel: Channel) -> list[OwnTravel]:
    """The ways of flying an aileron, elevator or rudder, the most unequal first; none of a collective: its middle is no rest."""
    if channel.drives not in STEERED:
        return []
    try:
        return sorted(own_travels(ask, channel), key=lambda travel: min(travel.halves) / (max(travel.halves) or 1))
    except OutOfBudget as end:
        ask.undecided.append((channel.name, str(end)))
        return []


def is_half_dead(ask: Asking, travel: OwnTravel) -> bool:
    least = ask.limit("half", "control-dead")
    return min(travel.halves) < least <= max(travel.halves)


def travel_finding(ask: Asking, channel: Channel, travel: OwnTravel, words: str) -> Iterator[Finding]:
    """What is said of the two halves, where a state flies it so."""
    case = reached_travel(ask, travel)
    if case is None:
        return
    low, middle, high = (round(travel.output(x), 1) for x in (-FULL, MIDDLE, FULL))
    mode = ask.setup.modes[travel.mode] if travel.mode else None
    where = f"in mode {mode.name}, " if mode else ""
    words = f"{words}override {travel.limit.name} limits it: " if travel.limit else words
    at = [f"{n} {p}" for kind, n, p in travel.case.guards[0] if kind == "switch" and len(travel.case.guards) == 1]
    yield ask.finding(
        channel.name,
        f"{where}{''.join(f'{x}, ' for x in at)}{words}from the middle of the {travel.stick} stick, at {percent(middle)}, "
        f"{channel.name} goes to {percent(low)} at one end and to {percent(high)} at the other",
        ("overrides", travel.limit.name) if travel.limit else travel_key(ask, channel, mode),
        case,
        channels=[channel.name],
    )


def travel_key(ask: Asking, channel: Channel, mode: Mode | None) -> Path:
    """What makes the halves unequal: the channel's travel, its curve, or its limits."""
    whole: Path = ("channels", channel.name)
    if channel.down != channel.up:
        return (*whole, "travel")
    terms = channel.line(mode.name if mode else None).terms or ()
    place, term = next((n, t) for n, t in enumerate(terms) if t.source == OWN[channel.drives])
    if term.curve is not None:
        return key_path(ask, channel, mode, place, "curve")
    return next(((*whole, k) for k in ("low", "high", "sub-trim") if (*whole, k) in ask.setup.declared), whole)


def control_lopsided(ask: Asking) -> Iterator[Finding]:
    """From the middle a control goes much farther to one side than to the other."""
    share = ask.limit("share")
    for channel in controls(ask):
        for travel in half_travels(ask, channel):
            small, large = sorted(travel.halves)
            if small < share * large and not is_half_dead(ask, travel):
                found = list(travel_finding(ask, channel, travel, ""))
                yield from found
                if found:
                    break


# -- how fast


@dataclass(frozen=True, slots=True)
class EndToEnd:
    """A movement of a control's own stick from one end to the other, and how long the ramp of its line takes for it."""

    travel: OwnTravel
    start: Fraction

    @property
    def channel(self) -> Channel:
        return self.travel.flown.channel

    @property
    def key(self) -> str:
        return "ramp-up" if self.travel.demand(-self.start) > self.travel.demand(self.start) else "ramp-down"

    @property
    def seconds(self) -> Fraction:
        """Until the output is at its end: what lies beyond a limit there takes none."""
        line = self.channel.line(self.travel.mode)
        before, after = (self.travel.output(x) for x in (self.start, -self.start))
        goal = demand_for(self.channel, after)
        if before == after or goal is None:
            return Fraction(0)
        ramp = line.ramp_up if self.key == "ramp-up" else line.ramp_down
        return abs(goal - self.travel.demand(self.start)) * ramp / WHOLE_TRAVEL


def control_slow(ask: Asking) -> Iterator[Finding]:
    """A ramp keeps a control from going with its stick from one end to the other in time."""
    longest = ask.limit("longest")
    for channel in controls(ask):
        if not any(line.ramp_up or line.ramp_down for line in (channel.own, *channel.lines.values())):
            continue
        try:
            ways = [EndToEnd(travel, start) for travel in own_travels(ask, channel) for start in (-FULL, FULL)]
        except OutOfBudget as end:
            ask.undecided.append((channel.name, str(end)))
            continue
        told: set[Path] = set()
        for way in sorted((w for w in ways if w.seconds > longest), key=lambda w: -w.seconds):
            mode = ask.setup.modes[way.travel.mode] if way.travel.mode else None
            path = key_path(ask, channel, mode, 0, way.key)
            case = None if path in told else late_case(ask, way, longest)
            if case is not None:
                told.add(path)
                yield slow_finding(ask, way, path, case)


def late_case(ask: Asking, way: EndToEnd, longest: Fraction) -> Case | None:
    """A state in which the timed simulator has the control late too, its stick at the start."""
    stick, name = way.travel.stick, way.channel.name
    case = reached_travel(ask, way.travel, {stick: way.start})
    if case is None:
        return None
    after = replace(case.state, sticks={**case.state.sticks, stick: -way.start})
    *_, last = simulate(ask.decider.setup, case.state, case.evaluation.memory, [(Fraction(0), after)], longest)
    return case if last.evaluation.outputs[name] != last.target.outputs[name] else None


def slow_finding(ask: Asking, way: EndToEnd, path: Path, case: Case) -> Finding:
    name, mode = way.channel.name, way.travel.mode
    took = seconds(way.seconds)
    return ask.finding(
        f"{name} {mode}" if "in" in path[2:3] else name,
        f"{name} takes {took} from one end of the {way.travel.stick} stick to the other{f' in mode {mode}' if mode else ''}: "
        f"its {way.key} is on the stick too; {seconds(ask.limit('longest'))} is the most",
        path,
        case,
        channels=[name],
        then=f"then {way.travel.stick} {plain(-way.start):+g}: {name} is there only after {took}",
    )
