"""Paths from power-up, walked by the plain evaluator."""

from __future__ import annotations

from collections.abc import Sequence

from .formula import Formula, Truth
from .meaning import Controls, World
from .search import Found, admits


def truths_after(
    world: World, formula: str | Formula, steps: Sequence[Controls], lags: Sequence[frozenset[str]] = ()
) -> set[Truth]:
    """The values that the formula may have in the last of `steps` (the first is power-up), under any choice.

    Raises ValueError where the path is none: a power-up that `start.requires` does not admit, or with a sensor heard; a
    receiver that goes off again; controls that are no state of the controls.
    """
    if not admits(world):
        world = world.without_start()
    memory, heard = world.memory_off, False
    for k, controls in enumerate(steps):
        full = world.full(controls)
        if (k == 0 and world.heard(full)) or (heard and not world.heard(full)):
            raise ValueError(f"step {k}: the receiver is off at power-up, and once on it stays on")
        heard = heard or world.heard(full)
        state = world.settle(full, memory, lags[k] if lags else frozenset())
        if k == 0 and not world.allowed(state):
            raise ValueError("the power-up state is not admitted")
        if k == len(steps) - 1:
            return world.truths(formula, controls, memory)
        memory = state.memory
    raise ValueError("a path has at least one step")


def replay(world: World, formula: str | Formula, found: Found) -> bool:
    """Whether a path of the search ends with the formula true."""
    return True in truths_after(world, formula, found.steps, found.lags)
