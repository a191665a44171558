"""Proofs that a formula holds in no moment, or in none for longer than a patience (MEANING.md 8, *Moments*)."""

from __future__ import annotations

from collections.abc import Sequence

from setuplint.budget import OutOfBudget
from setuplint.engine import unknowns
from setuplint.engine.answers import FOUND, NOT_DECIDED, NOT_JUDGED, Answer
from setuplint.engine.moment_runs import MomentRuns
from setuplint.setup.cone import names_of_kind
from setuplint.setup.model import Condition
from setuplint.solver.encoding import Bits
from setuplint.solver.instants import AnyInstant, EverSince
from setuplint.solver.sat import FALSE
from setuplint.solver.slowness import in_ticks


class MomentSearch(MomentRuns):
    """One question about moments: what is proved of it, and else its runs."""

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
        if not settled.impossible or self.search.is_described(self.cone, self.asked.formula):
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
            ever = EverSince(self.reach.encoding, settled.controls) if self.asked.at_start else None
            before = settled.before if ever is None else self.any_memory(ever)
            found = AnyInstant(self.reach.encoding, settled.controls, before, ever)
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

    def any_memory(self, ever: EverSince) -> Bits:
        """What may be remembered before the first movement: only what rests on a timed condition can change by itself, and only
        what was set since power-up is on."""
        rests = self.reach.cones.rests
        open_ = {
            n for n in self.reach.remembering for t in self.search.paces.timed if rests("condition", n, "condition", t)
        }

        def bit(name: str) -> int:
            if name not in open_:
                return FALSE
            return self.sat.both((self.sat.variable(), ever.truth(self.setup.conditions[name].when)[0]))

        def bits() -> dict[str, int]:
            return {name: bit(name) for name in self.reach.remembering}

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


def behind(condition: Condition) -> str:
    """How a condition can be behind its `when`, in words."""
    waits = f"comes {float(condition.after):g} s late" if condition.after else ""
    stays = f"stays on for {float(condition.stays):g} s" if condition.stays else ""
    return f"condition {condition.name} {' and '.join(word for word in (waits, stays) if word)}"
