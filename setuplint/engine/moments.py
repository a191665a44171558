"""Whether a formula can hold for longer than a patience, on the way to a settled state too (MEANING.md 8, *Moments*).

A proof takes one frame in which all controls may change: slow conditions late or lingering as they like, all else settled. A
finding is a run of the timed simulator from power-up. What is neither is not decided, and the slow conditions are named.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import islice, product

from setuplint.budget import OutOfBudget
from setuplint.dataclass import dataclass, replace
from setuplint.engine import unknowns
from setuplint.engine.answers import FOUND, NOT_DECIDED, NOT_JUDGED, Answer, Case, Timing
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
from setuplint.setup import formulas as f
from setuplint.setup.cone import Cone, names_of_kind
from setuplint.setup.model import ZERO, Condition, Setup
from setuplint.setup.predicates import START
from setuplint.solver.encoding import Bits
from setuplint.solver.frame import Frame
from setuplint.solver.instants import AnyInstant, Instant, NextInstant
from setuplint.solver.reach import Found, Question
from setuplint.solver.sat import FALSE, TRUE
from setuplint.solver.slowness import Slowness, in_ticks
from setuplint.solver.witness import Witness

MOST_CANDIDATES = 6  # states that are tried in time, of each kind
MOST_RUNS = 60  # of each of them
MOST_LOOKS = 200_000  # parts of the setup looked at, instant by instant, a question
MOST_LOOKS_A_FILE = 4_000_000


@dataclass(frozen=True, slots=True)
class InTime:
    """A question about moments: can the formula hold for longer than `patience` seconds while no control moves?

    `aloft`: only while the hold is not called and none of its switches has moved for 5 s. `trim`: every trim anywhere in its
    range. `passing`: cases in which one of these holds, and did not when all was settled last (before power-up nothing did),
    are passed over. `at_start`: only from power-up until the first movement.
    """

    formula: f.Formula
    patience: Fraction
    aloft: bool = False
    trim: bool = False
    passing: tuple[f.Formula, ...] = ()
    at_start: bool = False


class Pattern(NamedTuple):
    """How far a run settles step by step (-1: not even at power-up), and how many changes then come in haste."""

    settled: int
    changes: int


SHORT = (Pattern(-1, 0), Pattern(0, 1), Pattern(1, 1), Pattern(-1, 1), Pattern(0, 2), Pattern(1, 2), Pattern(-1, 2))
LONG = (*SHORT, Pattern(2, 1), Pattern(3, 1), Pattern(2, 2))  # where the past matters
FRESH = (Pattern(-1, 0),)  # nothing moves


def answer(search: Search, asked: InTime) -> Answer:
    """The answer for settled states, where that is a case or no condition is slow; else the answer for moments."""
    settled = search.find(asked.formula, at_power_up=asked.at_start, trim=asked.trim)
    cone = search.cone([asked.formula])
    pace = search.paces.slowness(cone, asked.patience, aloft=asked.aloft)
    if settled.found or not pace.slow:
        return settled
    return MomentSearch(search, asked, pace, cone).answer(settled)


def never(search: Search, formula: f.Formula) -> bool:
    """Whether the formula is proved to hold in no moment, however short, and to be known in all of them."""
    if not search.find(formula).impossible:
        return False

    def perhaps(frame: Frame) -> int:
        return -frame.truth(formula)[1]

    return never_shown(search, perhaps, search.cone([formula]))


def never_shown(search: Search, question: Question, cone: Cone) -> bool:
    """Whether a literal of which no settled state is an example is proved to hold in no moment, however short."""
    pace = search.paces.slowness(cone, ZERO)
    if not pace.slow:
        return True
    moments = MomentSearch(search, InTime(f.FALSE, ZERO), pace, cone)
    moments.reach.sat.new_question()
    try:
        return moments.never(question(moments.any_instant(pace.slow)), pace.slow, thorough=True)
    except OutOfBudget:
        return False


class MomentSearch:
    """One question about moments."""

    def __init__(self, search: Search, asked: InTime, pace: Slowness, cone: Cone) -> None:
        self.search, self.asked, self.pace = search, asked, pace
        self.reach, self.sat, self.setup = search.reach, search.reach.sat, search.setup
        self.cone = cone | {("trim", "")} if asked.trim else cone
        self.looks = 0

    def answer(self, settled: Answer) -> Answer:
        self.sat.new_question()
        slow = self.pace.slow
        trouble = ""
        try:
            if self.never(self.rails(slow)[0], slow):
                return self._proved(settled)
        except OutOfBudget as end:
            trouble = str(end)
        case = self.found(self.pace.way)
        if case is not None:
            return Answer(FOUND, lambda: case, reads=self.search.reads)
        if not settled.impossible:
            return settled
        try:
            if not trouble and self.never(self.rails(slow)[0], slow, thorough=True):
                return self._proved(settled)
            if not trouble and (self.is_brief() or (self.exclude() and self.is_brief())):
                return settled
        except OutOfBudget as end:
            trouble = str(end)
        return Answer(NOT_DECIDED, because=(trouble or self.in_the_way(),))

    def _proved(self, settled: Answer) -> Answer:
        """It holds in no moment: unless it lasts while a slow condition changes, or is only not known."""
        if self.pace.above and not self._lasting():
            case = self.found((*self.pace.way, *self.pace.above))
            if case is not None:
                return Answer(FOUND, lambda: case, reads=self.search.reads)
        if not settled.impossible:
            return settled
        try:
            if self.never(self.rails(self.pace.slow)[1], self.pace.slow, thorough=True):
                return settled
        except OutOfBudget as end:
            return Answer(NOT_DECIDED, because=(str(end),))
        return Answer(
            NOT_JUDGED, because=unknowns.reasons(self.setup, self.asked.formula, self.cone, self.search.unknowns)
        )

    def _lasting(self) -> bool:
        """Whether it is proved false even while what rests on a slow condition has not followed it."""
        every = (*self.pace.slow, *self.pace.above)
        try:
            return self.never(self.rails(every)[0], every)
        except OutOfBudget:
            return False

    def in_the_way(self) -> str:
        """The slow conditions, in words."""
        slow = self.any_instant(self.pace.slow).slow
        conditions = [condition for name, condition in self.setup.conditions.items() if name in slow]
        meanwhile = (
            f"{'; '.join(map(behind, conditions))}: it may be so meanwhile" if conditions else "memory may make it so"
        )
        return f"{meanwhile}, and no timed run shows it"

    # -- proofs

    def any_instant(self, slow: Sequence[str]) -> AnyInstant:
        """The frame of all moments. OutOfBudget."""
        key = ("any", self.asked.at_start, tuple(slow))
        found = self.search.instants.get(key)
        if found is None:
            settled = self.reach.at(0).settled if self.asked.at_start else self.reach.base.settled
            before = self.any_memory() if self.asked.at_start else settled.before
            found = AnyInstant(self.reach.encoding, settled.controls, before)
            if tuple(slow) == self.pace.timed:
                for name in slow:
                    if self.may_be_behind(found, self.setup.conditions[name]):
                        found.slow.add(name)
            else:  # a slow one lingers also on what a quick one let pass before it had settled
                found.slow.update(self.any_instant(self.pace.timed).slow.intersection(slow))
            self.search.instants[key] = found
        assert isinstance(found, AnyInstant)
        return found

    def may_be_behind(self, frame: AnyInstant, condition: Condition) -> bool:
        """Whether a condition can be late or linger. One whose `when` never holds cannot, nor can one that only lingers and
        whose `when` always holds, or cannot have changed since power-up. OutOfBudget."""
        true, false = frame.truth(condition.when)
        given = [self.reach.start] if self.asked.at_start else []
        if not self.sat.solve([*given, -false]):
            return False
        if condition.after:
            return True
        moves = not self.asked.at_start or any(self.rests(condition.name, name) for name in self.search.paces.timed)
        return moves and self.sat.solve([*given, -true])

    def rests(self, condition: str, other: str) -> bool:
        return condition != other and self.reach.cones.rests("condition", condition, "condition", other)

    def any_memory(self) -> Bits:
        """What may be remembered before the first movement: only what rests on a timed condition can change by itself."""
        rests = self.reach.cones.rests
        open_ = {
            n for n in self.reach.remembering for t in self.search.paces.timed if rests("condition", n, "condition", t)
        }

        def bits() -> dict[str, int]:
            return {n: self.sat.variable() if n in open_ else FALSE for n in self.reach.remembering}

        return Bits(bits(), bits())

    def rails(self, slow: Sequence[str]) -> tuple[int, int]:
        """The literals that the formula holds in a moment, and that it may."""
        true, false = self.read(self.any_instant(slow)).truth(self.asked.formula)
        return true, -false

    def never(self, literal: int, slow: Sequence[str], *, thorough: bool = False) -> bool:
        frame = self.any_instant(slow)
        if self.asked.at_start:
            return self.reach.solve([self.reach.start, literal], [frame], names_of_kind(self.cone, "channel")) is None
        return self.reach.never(literal, frame, self.cone, thorough=thorough)

    def is_brief(self) -> bool:
        """Whether it is proved that the formula holds in no moment, or only while one condition is late (or lingers) that
        is so for no longer than the patience."""
        frame = self.any_instant(self.pace.timed)
        perhaps = self.rails(self.pace.timed)[1]
        if self.never(perhaps, self.pace.timed):
            return True
        for name, behind in list(frame.lags.items()):
            condition = self.setup.conditions[name]
            on = frame.delayed(condition)[0]
            for seconds, sign in ((condition.after, -1), (condition.stays, 1)):
                if seconds and in_ticks(seconds) <= self.asked.patience:
                    otherwise = self.sat.both((perhaps, -self.sat.both((behind, sign * on))))
                    if self.never(otherwise, self.pace.timed, thorough=True):
                        return True
        return False

    def exclude(self) -> bool:
        """Say which two conditions are never on together, because of their times; whether there were any. What comes late is
        on when its `when` has held for that long. What lingers for no longer than that is on when its `when` held meanwhile.
        So they are not, where both formulas hold in no moment."""
        frame = self.any_instant(self.pace.timed)
        late = [c for c in map(self.setup.conditions.get, frame.lags) if c is not None and c.after and not c.stays]
        pairs = [(one, other) for one in late for other in map(self.setup.conditions.get, frame.lags)
                 if other is not None and 0 < other.stays <= one.after]  # fmt: skip
        found = False
        for one, other in pairs:
            met = self.sat.both(-frame.truth(c.when)[1] for c in (one, other))
            if self.never(met, self.pace.timed):
                self.sat.clause(-frame.delayed(one)[0], -frame.delayed(other)[0])
                self.sat.forget()
                found = True
        return found

    def read(self, frame: Instant) -> Instant:
        """The frame as the question reads it: with trim or without."""
        if not self.asked.trim:
            return frame
        if frame.trimmed is None:
            frame.trimmed = frame.trimmed_with(self.reach.encoding.trimmed(frame.controls))
        assert isinstance(frame.trimmed, Instant)
        return frame.trimmed

    # -- runs

    def found(self, way: Sequence[str]) -> Case | None:
        """A case in time, replayed; None where none was found."""
        memory = any(self.setup.conditions[name].remembers for name in names_of_kind(self.cone, "condition"))
        for kind in FRESH if self.asked.at_start else LONG if memory else SHORT:
            try:
                for witness in self.candidates(kind, way):
                    case = self.shown(witness, kind)
                    if case is not None:
                        return case
            except OutOfBudget:
                continue
        return None

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


def behind(condition: Condition) -> str:
    """How a condition can be behind its `when`, in words."""
    waits = f"comes {float(condition.after):g} s late" if condition.after else ""
    stays = f"stays on for {float(condition.stays):g} s" if condition.stays else ""
    return f"condition {condition.name} {' and '.join(word for word in (waits, stays) if word)}"


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
