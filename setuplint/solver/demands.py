"""What is asked of a channel before its ramp, reversal, travel and limits (MEANING.md 5): a sum, or an override's value."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

from setuplint.curves.sums import limits
from setuplint.plain.logic import COMPARE
from setuplint.plain.simulate import FARTHEST, WHOLE_TRAVEL
from setuplint.setup.model import ZERO, Channel
from setuplint.solver.encoding import Encoding
from setuplint.solver.follows import FULL
from setuplint.solver.frame import Frame
from setuplint.solver.sat import FALSE, Rails


def demand(frame: Frame, channel: Channel, op: str, number: Fraction) -> Rails:
    """Whether the demand stands so to a number of percent."""
    bare = replace(channel, reversed=False, down=FULL, up=FULL, sub_trim=ZERO, low=-FARTHEST, high=FARTHEST)
    setup, sat = frame.setup, frame.sat
    yes: list[int] = []
    no: list[int] = []
    for name, rails in frame.deciders(channel.name).items():
        if name is not None:
            value = setup.overrides[name].value
            if value is not None:
                (yes if COMPARE[op](value, number) else no).append(rails[0])
            continue
        for mode, (true, _) in zip([*setup.modes, None], frame.modes(), strict=True):
            here = sat.both((rails[0], true))
            if here != FALSE:
                right, wrong = frame.line(bare, mode, op, number, here)
                yes.append(sat.both((here, right)))
                no.append(sat.both((here, wrong)))
    return sat.either(yes), sat.either(no)


def likely(encoding: Encoding, channel: Channel) -> frozenset[Fraction]:
    """Demands at which an extreme is likely: overrides' values, and the ends of lines over stretches between thresholds.
    OutOfBudget where a line hangs on too many switches."""
    setup = encoding.setup
    found = {o.value for o in setup.overrides.values() if o.channel == channel.name and o.value is not None}
    for mode in [*setup.modes, None]:
        for case in encoding.lines(channel, mode) or ():
            boxes = [{name: (-FULL, FULL) for name, _ in case.shapes}]
            if len(case.shapes) == 1:
                name = case.shapes[0][0]
                cuts = [-FULL, *encoding.cones.thresholds.of(channel.name, name), FULL]
                boxes += [{name: pair} for pair in pairwise(cuts)]
            found |= {case.constant + end for box in boxes for end in limits(case.shapes, box)}
    return frozenset(found)


def longest_ramp(encoding: Encoding, channel: Channel) -> Fraction:
    """The most seconds that its ramps can take from one demand to another. OutOfBudget like `likely`."""
    slowest = max(max(line.ramp_up, line.ramp_down) for line in (channel.own, *channel.lines.values()))
    if not slowest:
        return ZERO
    least, most = demand_range(encoding, channel)
    return (most - least) * slowest / WHOLE_TRAVEL


def demand_range(encoding: Encoding, channel: Channel) -> tuple[Fraction, Fraction]:
    """Nothing demands less or more of the channel. OutOfBudget like `likely`."""
    setup = encoding.setup
    mine = [o for o in setup.overrides.values() if o.channel == channel.name]
    unknown = any(o.value is None for o in mine)
    if unknown or any(channel.line(mode).terms is None for mode in [*setup.modes, None]):
        return -FARTHEST, FARTHEST
    values = likely(encoding, channel)
    return min(values), max(values)
