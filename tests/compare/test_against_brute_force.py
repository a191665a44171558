"""Random pairs of set-ups (one, and a mutant of it), compared, and searched together by brute force (joint.py): whatever is
different anywhere is told or said not to be compared; what is told is so, in the states that are told and in no others; what is
said to be the same is the same everywhere."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from fractions import Fraction

import pytest

from setuplint.comparison.changes import CraftChange
from setuplint.comparison.regions import Region, ValueRange
from tests.compare.against import Pair, Told
from tests.compare.pairs import pair

CHUNK = 5


@pytest.mark.slow
@pytest.mark.parametrize("first", [*range(0, 35, CHUNK), 70])  # 74 alone has more places than are told
def test_what_is_told_is_what_is_so(first: int) -> None:
    wrong = {seed: found for seed in range(first, first + CHUNK) if (found := next(disagreements(seed), None))}
    assert not wrong


TOLD: dict[int, list[CraftChange]] = {}  # what is told of the seeds that were asked


def disagreements(seed: int) -> Iterator[str]:
    both = Pair(*pair(seed))
    TOLD[seed] = both.told.changes
    return both.disagreements()


@pytest.mark.slow
def test_that_the_pairs_differ_in_every_way() -> None:
    """Enough of everything, or the test above would show little."""
    told = [change for seed in range(35) for change in TOLD.get(seed) or Pair(*pair(seed)).told.changes]
    kinds = {change.kind for change in told}
    assert kinds == {"output", "mode", "alarm", "timer", "intent", "start"}
    assert sum(change.whole for change in told) > 0.9 * len(told)
    assert sum(len(change.steps) > 1 for change in told) > 5
    assert sum(bool(change.assumed) for change in told) > 5
    assert sum(len(change.where) > 1 for change in told) > 5


@pytest.mark.slow
@pytest.mark.parametrize(
    "spoilt",
    [
        lambda told: told.changes.pop(next(n for n, c in enumerate(told.changes) if c.kind == "output")),
        lambda told: told.cases.reverse(),
    ],
    ids=["one change not told", "cases of others"],
)
def test_that_a_wrong_comparison_is_seen(spoilt: Callable[[Told], object]) -> None:
    def seen(seed: int) -> bool:
        both = Pair(*pair(seed))
        if not any(change.kind == "output" for change in both.told.changes):
            return False
        spoilt(both.told)
        both.told.cases = both.told.cases[: len(both.told.changes)]
        return next(both.disagreements(), None) is not None

    assert any(map(seen, range(6)))


@pytest.mark.slow
def test_that_wrong_states_are_seen() -> None:
    """A part that is told everywhere, or at a single place."""
    at = Fraction(17, 3)
    everywhere, nowhere = Region({}, {}), Region({}, {"throttle": ValueRange(at, at, True, True)})

    def seen(seed: int, part: Region) -> bool:
        both = Pair(*pair(seed))
        both.told.changes = [replace(c, where=(part,), sticks=None) for c in both.told.changes]
        return next(both.disagreements(), None) is not None

    for part in (everywhere, nowhere):
        assert any(seen(seed, part) for seed in range(6))
