"""From a channel's demand to its output and back: reversal, travel, sub-trim, limits, rounding (MEANING.md 5.5).

The output never falls as the demand rises (or never rises, when reversed), so a comparison of the output with a number is a
comparison of the demand with another number.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

from setuplint.fraction import fraction
from setuplint.named_tuple import NamedTuple
from setuplint.setup.model import ZERO, Channel, Override

GRAIN = 1_000_000  # outputs are rounded to 1/GRAIN
HALF = fraction(1, 2 * GRAIN)


class DemandBound(NamedTuple):
    """`demand OP number`; op is "always" or "never" where every demand gives the same answer."""

    op: str
    number: Fraction = fraction(0)


OPPOSITE = {"<": ">=", "<=": ">", ">": "<=", ">=": "<", "always": "never", "never": "always"}
MIRRORED = {"<": ">", "<=": ">=", ">": "<", ">=": "<=", "always": "always", "never": "never"}


def rounded(value: Fraction) -> Fraction:
    """To 1e-6, half to even."""
    return value if GRAIN % value.denominator == 0 else fraction(round(value * GRAIN), GRAIN)


def output(channel: Channel, demand: Fraction) -> Fraction:
    """What the receiver puts out for a demand, in percent."""
    return rounded(unrounded(channel, demand))


def unrounded(channel: Channel, demand: Fraction) -> Fraction:
    return min(channel.high, max(channel.low, unlimited(channel, demand)))


def unlimited(channel: Channel, demand: Fraction) -> Fraction:
    """The output for a demand, before `low` and `high`."""
    turned = -demand if channel.reversed else demand
    travel = channel.down if turned < 0 else channel.up
    value = turned if travel == 100 else turned * travel / 100
    return value + channel.sub_trim if channel.sub_trim else value


def demand_for(channel: Channel, value: Fraction) -> Fraction | None:
    """The demand that gives an output, of several the one nearest to zero; None where none does."""
    if not channel.low <= value <= channel.high:
        return None
    room = value - channel.sub_trim
    travel = channel.down if room < 0 else channel.up
    if room and not travel:
        return None
    turned = room * 100 / travel if room else ZERO
    return -turned if channel.reversed else turned


def rising_demands(
    channel: Channel, low: Fraction, high: Fraction, by: Fraction, limit: Override | None = None
) -> tuple[Fraction, Fraction] | None:
    """The demands k between which (the ends left out) the output at k + high is more than `by` points from that at k + low,
    before rounding, an override perhaps limiting both; None: nowhere. How fast the output goes with the demand has one
    summit, so it is one stretch."""

    def given(demand: Fraction) -> Fraction:
        return unrounded(channel, demand if limit is None else limit.limited(demand))

    bends = {d for end in (channel.low, channel.high) if (d := demand_for(channel, end)) is not None} | {ZERO}
    bends |= set() if limit is None else set(limit.numbers.values())
    places = sorted({bend - end for bend in bends for end in (low, high)})
    found = [(k, abs(given(k + high) - given(k + low))) for k in places]
    if max(moved for _, moved in found) <= by:
        return None
    ends = []
    for way in (found, found[::-1]):
        before, after = next((a, b) for a, b in pairwise(way) if b[1] > by)
        ends.append(before[0] + (after[0] - before[0]) * (by - before[1]) / (after[1] - before[1]))
    return ends[0], ends[1]


def demand_bound(channel: Channel, op: str, number: Fraction) -> DemandBound:
    """The demands whose output stands in this relation to `number`."""
    if op in (">", ">="):
        bound = demand_bound(channel, OPPOSITE[op], number)
        return DemandBound(OPPOSITE[bound.op], bound.number)
    grains = number * GRAIN
    last = grains.numerator // grains.denominator  # the greatest multiple at or below
    if op == "<" and last == grains:
        last -= 1
    limit = fraction(last, GRAIN) + HALF
    bound = _below(channel, limit, strict=last % 2 != 0)
    return DemandBound(MIRRORED[bound.op], -bound.number) if channel.reversed else bound


def _below(channel: Channel, limit: Fraction, strict: bool) -> DemandBound:
    """Demands (after reversal) whose unrounded output is under the limit, or at most it."""
    if limit > channel.high or (limit == channel.high and not strict):
        return DemandBound("always")
    if limit < channel.low or (limit == channel.low and strict):
        return DemandBound("never")
    room = limit - channel.sub_trim
    op = "<" if strict else "<="
    if room > 0 or (room == 0 and not strict):
        return DemandBound("always") if channel.up == 0 else DemandBound(op, room * 100 / channel.up)
    if channel.down == 0:
        return DemandBound("never")
    return DemandBound(op, room * 100 / channel.down)


def limited_bound(bound: DemandBound, override: Override | None) -> DemandBound:
    """The same asked of a line's sum that an override limits (None: nothing does)."""
    if override is None or bound.op in ("always", "never"):
        return bound
    least, most = override.at_least, override.at_most
    low, high = (least, most) if bound.op in (">", ">=") else (most, least)
    if low is not None and compared(low, bound.op, bound.number):
        return DemandBound("always")
    if high is not None and not compared(high, bound.op, bound.number):
        return DemandBound("never")
    return bound


def moving_demands(channel: Channel) -> tuple[Fraction, Fraction] | None:
    """The demands between which the output moves (beyond them it is held by a limit or by a travel of 0); None: nowhere."""
    least, most = sorted((output(channel, fraction(-(10**9))), output(channel, fraction(10**9))))
    if least == most:
        return None
    off_least, off_most = demand_bound(channel, ">", least).number, demand_bound(channel, "<", most).number
    return min(off_least, off_most), max(off_least, off_most)


def compared(value: Fraction, op: str, number: Fraction) -> bool:
    if op == "<":
        return value < number
    if op == "<=":
        return value <= number
    return value > number if op == ">" else value >= number
