"""How much work a file may take: counts, never a clock, so that an answer is the same on every machine (MEANING.md 9)."""

from __future__ import annotations

from dataclasses import dataclass

CONFLICTS_A_CALL = 5_000
CONFLICTS_A_QUESTION = 20_000
CONFLICTS_A_FILE = 30_000  # once these are spent, a search gets CONFLICTS_THEN: enough for what is not made to be hard
CONFLICTS_THEN = 200
STEPS_A_FILE = 100_000_000  # propagations: large files need many though they never conflict


class OutOfBudget(Exception):
    """A question used up its budget (counts, never a clock); str() says of what."""


@dataclass(slots=True)
class Spent:
    """What a file has used up, in all solvers that served it."""

    conflicts: int = 0
    steps: int = 0
    looks: int = 0  # parts of a setup that the timed simulator looked at
    boxes: int = 0  # halved where sums of several sticks meet
