"""The public face of the engine: ask what a setup can do (MEANING.md), and get a proof or a case to try on the bench."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from fractions import Fraction

from setuplint.budget import MANY, PART, OutOfBudget
from setuplint.dataclass import replace
from setuplint.engine import delays, moments, movements, pairs, ranges
from setuplint.engine.answers import Answer, Delay, InTime, Range
from setuplint.engine.movement_search import MovementSearch
from setuplint.engine.search import Asked, Movement
from setuplint.setup import formulas as f
from setuplint.setup.cone import Cone, names_of_kind
from setuplint.setup.model import Condition, Setup
from setuplint.solver import demands
from setuplint.solver.frame import Frame
from setuplint.solver.phases import PhasedRun, phase_starts
from setuplint.solver.reach import Question

HOLD = f.Predicate("hold called")


class Decider(MovementSearch):
    """Decides questions about one setup: `find` (with a case or a proof), `output_range` and `delay`."""

    watchers: dict[tuple[str, f.Formula, f.Formula], Decider]

    def renewed(self) -> Decider:
        """One with a new solver, where this one's has grown so large that whatever it is asked takes long: with the same
        budget, the same answers, and sticks and voltages cut where they were."""
        self.watchers = {key: each for key, each in self.watchers.items() if each.reach.sat.variables < MANY}
        sat = self.reach.sat
        if sat.variables < MANY or sat.file.over:
            return self
        try:
            sat.file.charge(PART * len(self.cones.nodes))
            new = Decider(self.whole, sat.file, self, self.noted, self.known)
            was, now = self.reach.base.settled.controls, new.reach.base.settled.controls
            for old, fresh in ((was.sticks, now.sticks), (was.voltages, now.voltages)):
                for name, quantity in old.items():
                    for place in quantity.places:
                        fresh[name].cut(place)
        except OutOfBudget:  # this one answers nothing either
            return self
        new._answers = {asked: answer for asked, answer in self._answers.items() if not answer.waits}
        self.let_go()
        return new

    def forget_kept(self) -> None:
        """From now on all is asked, and nothing of it kept for other texts."""
        for each in (self, *self.watchers.values()):
            each.known = None

    def find_moment(
        self,
        formula: Asked,
        patience: Fraction,
        *,
        aloft: bool = False,
        trim: bool = False,
        passing: tuple[f.Formula, ...] = (),
        at_start: bool = False,
    ) -> Answer:
        """Like `find`, of moments too: a run of the timed simulator from power-up in which the formula holds for longer than
        `patience` seconds while no control moves, or a proof that there is none.

        `aloft`: only while the hold is not called and none of its switches has moved for 5 s. `passing`: cases in which one of
        these holds, and did not when all was settled last (before power-up nothing did), are passed over. `at_start`: only
        from power-up until the first movement.
        """
        asked = InTime(self.formula(formula), patience, aloft, trim, passing, at_start)
        formulas = [asked.formula, *passing, *([HOLD] if aloft else [])]
        cone = self.note(formulas)
        found = self._answers.get(asked)
        if found is None:
            found = self._answers[asked] = self.recalled(asked, cone, lambda: moments.answer(self, asked))
        return found

    def find_pairs(
        self, formulas: Sequence[f.Formula], places: Iterable[pairs.Pair]
    ) -> Iterator[tuple[pairs.Pair, str]]:
        """For pairs of places among formulas the verdict of `find` for both, FOUND or IMPOSSIBLE, as far as it is known of all
        pairs at once; "" where it has to be asked."""
        return pairs.verdicts(self, formulas, places)

    def movement_verdicts(
        self, before: f.Formula, after: f.Formula, given: Mapping[str, f.Formula]
    ) -> Iterator[tuple[Movement, str]]:
        """For each movement of a switch that `after` rests on the verdict of `find_movement`, worked out of all together;
        `given` has for each switch what holds before beside `before`."""
        return movements.verdicts(self, before, after, given)

    @property
    def work(self) -> int:
        """What was spent of the file's budget so far."""
        return self.reach.sat.file.work

    def charge(self, work: int) -> None:
        """Count work that is done beside the engine. OutOfBudget where there is none left to do."""
        self.reach.sat.file.charge(work)

    @property
    def over(self) -> bool:
        """Whether the file's budget is spent: nothing more is answered."""
        return self.reach.sat.file.over

    def never_holds(self, formula: Asked) -> bool:
        """Whether the formula is proved to hold in no moment at all, however short."""
        asked = self.formula(formula)
        self.note([asked])
        return moments.never(self, asked)

    def never_shown(self, question: Question, cone: Cone) -> bool:
        """Whether a literal is proved to hold in no moment at all, however short."""
        self.reads.cone(cone)
        return moments.never_shown(self, question, cone)

    def watching(self, name: str, when: f.Formula, until: f.Formula) -> Decider:
        """One for the same setup with a latch of the question's own, whose formulas may ask for outputs."""
        key = (name, when, until)
        self.note([when, until])
        if key not in self.watchers:
            latch = Condition(name, when, until=until, watches=True)
            setup = replace(self.setup, conditions={**self.setup.conditions, name: latch})
            known = self.known.with_latch(key) if self.known is not None else None
            self.watchers[key] = Decider(setup, self.reach.sat.file, reads=self.noted, known=known)
        return self.watchers[key]

    def of_variant(self, setup: Setup) -> Decider:
        """One for another setup, within the same budget."""
        return Decider(setup, self.reach.sat.file, reads=self.noted)

    def let_go(self) -> None:
        """Nothing more is asked: what holds each other is taken apart, so that its memory is free at once."""
        for each in self.watchers.values():
            each.let_go()
        self._answers, self.watchers = {}, {}
        for frame in (*self.reach.frames, *self.instants.values()):
            frame.let_go()

    def output_range(self, channel: str, given: Asked = f.TRUE) -> Range:
        """The exact least and greatest settled output of a channel, in percent, over the reachable states that `given`
        allows, each with its state. KeyError where there is no such channel."""
        asked = self.formula(given)
        self.note([asked], ("channel", channel))
        return ranges.output_range(self, channel, asked)

    def delay(self, formula: Asked, channel: str) -> Delay:
        """The longest time, in seconds, from one movement of a switch that makes the formula true (false before, all
        settled) until the channel's output has what it settles to. KeyError where there is no such channel, OutOfBudget
        (setuplint.solver.sat) where a question ran out of its budget."""
        asked = self.formula(formula)
        self.note([asked], ("channel", channel))
        return delays.delay(self, asked, channel)

    def run_after(self, frame: Frame, moved: Frame, formulas: Sequence[f.Formula], limit: Fraction) -> PhasedRun:
        """What formulas rest on, instant by instant for so many seconds after a movement, as literals: for a question about
        movements. OutOfBudget where too much is delayed."""
        inside = names_of_kind(self.note(formulas), "condition")
        timed = any(name in inside for name in self.paces.timed)
        starts = phase_starts(self.setup, self.paces.waits, inside, limit) if timed else ()
        return PhasedRun(frame, moved, starts, limit)

    def longest_ramp(self, channel: str) -> Fraction:
        """The most seconds that a channel's ramps can take. KeyError where there is no such channel, OutOfBudget where its lines
        hang on too many switches."""
        self.note([], ("channel", channel))
        return demands.longest_ramp(self.reach.encoding, self.setup.channels[channel])
