"""A run after a movement out of a settled state, phase by phase: from one to the next something delayed may change."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from contextlib import suppress
from fractions import Fraction
from math import ceil

from setuplint.budget import OutOfBudget
from setuplint.curves.servo import OPPOSITE, DemandBound
from setuplint.plain.simulate import FARTHEST, WHOLE_TRAVEL
from setuplint.plain.timelines import TICK
from setuplint.setup import formulas as f
from setuplint.setup.model import ZERO, Channel, Condition, Setup
from setuplint.solver.demands import demand, demand_range
from setuplint.solver.frame import Frame
from setuplint.solver.sat import FALSE, TRUE, Rails
from setuplint.solver.slowness import Wait, in_ticks

MOST_PHASES = 64
MOST_WORK = 200_000  # of the file's budget, for one channel after one movement

Ramps = Sequence[tuple[str | None, Fraction]]


def phase_starts(setup: Setup, waits: Sequence[Wait], inside: Collection[str], limit: Fraction) -> list[Fraction]:
    """The seconds after a movement, up to the limit, at which some of these conditions may change. OutOfBudget where they are
    too many."""
    *conditions, modes = waits
    times: dict[str, set[Fraction]] = {}

    def of(wait: Wait) -> set[Fraction]:
        return {ZERO}.union(*(times.get(name, ()) for name in wait.named))

    for wait in conditions:
        if wait.name not in inside:
            continue
        condition, at = setup.conditions[wait.name], of(wait) | (of(modes) if wait.modes else set())
        for delay in (condition.after, condition.stays):
            at |= {end for start in at if delay and (end := in_ticks(start + in_ms(delay))) <= limit}
        times[wait.name] = at
        if len(at) > MOST_PHASES:
            break
    found = sorted({ZERO}.union(*times.values()))
    if len(found) > MOST_PHASES:
        raise OutOfBudget(f"what is delayed changes at more than {MOST_PHASES} instants after one movement")
    return found


def in_ms(seconds: Fraction) -> Fraction:
    """A delay as the simulator keeps it."""
    return Fraction(ceil(seconds * 1000), 1000)


class Phase(Frame):
    """An instant of a run, no control having moved since it began."""

    def __init__(self, run: PhasedRun, moved: Frame, number: int) -> None:
        super().__init__(moved.encoding, moved.controls, run.frames[-1].memory_after())
        self.run, self.number = run, number

    def _delayed(self, condition: Condition) -> Rails:
        if not (condition.after or condition.stays):
            return self.truth(condition.when)
        return self.run.delayed(condition, self.number)


class PhasedRun:
    """The phases after a movement; the first of its `frames` is the settled one before, and each ends as the next begins."""

    def __init__(self, old: Frame, moved: Frame, starts: Sequence[Fraction], limit: Fraction) -> None:
        """`starts` are the seconds at which something delayed may change; empty: nothing is delayed."""
        self.starts, self.limit = [*starts] or [ZERO], limit
        self.frames = [old]
        for number in range(1, len(starts) + 1):
            self.frames.append(Phase(self, moved, number))
        if not starts:
            self.frames.append(moved)
        self.helds: dict[tuple[str, int], Rails] = {}

    def delayed(self, condition: Condition, number: int) -> Rails:
        """A timed condition in a phase: what held for `after` then, or within `stays` before."""
        return self.frames[0].any_of(self.held(condition, n) for n in self.back(number, condition.stays))

    def held(self, condition: Condition, number: int) -> Rails:
        """Its `when` has held for long enough."""
        key = condition.name, number
        if key not in self.helds:
            whens = (self.frames[n].truth(condition.when) for n in self.back(number, condition.after))
            self.helds[key] = self.frames[0].all_of(whens)
        return self.helds[key]

    def back(self, number: int, seconds: Fraction) -> Iterator[int]:
        """A phase, and those before it that ended less than so many seconds before it began."""
        yield number
        for n in range(number - 1, -1, -1) if number else ():
            if self.starts[n] <= self.starts[number - 1] - in_ms(seconds):
                return
            yield n

    # -- outputs, on their ramps

    def exceeds(self, channel: Channel, number: Fraction) -> Rails:
        """Whether the output goes above a number of percent by the limit. Where ramps of several modes follow each other it may
        be neither: then the simulator tells. OutOfBudget where it takes too much."""
        first, *phases = self.frames
        above = f.OutputCompare(channel.name, ">", number)
        bound = first.encoding.bound(channel, ">", number)
        upwards = bound.op in (">", ">=")
        falling = (phases[0].mode(mode) for mode, seconds in ramps(channel, not upwards) if seconds)
        found = [first.all_of((first.truth(above), first.any_of(falling)))]  # it was above, and only comes down
        spent = first.sat.file.work
        climb = Climb(self, channel, bound, [frame.truth(above) for frame in self.frames])
        for number_of in range(1, len(self.frames)):
            if first.sat.file.work - spent > MOST_WORK:
                raise OutOfBudget("what follows the movement has too many delays and ramps")
            soon, late = climb.out_of(number_of)
            true, false = climb.ups[number_of]
            found.append((first.both((true, soon)), first.either((false, late))))
        return first.any_of(found)


class Climb:
    """How far the ramps of a channel get, phase by phase, towards a bound of its demand that `ups` say it is to go beyond."""

    def __init__(self, run: PhasedRun, channel: Channel, bound: DemandBound, ups: Sequence[Rails]) -> None:
        self.run, self.channel, self.bound, self.ups = run, channel, bound, ups
        self.sat, self.sign = run.frames[0].sat, 1 if bound.op in (">", ">=") else -1
        self.ways = ramps(channel, self.sign > 0)
        self.ramped = any(seconds for _, seconds in self.ways)
        self.farthest = -self.sign * FARTHEST  # nothing demands less (downwards: more)
        if self.ramped:
            with suppress(OutOfBudget):
                self.farthest = demand_range(run.frames[0].encoding, channel)[0 if self.sign > 0 else 1]

    def out_of(self, number: int) -> tuple[int, int]:
        """Literals: from a phase on the output goes beyond the bound, and is there in time; it is not even by the limit."""
        if not self.ramped or self.bound.op == "always":
            return TRUE, FALSE
        if self.bound.op == "never":
            return FALSE, TRUE
        soon, late = [], []
        for mode, seconds in self.ways:
            flown = self.run.frames[number].mode(mode)[0]
            if not seconds or flown == FALSE:
                soon.append(flown)
                continue
            pace = self.sign * WHOLE_TRAVEL / seconds
            soon.append(self.soon(number, mode, pace))
            far = self.bound.number - pace * (self.run.limit - self.run.starts[number - 1])
            on = [frame.mode(mode)[0] for frame in self.run.frames[number:]]
            late.append(self.from_where(number, OPPOSITE[self.bound.op], far, on))
        return self.sat.either(soon), self.sat.either(late)

    def soon(self, number: int, mode: str | None, pace: Fraction) -> int:
        """The literal that it is there by the end of some phase, all in one mode until then."""
        run, found, given = self.run, list[int](), list[int]()
        for ending in range(number, len(run.frames)):
            end = run.starts[ending] - TICK if ending < len(run.starts) else run.limit
            near = self.bound.number - pace * (end - run.starts[number - 1])
            given += [run.frames[ending].mode(mode)[0], self.ups[ending][0]]
            found.append(self.from_where(number, self.bound.op, near, given))
            if self.is_past(near):  # what comes later says no more
                break
        return self.sat.either(found)

    def is_past(self, number: Fraction) -> bool:
        """Every demand is past a number already."""
        return self.sign * (self.farthest - number) > 0

    def from_where(self, number: int, op: str, limit: Fraction, given: Sequence[int]) -> int:
        """The literal that the demand of each frame before a phase stands so to a limit, and what is given holds."""
        if self.is_past(limit):
            return self.sat.both(given) if op == self.bound.op else FALSE
        frames = self.run.frames[:number]
        return self.sat.both((*given, *(demand(frame, self.channel, op, limit)[0] for frame in frames)))


def ramps(channel: Channel, upwards: bool) -> Ramps:
    """For each mode, and for none, the seconds of its ramp."""
    lines = [(None, channel.own), *channel.lines.items()]
    return [(mode, line.ramp_up if upwards else line.ramp_down) for mode, line in lines]
