"""Moments for a path that needs a delay to be caught still running: shown by the timed simulator, or not at all."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import accumulate, count, islice, product

from setuplint.plain.evaluate import Evaluation
from setuplint.plain.simulate import settle_time, simulate
from setuplint.plain.state import OFF, State
from setuplint.plain.timelines import TICK
from setuplint.setup.model import ZERO, Setup

MOST_RUNS = 200
MOST_MOMENTS = 200_000  # over all runs of one question


def runs(setup: Setup, states: Sequence[State]) -> Iterator[tuple[Evaluation, ...]]:
    """Timed runs through the states with different waits between them: how each state ends, the last one settled."""
    settled = settle_time(setup) + TICK
    waits = {TICK, settled}
    for condition in setup.conditions.values():
        for wait in (condition.after, condition.stays):
            if wait:
                waits |= {max(TICK, wait - TICK), wait + TICK}
    looks = count()
    for picked in islice(product(sorted(waits, reverse=True), repeat=len(states) - 1), MOST_RUNS):
        ends = _run(setup, states, picked, settled, looks)
        if ends is None:
            return
        yield ends


def _run(
    setup: Setup, states: Sequence[State], waits: Sequence[Fraction], settled: Fraction, looks: Iterator[int]
) -> tuple[Evaluation, ...] | None:
    """How each state ends; None where too many moments have been looked at."""
    starts = list(accumulate(waits))
    ends: list[Evaluation] = []
    last: Evaluation | None = None
    changes = list(zip(starts, states[1:], strict=True))
    end = (starts[-1] if starts else ZERO) + settled
    for moment in simulate(setup, states[0], OFF, changes, end, from_power_up=True, jump=True):
        if next(looks) > MOST_MOMENTS:
            return None
        if len(ends) < len(starts) and moment.at >= starts[len(ends)] and last is not None:
            ends.append(last)
        last = moment.evaluation
    assert last is not None
    return (*ends, last)
