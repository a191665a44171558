"""The judges of whether a measured hover can be flown, and gone through in time."""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from .grid import Array, Choice
from .reach import Reach, Verdict
from .settled import Moment

CALLED = ("hold", "rescue")


def hover_out_of_reach(reach: Reach) -> frozenset[str]:
    """By the first channel of its kind."""
    found = set()
    if "governed-above" not in reach.world.craft:
        found |= beyond(reach, reach.driving("motor"), reach.craft("hover-throttle"), 100)
    if reach.collective:
        found |= beyond(reach, reach.driving("collective"), reach.craft("hover-collective"), 50)
    return frozenset(found)


def beyond(reach: Reach, channels: list[str], hover: Fraction | None, around: int) -> set[str]:
    if hover is None or not channels:
        return set()
    calm = reach.anywhere(lambda m, c: is_calm(reach, m))
    return {channels[0]} if calm and not any(gives(reach, c, hover, around) for c in channels) else set()


def is_calm(reach: Reach, moment: Moment) -> Array:
    """A mode that is not aerobatic, neither hold nor rescue called."""
    here = reach.grid.constant(not moment.modes)
    for name, k in moment.modes.items():
        here = here | (moment.mode == k) if not reach.aerobatic(name) else here
    for what in CALLED:
        here = here & ~reach.called(moment, what)
    return here


def gives(reach: Reach, channel: str, hover: Fraction, around: int) -> bool:
    """Between the least and the greatest that its stick and the knobs make of it, in one mode and place of the switches."""
    world = reach.world
    read = [t.source for line in world.channels[channel].lines.values() for t in line.terms or () if t.kind == "analog"]
    knobs = [name for name in dict.fromkeys(read) if name in world.data.get("knobs", {})]
    sticks = [name for name in dict.fromkeys(read) if name not in knobs]
    own = "throttle" if "throttle" in sticks or not sticks else sticks[0]
    pupil = [world.pupils[own]] if own in world.pupils else []

    def given(moment: Moment, choice: Choice) -> Array:
        near = reach.grid.constant(True)
        for name in (own, *pupil):
            near = near & reach.grid.along(name, [abs(x) <= around for x in reach.grid.axes[name]])
        out = moment.output(channel, choice)
        found = reach.grid.constant(False)
        for k in {-1, *moment.modes.values()}:
            here = is_calm(reach, moment) & ~moment.taken(channel, choice) & near & (moment.mode == k) & ~np.isnan(out)
            size = np.broadcast_shapes(here.shape, out.shape)
            axes = tuple(reach.grid.index[name] for name in (own, *pupil, *knobs))
            low = np.min(np.where(here, out, 999) * np.ones(size), axis=axes, keepdims=True)
            high = np.max(np.where(here, out, -999) * np.ones(size), axis=axes, keepdims=True)
            found = found | ((low <= float(hover) + 2) & (high >= float(hover) - 2))
        return found

    return reach.somewhere_after(given, dict.fromkeys([s for s in sticks if s != own], Fraction(0)))


def motor_lags(reach: Reach) -> Verdict:
    """Fixed pitch: the 20 points around the hover at the ramp of a mode that is flown without hold and rescue."""
    if reach.collective:
        return False
    hover = reach.craft("hover-throttle")
    if hover is None or reach.motor is None:
        return None
    channel = reach.world.channels[reach.motor]
    for mode, line in channel.lines.items():
        k = -1 if mode is None else list(reach.world.modes).index(mode)
        ramp = line.ramp_down if channel.reversed else line.ramp_up
        scale = channel.travel[1] if hover > 0 else channel.travel[0]
        slow = scale and 20 / (scale / 100) * ramp / 200 > Fraction(2, 10)
        if slow and reach.anywhere(lambda m, c, k=k: climbs(reach, m, c, k, float(hover))):  # type: ignore[misc]
            return True
    return False


def climbs(reach: Reach, moment: Moment, choice: Choice, mode: int, hover: float) -> Array:
    """Where one stick or knob takes the motor from 10 points under the hover to 10 over it in a mode, nothing called."""
    assert reach.motor is not None
    out, found = moment.output(reach.motor, choice), reach.grid.constant(False)
    quiet = ~reach.called(moment, "hold") & ~reach.called(moment, "rescue")
    over = quiet & (moment.mode == mode) & ~moment.taken(reach.motor, choice) & (out >= hover + 10)
    under = np.broadcast_to(quiet & (out <= hover - 10), over.shape) if over.any() else over
    for stick in reach.world.analogs if over.any() else ():
        axis = reach.grid.index[stick]
        if over.shape[axis] > 1:
            found = found | (over.any(axis=axis, keepdims=True) & under.any(axis=axis, keepdims=True))
    return found
