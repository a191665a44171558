"""Moments for a path that needs a delay to be caught still running: shown by the timed simulator, or not at all."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import islice, product

from setuplint.plain.evaluate import Evaluation
from setuplint.plain.simulate import settle_time, simulate
from setuplint.plain.state import OFF, State
from setuplint.setup.model import Setup

MOST_RUNS = 200
MOST_MOMENTS = 200_000  # over all runs of one question
STEP = Fraction(1, 100)


def runs(setup: Setup, states: Sequence[State]) -> Iterator[tuple[Evaluation, ...]]:
    """Timed runs through the states with different waits between them: how each state ends, the last one settled."""
    settled = settle_time(setup) + STEP
    waits = {STEP, settled}
    for condition in setup.conditions.values():
        for wait in (condition.after, condition.stays):
            if wait:
                waits |= {max(STEP, wait - STEP), wait + STEP}
    moments = 0
    for picked in islice(product(sorted(waits, reverse=True), repeat=len(states) - 1), MOST_RUNS):
        moments += int((sum(picked) + settled) / STEP) + 1
        if moments > MOST_MOMENTS:
            return
        yield _run(setup, states, picked, settled)


def _run(setup: Setup, states: Sequence[State], waits: Sequence[Fraction], settled: Fraction) -> tuple[Evaluation, ...]:
    changes: list[tuple[Fraction, State]] = []
    now = Fraction(0)
    for state, wait in zip(states[1:], waits, strict=True):
        now += wait
        changes.append((now, state))
    starts = [at for at, _ in changes]
    ends: list[Evaluation] = []
    last: Evaluation | None = None
    for moment in simulate(setup, states[0], OFF, changes, now + settled, from_power_up=True):
        if len(ends) < len(starts) and moment.at >= starts[len(ends)] and last is not None:
            ends.append(last)
        last = moment.evaluation
    assert last is not None
    return (*ends, last)
