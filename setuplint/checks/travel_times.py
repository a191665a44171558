"""How fast a control goes with its own stick, from one end to the other."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import product

from setuplint.book.asking import Asking, plain, seconds
from setuplint.budget import OutOfBudget
from setuplint.checks.corners import Looks, mode_is
from setuplint.checks.curve_shapes import FULL, key_path
from setuplint.checks.levels import STEPS, held_output, output_levels
from setuplint.checks.moves import held_at
from setuplint.checks.spans import compared_at, led_case, spots_of_sum
from setuplint.checks.travels import FREE, OwnTravel, controls, flying_modes, own_travels
from setuplint.curves.servo import demand_for, moving_demands, output, unrounded
from setuplint.curves.sums import Shapes
from setuplint.dataclass import dataclass, replace
from setuplint.engine.answers import Case
from setuplint.engine.literals import Frame, Rails
from setuplint.findings import Finding
from setuplint.plain.simulate import FARTHEST, simulate
from setuplint.setup import formulas as f
from setuplint.setup.model import Channel, Path

WHOLE_TRAVEL = 200  # percent: what a ramp's seconds are for
ENDS = (-FULL, FULL)


@dataclass(frozen=True, slots=True)
class EndToEnd:
    """A movement of a control's own stick from one end to the other that raises or lowers what is asked of it, and how long the
    ramp of its line takes for it."""

    travel: OwnTravel
    start: Fraction
    rising: bool

    @property
    def channel(self) -> Channel:
        return self.travel.flown.channel

    @property
    def rise(self) -> Fraction:
        """By how much the line's sum goes on the way, before any limit; below zero: the other way."""
        shape = self.travel.flown.shape
        return self.sign * (shape.value(-self.start) - shape.value(self.start))

    @property
    def sign(self) -> int:
        return 1 if self.rising else -1

    @property
    def key(self) -> str:
        return "ramp-up" if self.rising else "ramp-down"

    @property
    def ramp(self) -> Fraction:
        line = self.channel.line(self.travel.mode)
        return line.ramp_up if self.rising else line.ramp_down

    @property
    def ends(self) -> tuple[Fraction, Fraction] | None:
        """The demands beyond which the channel goes no further in its line, the lowest first; None: it goes nowhere."""
        found, limit = moving_demands(self.channel), self.travel.limit
        return found if found is None or limit is None else (limit.limited(found[0]), limit.limited(found[1]))

    @property
    def seconds(self) -> Fraction:
        """With the other sticks and knobs in the middle."""
        return self.seconds_between(self.travel.demand(self.start), self.travel.demand(-self.start))

    def seconds_between(self, one: Fraction | None, two: Fraction | None) -> Fraction:
        """From one demand until the output is where the other has it: what lies beyond a limit there takes none."""
        if one is None or two is None or output(self.channel, one) == output(self.channel, two):
            return Fraction(0)
        goal = demand_for(self.channel, unrounded(self.channel, two))
        way = Fraction(0) if goal is None else max(Fraction(0), self.sign * (goal - one))
        return way * self.ramp / WHOLE_TRAVEL

    def room(self, longest: Fraction) -> Fraction:
        """How far it gets in that time."""
        return longest * WHOLE_TRAVEL / self.ramp

    def slow_sums(self, longest: Fraction) -> tuple[Fraction, Fraction] | None:
        """Between which sums of what the other sticks and knobs add it takes longer; None: with none."""
        room, ends, limit, sign = self.room(longest), moving_demands(self.channel), self.travel.limit, self.sign
        if self.rise <= room or ends is None:
            return None
        limited = {} if limit is None else limit.numbers
        bottom, top = sorted(sign * end for end in ends)
        least, most = (limited.get(key) for key in ("at-least", "at-most")[::sign])
        start, end = (
            sign * (self.travel.case.constant + self.travel.flown.shape.value(x)) for x in (self.start, -self.start)
        )
        top = top if most is None else min(top, sign * most)
        floor = bottom if least is None else max(bottom, sign * least + room)
        low, high = sorted(sign * x for x in (floor - end, top - room - start))
        return (low, high) if floor < top and floor - end < top - room - start else None

    @property
    def others(self) -> Shapes:
        return tuple(each for each in self.travel.case.shapes if each[0] != self.travel.stick)


def control_slow(ask: Asking) -> Iterator[Finding]:
    """A ramp keeps a control from going with its stick from one end to the other in time."""
    for channel in controls(ask):
        if not any(line.ramp_up or line.ramp_down for line in channel.every_line):
            continue
        try:
            ways = [
                EndToEnd(travel, *way) for travel in own_travels(ask, channel) for way in product(ENDS, (True, False))
            ]
        except OutOfBudget as end:
            ask.undecided.append((channel.name, str(end)))
            continue
        yield from slow_findings(ask, channel, sorted((w for w in ways if w.ramp), key=lambda w: -w.seconds))


def slow_findings(ask: Asking, channel: Channel, ways: Sequence[EndToEnd]) -> Iterator[Finding]:
    """One for each ramp that some state flies."""
    looks, told = Looks(), set[Path]()
    try:
        for way in ways:
            mode = ask.setup.modes[way.travel.mode] if way.travel.mode else None
            path = key_path(ask, channel, mode, 0, way.key)
            if path in told:
                continue
            late = late_case(ask, looks, way)
            if late is not None:
                told.add(path)
                yield slow_finding(ask, way, path, *late)
    except OutOfBudget as end:
        ask.undecided.append((channel.name, str(end)))


def late_case(ask: Asking, looks: Looks, way: EndToEnd) -> tuple[Case, Fraction] | None:
    """A state in which the timed simulator has the control late too, its stick at the start, the others and knobs anywhere. And
    how many seconds it takes."""
    stick, name = way.travel.stick, way.channel.name
    start = held_at({stick: way.start})
    decides = f.Decides(name, way.travel.limit.name if way.travel.limit else None)
    flown = f.both(mode_is(ask, way.travel.mode), FREE, decides)
    sums = way.slow_sums(ask.limit("longest"))
    spots = spots_of_sum(ask, way.channel, way.others, *sums) if sums is not None else ()
    for spot in spots:
        looks.one()
        case = led_case(ask, f.both(flown, start, held_at(spot)), stick, -way.start, flown, name, way.travel.case)
        late = None if case is None else late_run(ask, way, case)
        if late is not None:
            return late
    return late_case_from_elsewhere(ask, looks, way, flown, start)


def late_run(ask: Asking, way: EndToEnd, case: Case) -> tuple[Case, Fraction] | None:
    """A case out of which the timed simulator has the control late in its mode, and how many seconds it takes."""
    name, stick = way.channel.name, way.travel.stick
    after = replace(case.state, sticks={**case.state.sticks, stick: -way.start})
    run = simulate(ask.as_decided(), case.state, case.evaluation.memory, [(Fraction(0), after)], ask.limit("longest"))
    *_, last = run
    if last.evaluation.outputs[name] == last.target.outputs[name] or last.evaluation.mode != way.travel.mode:
        return None
    return case, way.seconds_between(case.evaluation.demands[name], last.target.demands[name])


def late_case_from_elsewhere(
    ask: Asking, looks: Looks, way: EndToEnd, flown: f.Formula, start: f.Formula
) -> tuple[Case, Fraction] | None:
    """The same where another mode or an override has the control with the stick at the start. What is asked of it there and at
    the other end is compared; where knobs turn it, on an ever finer grid."""
    channel, name, stick = way.channel, way.channel.name, way.travel.stick
    ends = way.ends
    if ends is None or not compared_at(ask, channel, stick):
        return None
    free = replace(channel, reversed=False, down=FULL, up=FULL, sub_trim=Fraction(0), low=-FARTHEST, high=FARTHEST)
    limited = replace(free, low=ends[0], high=ends[1])
    held, then, room, sign = {stick: way.start}, {stick: -way.start}, way.room(ask.limit("longest")), way.sign
    before = f.both(FREE, f.Not(flown), start)
    modes = [mode for mode in flying_modes(ask) if ask.is_flown(mode, before)]
    levels = output_levels(ask, free, modes, held, before)
    op, beyond = ("<=", ">") if way.rising else (">=", "<")

    def find(step: Fraction, slack: Fraction) -> Case | None:
        def farther(frame: Frame, there: Frame) -> Rails:
            return frame.any_of(
                frame.all_of(
                    [
                        held_output(frame, free, op, value + sign * slack, held),
                        held_output(there, limited, beyond, value + sign * room, then, [way.travel.mode]),
                    ]
                )
                for value in levels.by(step)
            )

        looks.one()
        return led_case(ask, before, stick, -way.start, flown, name, farther=farther)

    for step in STEPS:
        case = find(step, Fraction(0))
        late = None if case is None else late_run(ask, way, case)
        if late is not None or not levels.spans or find(step, step) is None:
            return late
    ask.undecided.append((name, "it comes late by about as much as is too much, as the knobs are turned"))
    return None


def slow_finding(ask: Asking, way: EndToEnd, path: Path, case: Case, time: Fraction) -> Finding:
    name, mode = way.channel.name, way.travel.mode
    longest = ask.limit("longest")
    took = seconds(time, longest)
    return ask.finding(
        f"{name} {mode}" if "in" in path[2:3] else name,
        f"{name} takes {took} from one end of the {way.travel.stick} stick to the other{f' in mode {mode}' if mode else ''}: "
        f"its {way.key} is on the stick too; {seconds(longest)} is the most",
        path,
        case,
        channels=[name],
        then=f"then {way.travel.stick} {plain(-way.start):+g}: {name} is there only after {took}",
    )
