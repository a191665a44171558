"""How fast a control goes with its own stick, from one end to the other."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import chain

from setuplint.book.asking import Asking, plain, seconds
from setuplint.budget import OutOfBudget
from setuplint.checks.corners import Looks, mode_is
from setuplint.checks.curve_shapes import FULL, key_path
from setuplint.checks.moves import held_at
from setuplint.checks.spans import compared_at, led_case, spots_of_sum
from setuplint.checks.travels import FREE, OwnTravel, controls, own_travels
from setuplint.curves.lines import LineCase
from setuplint.curves.servo import demand_for, moving_demands, output, unrounded
from setuplint.curves.sums import Shapes
from setuplint.dataclass import dataclass, replace
from setuplint.engine.answers import Case
from setuplint.findings import Finding
from setuplint.plain.simulate import simulate
from setuplint.setup import formulas as f
from setuplint.setup.model import Channel, Path

WHOLE_TRAVEL = 200  # percent: what a ramp's seconds are for


@dataclass(frozen=True, slots=True)
class EndToEnd:
    """A movement of a control's own stick from one end to the other, and how long the ramp of its line takes for it."""

    travel: OwnTravel
    start: Fraction

    @property
    def channel(self) -> Channel:
        return self.travel.flown.channel

    @property
    def rise(self) -> Fraction:
        """By how much the line's sum rises on the way, before any limit."""
        shape = self.travel.flown.shape
        return shape.value(-self.start) - shape.value(self.start)

    @property
    def key(self) -> str:
        return "ramp-up" if self.rise > 0 else "ramp-down"

    @property
    def ramp(self) -> Fraction:
        line = self.channel.line(self.travel.mode)
        return line.ramp_up if self.rise > 0 else line.ramp_down

    @property
    def seconds(self) -> Fraction:
        """With the other sticks and knobs in the middle."""
        return self.seconds_between(self.travel.demand(self.start), self.travel.demand(-self.start))

    def seconds_between(self, one: Fraction | None, two: Fraction | None) -> Fraction:
        """From one demand until the output is where the other has it: what lies beyond a limit there takes none."""
        if one is None or two is None or output(self.channel, one) == output(self.channel, two):
            return Fraction(0)
        goal = demand_for(self.channel, unrounded(self.channel, two))
        return Fraction(0) if goal is None else abs(goal - one) * self.ramp / WHOLE_TRAVEL

    def slow_sums(self, longest: Fraction) -> tuple[Fraction, Fraction] | None:
        """Between which sums of what the other sticks and knobs add it takes longer; None: with none."""
        room, ends, limit = longest * WHOLE_TRAVEL / self.ramp, moving_demands(self.channel), self.travel.limit
        if abs(self.rise) <= room or ends is None:
            return None
        sign, limited = (1 if self.rise > 0 else -1), {} if limit is None else limit.numbers
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
            ways = [EndToEnd(travel, start) for travel in own_travels(ask, channel) for start in (-FULL, FULL)]
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
    """A state in which the timed simulator has the control late too, its stick at the start, the others and knobs anywhere; where
    another mode flies it there, one that the stick alone leaves for this. And how many seconds it takes."""
    stick, name, longest = way.travel.stick, way.channel.name, ask.limit("longest")
    mode, start = mode_is(ask, way.travel.mode), held_at({stick: way.start})
    flown = f.both(mode, FREE, f.Decides(name, way.travel.limit.name if way.travel.limit else None))
    sums = way.slow_sums(longest)
    spots = spots_of_sum(ask, way.channel, way.others, *sums) if sums is not None else ()
    here = ((f.both(flown, start, held_at(spot)), way.travel.case) for spot in spots)
    for before, line in chain(here, elsewhere(ask, way, mode, start)):
        looks.one()
        case = led_case(ask, before, stick, -way.start, flown, name, line)
        if case is None:
            continue
        after = replace(case.state, sticks={**case.state.sticks, stick: -way.start})
        *_, last = simulate(ask.as_decided(), case.state, case.evaluation.memory, [(Fraction(0), after)], longest)
        if last.evaluation.outputs[name] != last.target.outputs[name] and last.evaluation.mode == way.travel.mode:
            return case, way.seconds_between(case.evaluation.demands[name], last.target.demands[name])
    return None


def elsewhere(
    ask: Asking, way: EndToEnd, mode: f.Formula, start: f.Formula
) -> Iterator[tuple[f.Formula, LineCase | None]]:
    """Another mode is flown with the stick at the start, the others and knobs at rest."""
    if compared_at(ask, way.channel, way.travel.stick):
        rest = {name: ask.setup.sticks[name].rest for name, _ in way.others}
        yield f.both(FREE, f.Not(mode), start, held_at(rest)), None


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
