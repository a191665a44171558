"""Moments for a path that needs a delay to be caught still running: shown by the timed simulator, or not at all."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import accumulate, count, islice, product
from math import ceil

from setuplint.budget import Spent
from setuplint.named_tuple import NamedTuple
from setuplint.plain.evaluate import Evaluation
from setuplint.plain.simulate import Moment, settle_time, simulate
from setuplint.plain.state import OFF, State
from setuplint.plain.timelines import TICK
from setuplint.setup.model import ZERO, Setup

MOST_RUNS = 200
MOST_MOMENTS = 200_000  # over all runs of one question
PARTS_A_UNIT = 2  # of a setup, all of which is looked at in each moment


class TimedRun(NamedTuple):
    """A run from power-up: at which second each state begins, since when all is as it ends, how each state ends, the last one
    settled, and whether every state but the last was left to settle too."""

    at: tuple[Fraction, ...]
    since: Fraction
    ends: tuple[Evaluation, ...]
    is_patient: bool

    def last_moments(
        self, setup: Setup, states: Sequence[State], spent: Spent
    ) -> Iterator[tuple[Fraction, Evaluation]]:
        """The run once more: its moments in the last state until all is as it ends, with the outputs at their targets."""
        for moment in _moments(setup, states, self.at, self.since, spent):
            if moment.at >= self.at[-1]:
                yield moment.at, moment.target


def runs(setup: Setup, states: Sequence[State], spent: Spent) -> Iterator[TimedRun]:
    """Timed runs through the states with different waits between them, the patient one first. OutOfBudget."""
    settled = Fraction(ceil(settle_time(setup) + TICK))
    waits = {TICK, settled}
    for condition in setup.conditions.values():
        for wait in (condition.after, condition.stays):
            if wait:
                waits |= {max(TICK, wait - TICK), wait + TICK}
    looks = count()
    for picked in islice(product(sorted(waits, reverse=True), repeat=len(states) - 1), MOST_RUNS):
        run = _run(setup, states, picked, settled, looks, spent)
        if run is None:
            return
        yield run


def _run(
    setup: Setup,
    states: Sequence[State],
    waits: Sequence[Fraction],
    settled: Fraction,
    looks: Iterator[int],
    spent: Spent,
) -> TimedRun | None:
    """None where too many moments have been looked at."""
    starts = list(accumulate(waits))
    at = (ZERO, *starts)
    ends: list[Evaluation] = []
    last: Evaluation | None = None
    since = ZERO
    for moment in _moments(setup, states, at, at[-1] + settled, spent):
        if next(looks) > MOST_MOMENTS:
            return None
        if len(ends) < len(starts) and moment.at >= starts[len(ends)] and last is not None:
            ends.append(last)
        since = since if last == moment.evaluation else moment.at
        last = moment.evaluation
    assert last is not None
    return TimedRun(at, max(since, at[-1]), (*ends, last), all(wait == settled for wait in waits))


def _moments(
    setup: Setup, states: Sequence[State], at: Sequence[Fraction], end: Fraction, spent: Spent
) -> Iterator[Moment]:
    """Those of a run in which each state begins at its second. OutOfBudget."""
    parts = sum(map(len, (setup.conditions, setup.modes, setup.overrides, setup.channels)))
    changes = list(zip(at[1:], states[1:], strict=True))
    for moment in simulate(setup, states[0], OFF, changes, end, from_power_up=True, jump=True):
        spent.charge(1 + parts // PARTS_A_UNIT)
        yield moment
