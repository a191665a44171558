"""What is asked of a channel before its ramp, reversal, travel and limits (MEANING.md 5): a sum, or an override's value."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

from setuplint.curves.sums import limits
from setuplint.plain.logic import COMPARE
from setuplint.plain.simulate import FARTHEST, WHOLE_TRAVEL
from setuplint.setup.model import HUNDRED as FULL
from setuplint.setup.model import ZERO, Channel
from setuplint.solver.encoding import Encoding
from setuplint.solver.frame import Frame
from setuplint.solver.sat import Rails


def demand(frame: Frame, channel: Channel, op: str, number: Fraction) -> Rails:
    """Whether the demand stands so to a number of percent."""
    setup, sat = frame.setup, frame.sat
    yes: list[int] = []
    no: list[int] = []
    for name, rails in frame.deciders(channel.name).items():
        override = setup.overrides[name] if name is not None else None
        if override is not None and override.value is not None:
            (yes if COMPARE[op](override.value, number) else no).append(rails[0])
        if override is not None and not override.limits:
            continue
        right, wrong = frame.line_demand(channel, op, number, rails[0], override)
        yes.append(sat.both((rails[0], right)))
        no.append(sat.both((rails[0], wrong)))
    return sat.either(yes), sat.either(no)


def likely(encoding: Encoding, channel: Channel) -> frozenset[Fraction]:
    """Demands at which an extreme is likely: overrides' numbers, and the ends of lines over stretches between thresholds.
    OutOfBudget where a line hangs on too many switches."""
    setup = encoding.setup
    found = {x for o in setup.overrides.values() if o.channel == channel.name for x in o.numbers.values()}
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
    unknown = any(not o.numbers for o in mine)
    if unknown or any(channel.line(mode).terms is None for mode in [*setup.modes, None]):
        return -FARTHEST, FARTHEST
    values = likely(encoding, channel)
    return min(values), max(values)
