"""Moments for a path that needs a delay to be caught still running: shown by the timed simulator, or not at all."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import accumulate, count, islice, product
from math import ceil

from setuplint.named_tuple import NamedTuple
from setuplint.plain.evaluate import Evaluation
from setuplint.plain.simulate import settle_time, simulate
from setuplint.plain.state import OFF, State
from setuplint.plain.timelines import TICK
from setuplint.setup.model import ZERO, Setup

MOST_RUNS = 200
MOST_MOMENTS = 200_000  # over all runs of one question


class TimedRun(NamedTuple):
    """A run from power-up: at which second each state begins, since when all is as it ends, how each state ends, the last one
    settled, and whether every state but the last was left to settle too. `tail` are the moments of the last state, each with
    the outputs at their targets."""

    at: tuple[Fraction, ...]
    since: Fraction
    ends: tuple[Evaluation, ...]
    is_patient: bool
    tail: tuple[tuple[Fraction, Evaluation], ...]


def runs(setup: Setup, states: Sequence[State]) -> Iterator[TimedRun]:
    """Timed runs through the states with different waits between them, the patient one first."""
    settled = Fraction(ceil(settle_time(setup) + TICK))
    waits = {TICK, settled}
    for condition in setup.conditions.values():
        for wait in (condition.after, condition.stays):
            if wait:
                waits |= {max(TICK, wait - TICK), wait + TICK}
    looks = count()
    for picked in islice(product(sorted(waits, reverse=True), repeat=len(states) - 1), MOST_RUNS):
        run = _run(setup, states, picked, settled, looks)
        if run is None:
            return
        yield run


def _run(
    setup: Setup, states: Sequence[State], waits: Sequence[Fraction], settled: Fraction, looks: Iterator[int]
) -> TimedRun | None:
    """None where too many moments have been looked at."""
    starts = list(accumulate(waits))
    ends: list[Evaluation] = []
    last: Evaluation | None = None
    since, tail = ZERO, list[tuple[Fraction, Evaluation]]()
    changes = list(zip(starts, states[1:], strict=True))
    end = (starts[-1] if starts else ZERO) + settled
    for moment in simulate(setup, states[0], OFF, changes, end, from_power_up=True, jump=True):
        if next(looks) > MOST_MOMENTS:
            return None
        if len(ends) < len(starts) and moment.at >= starts[len(ends)] and last is not None:
            ends.append(last)
        since = since if last == moment.evaluation else moment.at
        last = moment.evaluation
        if len(ends) == len(starts):
            tail.append((moment.at, moment.target))
    assert last is not None
    at = (ZERO, *starts)
    return TimedRun(at, max(since, at[-1]), (*ends, last), all(wait == settled for wait in waits), tuple(tail))
