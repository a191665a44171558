"""Cards of random setups of the whole format: memory, ties, delays, thresholds on sticks and sensors, what is not described."""

from __future__ import annotations

import pytest

import setuplint
from setuplint.bench import proof
from setuplint.bench.maker import NO_STEPS
from setuplint.bench.stages import bench_card
from tests.oracle.setups import random_setup

SEEDS = [3, 7, 13, 16, 21, 26, 31, 33, 39, 41, 50, 151, *range(2000, 2004)]  # the first ones were once wrong


@pytest.mark.slow
@pytest.mark.parametrize("seed", SEEDS)
def test_the_card_holds_and_lacks_nothing(seed: int) -> None:
    of = bench_card(setuplint.load_text(random_setup(seed)).model)
    assert list(proof.faults(of)) == []
    assert proof.missing_items(of) == []


@pytest.mark.slow
def test_steps_are_found_for_nearly_all_that_can_be() -> None:
    """What the engine can reach and no steps were found for is the exception: memory of several bits, set in one movement."""
    cards = [bench_card(setuplint.load_text(random_setup(seed)).model) for seed in range(3000, 3006)]
    items = sum(len(of.items) for of in cards)
    lost = sum(left.because == NO_STEPS for of in cards for left in of.left)
    assert lost * 50 <= items
