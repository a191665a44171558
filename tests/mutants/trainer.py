"""Judges of the rules about a pupil's sticks."""

from __future__ import annotations

from tests.oracle.formula import And

from .grid import Array, Choice
from .reach import Reach, Verdict
from .settled import Moment


def trainer_stays(reach: Reach) -> Verdict:
    lent = reach.world.lent
    return lent is not None and reach.can(And((lent, reach.world.parse("sprung switches released"))))


def trainer_at_start(reach: Reach) -> Verdict:
    lent, released = reach.world.lent, reach.world.parse("sprung switches released")
    if lent is None:
        return False
    moment, where = reach.power_up
    return bool((moment.plain(And((lent, released))) & where).any())


def trainer_two_moves(reach: Reach) -> Verdict:
    lent = reach.world.lent
    if lent is None:
        return False

    def stuck(moment: Moment, choice: Choice) -> Array:
        found = moment.plain(lent)
        for moved, after in reach.movements(moment):
            found = found & ~(moved & ~after.plain(lent))
        return found

    return reach.anywhere(stuck)
