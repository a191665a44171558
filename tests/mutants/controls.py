"""Judges of the rules about controls: which way, how far and how fast a control goes with its own stick."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

import numpy as np

from .grid import Array, Choice, Floats, Moment
from .reach import Reach
from .states import Judged

OWN = {"aileron": "aileron", "elevator": "elevator", "rudder": "rudder", "collective": "throttle"}


def asked(reach: Reach, moment: Moment) -> Array:
    """Neither hold nor rescue called, in a mode that is flown."""
    free = ~reach.called(moment, "hold") & ~reach.called(moment, "rescue")
    return free & (moment.mode >= 0) if moment.modes else free


def outputs_at(reach: Reach, moment: Moment, choice: Choice, channel: str, stick: str, place: int) -> Floats:
    """What the channel's line gives with a stick somewhere, all else kept, the mode too."""
    lines = reach.world.channels[channel].lines
    axis, places = reach.grid.index[stick], reach.grid.axes[stick]
    found = reach.grid.constant(np.nan)
    for mode, k in [*moment.modes.items(), (None, -1)]:
        out = moment.servo(channel, moment.sum_of(lines[mode], choice, None))
        if out.shape[axis] > 1:
            out = np.take(out, [places.index(Fraction(place))], axis=axis)
        found = np.where(moment.mode == k, out, found)
    return np.asarray(found)


def rise(reach: Reach, moment: Moment, choice: Choice, channel: str) -> Floats:
    """From one end of its own stick to the other; nothing where an override decides."""
    stick = OWN[reach.world.channels[channel].drives]
    low, high = (outputs_at(reach, moment, choice, channel, stick, place) for place in (-100, 100))
    return np.where(moment.decided(channel), 0.0, high - low)


def each_control(reach: Reach) -> Iterator[str]:
    yield from reach.driving(*OWN)


def control_reversed(reach: Reach) -> Judged:
    """By channel: both directions in two states."""
    found = set()
    for channel in each_control(reach):

        def goes(sign: int, channel: str = channel) -> bool:
            return reach.anywhere(lambda m, c: asked(reach, m) & (sign * rise(reach, m, c, channel) > 0.5))

        if goes(1) and goes(-1):
            found.add(channel)
    return frozenset(found)
