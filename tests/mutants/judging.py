"""Which rules are judged: those whose name a function of one of the rooms has, with `_` for `-`."""

from __future__ import annotations

from collections.abc import Callable

from setuplint.book import rulebook

from . import controls, failsafe, freezing, gyro, hovering, moves, reserve, shapes, states, timed, trainer, warnings
from .reach import Reach
from .states import Judged

ROOMS = (states, freezing, moves, timed, trainer, warnings, failsafe, shapes, controls, hovering, gyro, reserve)


def judges() -> dict[str, Callable[[Reach], Judged]]:
    """By rule: what says of a setup whether the rule's hazard is there, or of what, or None: it cannot be judged."""
    found = {}
    for rule in rulebook.rules():
        judge = next(
            (getattr(room, rule.replace("-", "_")) for room in ROOMS if hasattr(room, rule.replace("-", "_"))), None
        )
        if judge is not None:
            found[rule] = judge
    return found


JUDGES = judges()
