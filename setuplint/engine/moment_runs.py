"""Runs of the timed simulator from power-up in which a formula holds for longer than a patience (MEANING.md 8, *Moments*)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import islice, product

from setuplint.budget import OutOfBudget
from setuplint.dataclass import replace
from setuplint.engine.answers import Case, InTime, Timing
from setuplint.engine.search import Search
from setuplint.named_tuple import NamedTuple
from setuplint.plain.simulate import settle_time
from setuplint.plain.state import State
from setuplint.plain.timelines import (
    ALOFT,
    TICK,
    Spell,
    Timeline,
    Watch,
    dated,
    orders,
    tried_waits,
    unhurried,
    without_ramps,
)
from setuplint.setup.cone import Cone, names_of_kind
from setuplint.setup.model import ZERO, Setup
from setuplint.setup.predicates import START
from setuplint.solver.encoding import Bits
from setuplint.solver.frame import Frame
from setuplint.solver.instants import Instant, NextInstant
from setuplint.solver.reach import Found
from setuplint.solver.sat import TRUE
from setuplint.solver.slowness import Slowness
from setuplint.solver.witness import Witness

MOST_CANDIDATES = 6  # states that are tried in time, of each kind
MOST_RUNS = 60  # of each of them
MOST_LOOKS = 200_000  # parts of the setup looked at, instant by instant, a question
MOST_LOOKS_A_FILE = 4_000_000


class Pattern(NamedTuple):
    """How far a run settles step by step (-1: not even at power-up), and how many changes then come in haste."""

    settled: int
    changes: int


SHORT = (Pattern(-1, 0), Pattern(0, 1), Pattern(1, 1), Pattern(-1, 1), Pattern(0, 2), Pattern(1, 2), Pattern(-1, 2))
LONG = (*SHORT, Pattern(2, 1), Pattern(3, 1), Pattern(2, 2))  # where the past matters
FRESH = (Pattern(-1, 0),)  # nothing moves


class MomentRuns:
    """The runs of one question about moments."""

    def __init__(self, search: Search, asked: InTime, pace: Slowness, cone: Cone) -> None:
        self.search, self.asked, self.pace = search, asked, pace
        self.reach, self.sat, self.setup = search.reach, search.reach.sat, search.setup
        self.cone = cone | {("trim", "")} if asked.trim else cone
        self.looks = 0

    def found(self, way: Sequence[str]) -> Case | None:
        """A case in time, replayed; None where none was found."""
        memory = any(self.setup.conditions[name].remembers for name in names_of_kind(self.cone, "condition"))
        for kind in FRESH if self.asked.at_start else LONG if memory else SHORT:
            cases = self.cases(kind, way)
            found = min(cases, key=since, default=None) if self.asked.at_start else next(cases, None)
            if found is not None:
                return found
        return None

    def cases(self, kind: Pattern, way: Sequence[str]) -> Iterator[Case]:
        """Of its candidates those that a run shows."""
        try:
            for witness in self.candidates(kind, way):
                case = self.shown(witness, kind)
                if case is not None:
                    yield case
        except OutOfBudget:
            return

    def candidates(self, kind: Pattern, way: Sequence[str]) -> Iterator[Witness]:
        """Chains of states from power-up in the last of which the formula would hold if conditions were behind as they may."""
        frames = [self.frame(kind.settled, number, way) for number in range(kind.changes + 1)]
        frames = [self.reach.at(number).settled for number in range(max(kind.settled, 0))] + frames
        last = frames[-1]
        assert isinstance(last, Instant) or kind.changes == 0
        literal = (self.read(last) if isinstance(last, Instant) else last).truth(self.asked.formula)[0]
        guard = self.sat.variable()
        wanted = [self.reach.start, literal, guard, *self.still(kind), *self.meant(frames, kind)]
        channels, trim = names_of_kind(self.cone, "channel"), self.asked.trim
        whole = self.cone | self.search.cone([START])
        for _ in range(MOST_CANDIDATES):
            found = self.reach.solve(wanted, frames, channels, trim=trim, fetch=True)
            if found is None:
                return
            chain = Found(tuple(frames), literal, tuple(wanted), found.model, found.points, from_power_up=True)
            yield self.search.chooser.choose(chain, whole)
            holds = self.search.chooser.holds
            seen = [x for frame in frames[len(frames) - kind.changes - 1 :] for x in self.pattern(frame, way)]
            self.sat.clause(-guard, *(-x if holds(x) else x for x in seen))

    def frame(self, settled: int, changes: int, way: Sequence[str]) -> Frame:
        """The frame after so many settled steps and changes in haste."""
        if changes == 0 and settled >= 0:
            return self.reach.at(settled).settled
        key = ("next", tuple(way), settled, changes)
        if key not in self.search.instants:
            if changes == 0:
                up = self.reach.at(0).settled
                before: Frame = Frame(self.reach.encoding, up.controls, Bits.off(), instant=True)
                controls = up.controls
            else:
                before = self.frame(settled, changes - 1, way)
                controls = self.reach.at(max(settled, 0) + changes).settled.controls
            self.search.instants[key] = NextInstant(before, controls, way)
        return self.search.instants[key]

    def still(self, kind: Pattern) -> Iterator[int]:
        """Nothing under memory is behind from one settled step to the next."""
        for number in range(max(kind.settled, 0)):
            for lag in self.reach.at(number).passing.lags.values():
                yield -lag

    def meant(self, frames: Sequence[Frame], kind: Pattern) -> Iterator[int]:
        """Of the changes, what the question leaves out."""
        last, before = frames[-1], frames[-2] if len(frames) > 1 else frames[-1]
        if self.asked.aloft and kind.changes:
            for switch in sorted(self.search.paces.hold_switches()):
                was, now = before.controls.positions[switch], last.controls.positions[switch]
                yield from (-self.sat.differ(was[position], now[position]) for position in was)
        for call in self.asked.passing:
            uncalled = frames[kind.settled].truth(call)[1] if kind.settled >= 0 else TRUE
            yield -self.sat.both((uncalled, last.truth(call)[0]))

    def pattern(self, frame: Frame, way: Sequence[str]) -> Iterator[int]:
        """What tells one candidate from another: how the conditions on the way stand, and what they go to."""
        for name in way:
            condition = self.setup.conditions[name]
            yield frame.delayed(condition)[0]
            yield frame.truth(condition.when)[0]

    def shown(self, witness: Witness, kind: Pattern) -> Case | None:
        """The first of the runs through a witness's states that shows it."""
        part = self.part()
        watch = self.watch(part)
        timed = self.pace.timed
        waits = tried_waits(self.setup, timed, watch.settling)
        for timeline in islice(self.timelines(witness, kind, watch.settling, waits), MOST_RUNS):
            self.count(part, timeline)
            spell = watch.spell(timeline)
            case = None if spell is None else self.case(witness, *unhurried(watch, timeline, spell))
            if case is not None:
                return case
        return None

    def timelines(
        self, witness: Witness, kind: Pattern, settling: Fraction, waits: Sequence[Fraction]
    ) -> Iterator[Timeline]:
        """The states by single movements: those in haste after one another, the others once everything has settled."""
        settled = max(kind.settled, 0)
        hasty = kind.changes - (kind.settled >= 0)  # waits that are tried
        for picked in product(waits, repeat=max(hasty, 0)):
            for states, of in orders(witness.states):
                gaps = []
                for place in range(len(states) - 1):
                    ends = of[place] != of[place + 1]  # the next movement begins another step
                    before = of[place]
                    if not ends:
                        gaps.append(TICK)
                    elif before < settled or (before == settled and kind.settled >= 0):
                        gaps.append(settling)
                    else:
                        gaps.append(picked[before - settled - (kind.settled >= 0)])
                yield dated(states, gaps)

    def case(self, witness: Witness, timeline: Timeline, spell: Spell) -> Case | None:
        """The case, replayed by the simulator with the whole setup."""
        whole = self.watch(without_ramps(self.setup)).spell(timeline)
        if whole is None or (whole.place, whole.since, whole.until) != (spell.place, spell.since, spell.until):
            return None
        late = {name: whole.late[name] for name in self.pace.timed if name in whole.late}
        waits = tuple(name for name, value in late.items() if value is False)
        stays = tuple(name for name, value in late.items() if value is True)
        timing = Timing(timeline.at, whole.since, whole.until, waits, stays)
        states: tuple[State, ...] = timeline.states
        return self.search.timed_case(witness, states, (*whole.ends, whole.evaluation), timing)

    def watch(self, setup: Setup) -> Watch:
        asked, settling = self.asked, settle_time(without_ramps(self.setup)) + TICK
        still = self.search.paces.hold_switches() if asked.aloft else None
        if asked.aloft:
            settling = max(settling, ALOFT + TICK)
        return Watch(setup, asked.formula, asked.patience, settling, still, asked.passing, self.pace.timed)

    def part(self) -> Setup:
        """What the question rests on, to be simulated by itself."""
        cone = self.search.cone([self.asked.formula, *self.asked.passing])
        return without_ramps(partial_setup(self.setup, cone))

    def count(self, part: Setup, timeline: Timeline) -> None:
        """Budgets are counts: about what a run of the simulator looks at."""
        size = len(part.conditions) + len(part.overrides) + len(part.channels) + len(part.modes) + 1
        looks = size * (len(timeline.at) + 2 * len(self.pace.timed))
        self.looks += looks
        self.sat.file.looks += looks
        if self.looks > MOST_LOOKS or self.sat.file.looks > MOST_LOOKS_A_FILE:
            raise OutOfBudget("the runs of the timed simulator used up their instants")

    def read(self, frame: Instant) -> Instant:
        """The frame as the question reads it: with trim or without."""
        if not self.asked.trim:
            return frame
        if frame.trimmed is None:
            frame.trimmed = frame.trimmed_with(self.reach.encoding.trimmed(frame.controls))
        assert isinstance(frame.trimmed, Instant)
        return frame.trimmed


def since(case: Case) -> Fraction:
    """From when on the formula holds, in seconds from power-up."""
    return ZERO if case.timing is None else case.timing.since


def partial_setup(setup: Setup, cone: Cone) -> Setup:
    """Only the parts in a cone, to be evaluated quicker."""
    inside = {kind: names_of_kind(cone, kind) for kind in ("condition", "mode", "channel", "override")}
    return replace(
        setup,
        conditions={n: c for n, c in setup.conditions.items() if n in inside["condition"]},
        modes=setup.modes if inside["mode"] else {},
        channels={n: c for n, c in setup.channels.items() if n in inside["channel"]},
        overrides={n: o for n, o in setup.overrides.items() if n in inside["override"]},
    )
