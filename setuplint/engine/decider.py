"""The public face of the engine: ask what a setup can do (MEANING.md), and get a proof or a case to try on the bench."""

from __future__ import annotations

from setuplint.budget import STEPS_A_FILE
from setuplint.engine import delays, ranges
from setuplint.engine.answers import Delay, Range
from setuplint.engine.search import Asked, Search
from setuplint.setup import formulas as f
from setuplint.setup.model import Setup

LARGEST = 20_000  # variables


class Decider(Search):
    """Decides questions about one setup: `find` (with a case or a proof), `output_range` and `delay`."""

    def renewed(self) -> Decider:
        """One with a new solver, where this one's has grown so large that whatever it is asked takes long: with the same
        budget, the same answers, and sticks and voltages cut where they were."""
        sat = self.reach.sat
        if sat.variables < LARGEST or sat.file.steps > STEPS_A_FILE:
            return self
        new = Decider(self.whole, self.reach.sat.file)
        new._answers = self._answers
        was, now = self.reach.base.settled.controls, new.reach.base.settled.controls
        for old, fresh in ((was.sticks, now.sticks), (was.voltages, now.voltages)):
            for name, quantity in old.items():
                for at, (below, upto) in zip(quantity.at, quantity.pairs, strict=True):
                    fresh[name].cut(at, below != upto)
        return new

    def of_variant(self, setup: Setup) -> Decider:
        """One for another setup, within the same budget."""
        return Decider(setup, self.reach.sat.file)

    def output_range(self, channel: str, given: Asked = f.TRUE) -> Range:
        """The exact least and greatest settled output of a channel, in percent, over the reachable states that `given`
        allows, each with its state. KeyError where there is no such channel."""
        return ranges.output_range(self, channel, self.formula(given))

    def delay(self, formula: Asked, channel: str) -> Delay:
        """The longest time, in seconds, from one movement of a switch that makes the formula true (false before, all
        settled) until the channel's output has what it settles to. KeyError where there is no such channel, OutOfBudget
        (setuplint.solver.sat) where a question ran out of its budget."""
        return delays.delay(self, self.formula(formula), channel)
