"""Judges of the rules about a gyro's gain."""

from __future__ import annotations

import numpy as np

from .grid import Array, Choice
from .moves import differences
from .reach import Reach
from .settled import Moment, overridden
from .states import Judged


def in_the_air(reach: Reach, moment: Moment, choice: Choice) -> Array:
    """Flying, or the hold called on a collective craft and the stop not."""
    flying = reach.yes(moment, choice, "flying")
    return flying | (reach.called(moment, "hold") & ~reach.called(moment, "stop")) if reach.collective else flying


def gyro_gain_lost(reach: Reach) -> Judged:
    """By what decides it there: an override, else the channel."""
    if reach.motor is None or reach.world.motor_off is None:
        return None
    found = set()
    for channel in reach.driving("gyro-gain"):

        def lost(moment: Moment, choice: Choice, channel: str = channel) -> Array:
            return in_the_air(reach, moment, choice) & (abs(moment.output(channel, choice)) <= 15)

        if reach.anywhere(lambda m, c, n=channel: lost(m, c, n) & ~overridden(m, n)):  # type: ignore[misc]
            found.add(channel)
        for name in (o.name for o in reach.world.overrides if o.channel == channel):
            if reach.anywhere(lambda m, c, n=channel, o=name: lost(m, c, n) & decides(m, c, n, o)):  # type: ignore[misc]
                found.add(name)
    return frozenset(found)


def decides(moment: Moment, choice: Choice, channel: str, override: str) -> Array:
    """An override decides a channel."""
    order = choice.get(("tie", channel), ())
    mine = sorted(
        (o for o in moment.world.overrides if o.channel == channel),
        key=lambda o: (o.priority, order.index(o.name) if o.name in order else -1),
    )
    found = moment.grid.constant(False)
    for one in mine:
        active = moment.plain(one.when)
        found = active | found if one.name == override else found & ~active
    return found


def gyro_gain_sign(reach: Reach) -> Judged:
    """By channel: a movement puts it on the other side of zero, and each that does changes something else somewhere."""
    if reach.motor is None or reach.world.motor_off is None:
        return None
    return frozenset(channel for channel in reach.driving("gyro-gain") if sign_slips(reach, channel))


def sign_slips(reach: Reach, channel: str) -> bool:
    seen: dict[object, bool] = {}  # a movement that changes the sign: whether it changes something else
    for moment, where in reach.moments():
        for choice in reach.choices:
            for moved, after in reach.movements(moment):
                before, now = moment.output(channel, choice), after.output(channel, choice)
                turned = (np.minimum(before, now) < -15) & (np.maximum(before, now) > 15)
                air = in_the_air(reach, moment, choice) & in_the_air(reach, after, choice)
                here = where & moved & air & turned
                if not here.any():
                    continue
                movement = next(iter({k: v for k, v in after.fixed.items() if moment.fixed.get(k) != v}.items()))
                others = [d for d in differences(reach, moment, after, choice, but=channel) if (here & d).any()]
                seen[movement] = seen.get(movement, False) or bool(others)
    return bool(seen) and all(seen.values())
