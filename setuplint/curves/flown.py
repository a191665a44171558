"""A channel as one stick or knob flies it, all else kept: from the stick to what the receiver puts out, without rounding."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise

from setuplint.curves.bends import Turn, is_valley, slope_range, turns_against
from setuplint.curves.servo import demand_for, unlimited, unrounded
from setuplint.curves.shape import FULL, Extreme, Shape
from setuplint.dataclass import dataclass
from setuplint.setup.model import ZERO, Channel

Span = tuple[Fraction, Fraction]
WHOLE: tuple[Span, ...] = ((-FULL, FULL),)


@dataclass(frozen=True)
class Flown:
    """`constant` is what the other terms add."""

    channel: Channel
    constant: Fraction
    shape: Shape

    def __hash__(self) -> int:
        return hash((self.channel.name, self.constant, self.shape))

    def output(self, x: Fraction) -> Fraction:
        """What the receiver puts out with the stick at x, in percent."""
        return self._put(self.shape.value(x))

    def wanted(self, x: Fraction) -> Fraction:
        """The same before the limits."""
        return unlimited(self.channel, self.constant + self.shape.value(x))

    def stick_for(self, value: Fraction, spans: Sequence[Span] = WHOLE) -> Fraction | None:
        """The place of the stick in these parts of its travel, nearest to the middle, that gives an output (within 1e-9); None:
        there is none."""
        if self.output(ZERO) == value and any(lo <= 0 <= hi for lo, hi in spans):
            return ZERO
        demand = demand_for(self.channel, value)
        if demand is None:
            return None
        sought = demand - self.constant
        places = [round(cut.at, 9) for lo, hi in spans for cut in self.shape.crossings(sought, lo, hi)]
        return min(places, key=lambda x: (abs(x), x), default=None)

    def slopes(self, lo: Fraction, hi: Fraction) -> tuple[Extreme, Extreme]:
        """The least and the greatest slope over [lo, hi], output points a stick point, up or down, each as (x, slope). Exact
        as `bends.slope_range` is; ValueError unless lo < hi."""
        return _slopes(self, lo, hi)

    @property
    def turn(self) -> Turn:
        """The furthest that the output goes against the direction of its ends: see `bends.turns_against`."""
        return turns_against(self.shape, put=self._put)

    def turn_in(self, spans: Sequence[Span]) -> Turn:
        """The same within parts of the stick's travel."""
        if tuple(spans) == WHOLE:
            return self.turn
        rise = self.output(FULL) - self.output(-FULL)
        ends = (rise > 0) - (rise < 0)
        turns = (turns_against(self.shape, lo, hi, self._put, ends) for lo, hi in spans)
        return max(turns, key=lambda turn: turn.amount)

    @property
    def is_valley(self) -> bool:
        """Whether the output falls to one bottom and rises from it."""
        return is_valley(self.shape, put=self._put)

    def _put(self, own: Fraction) -> Fraction:
        return unrounded(self.channel, self.constant + own)

    def _changes(self, lo: Fraction, hi: Fraction) -> list[Fraction]:
        """Where in (lo, hi) travel changes, or a limit is met."""
        channel = self.channel
        demands = [demand_for(channel, limit) for limit in (channel.low, channel.high)]
        if channel.down != channel.up:
            demands.append(ZERO)
        places = {
            cut.at
            for demand in demands
            if demand is not None
            for cut in self.shape.crossings(demand - self.constant, lo, hi)
        }
        return sorted(x for x in places if lo < x < hi)

    def _factor(self, x: Fraction) -> Fraction:
        """Output points a point of demand, around x."""
        channel = self.channel
        if not channel.low < self.wanted(x) < channel.high:
            return ZERO
        demand = self.constant + self.shape.value(x)
        turned = -demand if channel.reversed else demand
        return (channel.down if turned < 0 else channel.up) / 100


@lru_cache(maxsize=4096)
def _slopes(flown: Flown, lo: Fraction, hi: Fraction) -> tuple[Extreme, Extreme]:
    found: list[Extreme] = []
    for a, b in pairwise([lo, *flown._changes(lo, hi), hi]):
        factor = flown._factor((a + b) / 2)
        found += [(x, slope * factor) for x, slope in slope_range(flown.shape, a, b)]
    nearest = sorted(found, key=lambda extreme: (abs(extreme[0]), extreme[0]))
    return min(nearest, key=lambda extreme: extreme[1]), max(nearest, key=lambda extreme: extreme[1])
