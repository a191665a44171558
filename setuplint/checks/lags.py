"""A motor that comes too slowly through the hover of a fixed-pitch craft."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from setuplint.book import thin_air
from setuplint.book.asking import Asking, both_scales, plain, seconds
from setuplint.budget import OutOfBudget
from setuplint.checks.corners import HAIR, Looks, line_goes_on, mode_is
from setuplint.checks.curve_shapes import flown_modes, key_path
from setuplint.checks.lifts import lifting_channels, number_words
from setuplint.checks.moves import held_at
from setuplint.checks.spans import compared_at, flying_stick, led_case, spots_of_sum, stretches
from setuplint.checks.travel_times import WHOLE_TRAVEL
from setuplint.checks.travels import FREE, Spot, case_there
from setuplint.curves.flown import Flown
from setuplint.curves.lines import LineCase
from setuplint.curves.servo import demand_for
from setuplint.dataclass import dataclass, replace
from setuplint.engine.answers import Case
from setuplint.findings import Edit, Finding, Place
from setuplint.plain.evaluate import evaluate
from setuplint.plain.simulate import simulate
from setuplint.plain.state import State
from setuplint.setup import formulas as f
from setuplint.setup.model import Channel, Line, Mode, Path

# Points: how far under the lower place a case may begin, so that its stick stands at a round one.
UNDER = Fraction(1, 2)


@dataclass(frozen=True, slots=True)
class HoverClimb:
    """A motor's way through the hover by the ramp of its line in a mode: the same from every state that lets it go there."""

    channel: Channel
    mode: Mode | None
    low: Fraction
    high: Fraction

    @property
    def line(self) -> Line:
        return self.channel.line(self.mode.name if self.mode else None)

    @property
    def demands(self) -> tuple[Fraction, Fraction]:
        """Twice the same where the receiver cannot put out one of the two."""
        low, high = demand_for(self.channel, self.low), demand_for(self.channel, self.high)
        return (Fraction(0), Fraction(0)) if low is None or high is None else (low, high)

    @property
    def key(self) -> str:
        return "ramp-up" if self.demands[1] > self.demands[0] else "ramp-down"

    @property
    def ramp(self) -> Fraction:
        return self.line.ramp_up if self.key == "ramp-up" else self.line.ramp_down

    @property
    def seconds(self) -> Fraction:
        return self.seconds_between(*self.demands)

    def seconds_between(self, one: Fraction, two: Fraction) -> Fraction:
        return abs(two - one) * self.ramp / WHOLE_TRAVEL


@dataclass(frozen=True, slots=True)
class ClimbPath:
    """Where a stick takes a motor lowest and highest in a case of its line, with other sticks and knobs so."""

    line: LineCase | None
    stick: str
    lowest: Fraction
    highest: Fraction
    others: dict[str, Fraction]


@dataclass(frozen=True, slots=True)
class ShownLag:
    """A case that begins under the hover, where its stick goes from there, and how long the motor takes."""

    case: Case
    stick: str
    target: Fraction
    seconds: Fraction


def motor_lags(ask: Asking) -> Iterator[Finding]:
    """Fixed pitch: the motor's ramp keeps it from going through the hover in time."""
    around, longest = ask.limit("around"), ask.limit("longest")
    if ask.setup.craft.rotor != "fixed":
        return
    motors = [c for c in lifting_channels(ask) if any(line.ramp_up or line.ramp_down for line in c.every_line)]
    hover = ask.hover_throttle if motors else None
    if motors and hover is None:
        ask.no_hover_throttle()
    if hover is None:
        return
    reckoned = f" ({ask.shift.words})" if ask.shift else ""
    told: set[Path] = set()
    modes = list(flown_modes(ask, FREE)) if motors else []
    climbs = [HoverClimb(channel, mode, hover - around, hover + around) for channel in motors for mode in modes]
    low, high = (both_scales(round(end, 2)) for end in (hover - around, hover + around))
    for climb in sorted(climbs, key=lambda climb: -climb.seconds):
        path = key_path(ask, climb.channel, climb.mode, 0, climb.key)
        seen = lag_shown(ask, climb) if climb.seconds > longest and path not in told else None
        if seen is None:
            continue
        told.add(path)
        name = climb.channel.name
        yield ask.finding(
            name if path[2] == climb.key else f"{name} {path[3]}",
            f"{name} takes {seconds(climb.seconds, longest)} from {low} to {high}, {plain(around):g} points either side of the "
            f"hover{reckoned}: {climb.key} lets it go {plain(around * 2):g} points in no less; {plain(longest):g} s is the most",
            path,
            seen.case,
            related=[Place(("craft", "hover-throttle"), "the hover"), *thin_air.places(ask.shift)],
            channels=[name],
            then=f"then {seen.stick} {number_words(seen.target, 1)}: {name} is there only after {seconds(seen.seconds, longest)}",
            edit=Edit(path, f"{float(Fraction(int(longest / climb.seconds * climb.ramp * 10), 10)):g}"),
        )


def lag_shown(ask: Asking, climb: HoverClimb) -> ShownLag | None:
    """A state under the hover out of which the stick alone takes it above in this mode, and the timed simulator has the motor
    late too: one close under it, or with the stick where it gives least, and of a mode that the stick chooses any."""
    name = climb.channel.name
    mode, looks, unshown = mode_is(ask, climb.mode.name if climb.mode else None), Looks(), False
    above = f.both(mode, FREE, line_goes_on(ask, name), f.OutputCompare(name, ">=", climb.high))
    below = f.both(FREE, f.OutputCompare(name, "<=", climb.low))
    near = f.both(below, mode, f.OutputCompare(name, ">=", climb.low - UNDER))
    try:
        for path in paths(ask, climb):
            places = [near, f.both(below, held_at({path.stick: path.lowest}))]
            for under in [*places, below] if compared_at(ask, climb.channel, path.stick) else places:
                looks.one()
                case = led_case(
                    ask, f.both(under, held_at(path.others)), path.stick, path.highest, above, name, path.line
                )
                shown = None if case is None else shown_from(ask, climb, case, path.stick, path.highest)
                if shown is not None:
                    return shown
                unshown |= case is not None
    except OutOfBudget as end:
        ask.undecided.append((name, str(end)))
    if unshown:
        ask.undecided.append((name, "the motor may come late through the hover, and no run that was tried shows it"))
    return None


def paths(ask: Asking, climb: HoverClimb) -> Iterator[ClimbPath]:
    """For every case of the line, and every stretch of the stick that flies it in which no formula tells places apart, the others
    where that goes through the hover; of a mode that the stick chooses also at rest. OutOfBudget where there are too many."""
    setup, channel = ask.setup, climb.channel
    for case in ask.decider.lines(channel, climb.mode.name if climb.mode else None) or ():
        shapes = dict(case.shapes)
        stick = flying_stick(setup, shapes)
        if stick is None:
            continue
        own = shapes.pop(stick)
        others = tuple(shapes.items())
        for span in stretches(ask, channel, stick):
            (least, bottom), (greatest, top) = own.extremes(*span)
            ends = (greatest, least) if channel.reversed else (least, greatest)
            low, high = sorted(climb.demands)
            room = high - case.constant - top, low - case.constant - bottom
            if room[0] <= room[1]:
                for spot in spots_of_sum(ask, channel, others, *room, closed=True):
                    yield ClimbPath(case, stick, *ends, spot)
            if compared_at(ask, channel, stick):
                yield ClimbPath(None, stick, *ends, {name: setup.sticks[name].rest for name in shapes})


def shown_from(ask: Asking, climb: HoverClimb, case: Case, stick: str, highest: Fraction) -> ShownLag | None:
    """With the stick just where the motor is at the two places, where a run shows it so; else from and to where it was put."""
    after = put(case.state, stick, highest)
    there = (after, evaluate(ask.as_decided(), after, case.evaluation.memory))
    goal = place_for(ask, climb, there, stick, climb.high)
    start, near = case.state.sticks[stick], place_for(ask, climb, (case.state, case.evaluation), stick, climb.low)
    for one, two in ((near, goal), (start, goal), (start, highest)):
        close = one is not None and abs(one - start) <= 1  # as the case says it, in round numbers
        time = (
            late_seconds(ask, climb, case, stick, one, two) if close and one is not None and two is not None else None
        )
        if time is not None and two is not None:
            return ShownLag(case, stick, two, time)
    return None


def put(state: State, stick: str, place: Fraction) -> State:
    return replace(state, sticks={**state.sticks, stick: place})


def place_for(ask: Asking, climb: HoverClimb, spot: Spot, stick: str, value: Fraction) -> Fraction | None:
    """Where the stick flies the motor at an output, all else as it is there."""
    case = case_there(ask, climb.channel, spot)
    shapes = dict(case.shapes)
    if stick not in shapes:
        return None
    own = shapes.pop(stick)
    others = sum((shape.value(spot[0].sticks[name]) for name, shape in shapes.items()), case.constant)
    return Flown(climb.channel, others, own).stick_for(value)


def late_seconds(
    ask: Asking, climb: HoverClimb, case: Case, stick: str, start: Fraction, goal: Fraction
) -> Fraction | None:
    """How long the motor takes from one place of the stick to the other, where a run has it still under the upper output when
    the limit is over; else None."""
    name = climb.channel.name
    before, after = put(case.state, stick, start), put(case.state, stick, goal)
    first, *_, last = simulate(
        ask.as_decided(), before, case.evaluation.memory, [(Fraction(0), after)], ask.limit("longest")
    )
    value, end = last.evaluation.outputs[name], last.target.outputs[name]
    below = first.evaluation.outputs[name]
    if (
        value is None
        or end is None
        or below is None
        or last.evaluation.mode != (climb.mode.name if climb.mode else None)
    ):
        return None
    if not (below <= climb.low + HAIR and value < climb.high - HAIR and climb.high - HAIR <= end):
        return None
    demands = first.evaluation.demands[name], last.target.demands[name]
    return None if demands[0] is None or demands[1] is None else climb.seconds_between(demands[0], demands[1])
