"""Random setups end within bounds, without a fault of ours."""

from __future__ import annotations

import pytest

from tests import fuzz


@pytest.mark.quick(1)
@pytest.mark.parametrize("seed", range(12))
def test_a_random_setup_ends_within_bounds(seed: int) -> None:
    assert fuzz.trouble(seed) == ""
