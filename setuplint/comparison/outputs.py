"""Where two channels of a joined setup put out different values, exactly.

A channel's output comes from an override, or from a line's case. Each way that the old channel may go is put beside each way
of the new one. Two constants differ or do not. Functions of sticks are cut into stretches on which both are one polynomial (of
degree nine at most, with expo) and every formula's comparison is constant: there they are the same if they agree at more
places than that, or else differ all along but for single places, so that one place at which they do stands for the stretch.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from functools import partial
from itertools import islice, pairwise, product

from setuplint.budget import OutOfBudget
from setuplint.comparison.joined import Joined
from setuplint.comparison.regions import Question
from setuplint.comparison.samples import Sticks, StickStretch, at_places, coalesced, kinks, within_stretches
from setuplint.comparison.sum_pairs import SummedWay, SumPair
from setuplint.curves import lines, servo
from setuplint.curves.shape import FULL
from setuplint.curves.turns import places, turns
from setuplint.dataclass import dataclass
from setuplint.engine.answers import Case
from setuplint.engine.literals import FALSE, TRUE, Frame
from setuplint.named_tuple import NamedTuple
from setuplint.setup.model import ZERO, Channel, Line, Override, Setup

MOST_ALTERNATIVES = 20_000
MOST_WORK = 400_000  # of all channels together: places of the sticks that are tried, and what costs as much
ALTERNATIVE = 13  # in such places: a pair of ways that give different outputs
QUESTION = 100  # a question to the engine
PAIR = 0.02  # a pair of ways that is looked at


class OutputSource(NamedTuple):
    """How a channel may come by its output: an override of its own, or the case of a line in a mode of the joined setup."""

    override: str | None
    mode: str | None = None
    case: lines.LineCase | None = None


@dataclass(frozen=True, slots=True)
class Alternative:
    """A way of the old channel and one of the new that give different outputs at any of these places of the sticks."""

    old: OutputSource
    new: OutputSource
    at: tuple[Sticks, ...]
    stretches: tuple[StickStretch, ...] = ()

    @property
    def switches(self) -> tuple[object, ...]:
        """The positions of switches that it hangs on, and whether sticks are lent, whatever unknown smoothings are."""
        cases = [way.case for way in (self.old, self.new) if way.case is not None]
        return tuple(frozenset(tuple(g for g in gs if g[0] != "smoothing") for gs in case.guards) for case in cases)


class ChannelPair(NamedTuple):
    """The same channel of both setups."""

    old: Channel
    new: Channel

    def outputs(self, case: Case) -> tuple[Fraction | None, Fraction | None]:
        outputs = case.evaluation.outputs
        return outputs[self.old.name], outputs[self.new.name]


def written_alike(joined: Joined, pair: ChannelPair) -> bool:
    """Whether both are written the same: then they give the same, ties included. Ramps are left aside."""
    one, two = pair.old, pair.new
    if _servo(one) != _servo(two):
        return False
    if any(_terms(one.lines[mode]) != _terms(two.lines[mode]) for mode in joined.pairs):
        return False
    return _ranks(joined, one) == _ranks(joined, two)


def _servo(channel: Channel) -> tuple[object, ...]:
    c = channel
    return c.reversed, c.down, c.up, c.sub_trim, c.low, c.high


def _terms(line: Line) -> tuple[object, ...] | None:
    return None if line.terms is None else tuple(sorted(map(repr, line.terms)))


def _ranks(joined: Joined, channel: Channel) -> list[list[tuple[object, ...]]]:
    own = joined.by_channel[channel.name]
    if any(o.priority is None or not o.numbers for o in own):
        return [[("cannot be read", channel.name)]]
    ranks: dict[Fraction | None, list[tuple[object, ...]]] = {}
    for o in sorted(own, key=lambda o: o.priority or 0, reverse=True):
        ranks.setdefault(o.priority, []).append((demanded(o), o.when))
    return [sorted(rank, key=repr) for rank in ranks.values()]


def demanded(override: Override) -> tuple[object, ...]:
    return override.value, override.at_least, override.at_most


def described_alike(joined: Joined, pair: ChannelPair) -> bool:
    """Whether what each of them is not told of, the other is not either."""
    return all((pair.old.lines[m].terms is None) == (pair.new.lines[m].terms is None) for m in joined.pairs)


@dataclass(slots=True)
class Work:
    """What a whole comparison has cost so far, in places of the sticks that were tried."""

    done: float = 0

    def add(self, more: float) -> None:
        self.done += more
        if self.done > MOST_WORK:
            raise OutOfBudget("there is more to compare than one comparison may cost")


class ChannelComparison:
    """Two channels of a joined setup, compared. OutOfBudget where there is too much to compare; `work` is that of the whole
    comparison."""

    def __init__(
        self,
        joined: Joined,
        setup: Setup,
        pair: ChannelPair,
        thresholds: Mapping[str, Sequence[Fraction]],
        work: Work | None = None,
    ) -> None:
        self.joined, self.setup, self.pair, self.thresholds = joined, setup, pair, thresholds
        self.work = work or Work()
        self.unsure = False  # some sums could not be told apart, nor be seen to be equal
        self.unsure_in_part = False  # nor some that were told apart, where other comparisons hold
        self._giving: dict[tuple[int, str, OutputSource], int] = {}
        self._linked: dict[int, Frame] = {}  # frames whose ties go the same way in both
        self.alternatives = list(islice(self._alternatives(), MOST_ALTERNATIVES + 1))
        if len(self.alternatives) > MOST_ALTERNATIVES:
            raise OutOfBudget(f"more than {MOST_ALTERNATIVES} pairs of cases to compare")

    def literal(self, frame: Frame, alternative: Alternative) -> int:
        """That the channel goes these two ways, with the sticks at one of the places."""
        ways = self.ways(frame, alternative)
        return FALSE if ways == FALSE else frame.both((ways, at_places(frame, alternative.at)))

    def question(self, some: Sequence[Alternative]) -> Question:
        """Whether it goes any of these pairs of ways with the sticks there; of each frame it is asked once."""
        memo: dict[int, tuple[Frame, int]] = {}

        def question(frame: Frame) -> int:
            if id(frame) not in memo:
                memo[id(frame)] = frame, frame.either(self.literal(frame, each) for each in some)
            return memo[id(frame)][1]

        return question

    def goes(self, some: Sequence[Alternative], frame: Frame) -> int:
        """That the channel goes any of these pairs of ways, the sticks anywhere."""
        return frame.either(self.ways(frame, each) for each in some)

    def there(self, some: Sequence[Alternative], frame: Frame) -> int:
        """That the sticks are where any of them differs, or at a single place between two such stretches; anywhere, where sums of
        several sticks differ."""
        along = [
            StickStretch(stick, lo, hi, lo) for stick, found in differing_stretches(some).items() for lo, hi in found
        ]
        apart = [within_stretches(frame, each.stretches) if each.stretches else TRUE for each in some]
        return frame.either((within_stretches(frame, along), *apart))

    def ways(self, frame: Frame, alternative: Alternative, *, perhaps: bool = False) -> int:
        """That the channel goes these two ways; `perhaps`: or that it is not known whether it does."""
        self._link_ties(frame)
        parts = []
        for channel, way in ((self.pair.old, alternative.old), (self.pair.new, alternative.new)):
            rails = [frame.deciders(channel.name)[way.override]]
            if way.case is not None:
                rails.append(frame.mode(way.mode))
                parts.append(frame.guards(way.case))
            parts += [-false if perhaps else true for true, false in rails]
        if None not in (alternative.old.override, alternative.new.override) and not self._twins(alternative):
            parts.append(-self._either_way(frame, alternative))
        return frame.both(parts)

    def _twins(self, alternative: Alternative) -> bool:
        """Whether both limit the same sum alike: then it is the servo that differs, whichever wins a tie."""
        old, new = alternative.old, alternative.new
        return (
            old.case is not None
            and new.case is not None
            and _equal_sums(old.case, new.case)
            and self._limited_alike(old, new)
        )

    def _either_way(self, frame: Frame, alternative: Alternative) -> int:
        """That both channels have ties from which the same may come: each may put out what the other does."""
        old, new = self.pair
        mirrored = (old, new, alternative.new), (new, old, alternative.old)
        return frame.both(self._possible(frame, *each) for each in mirrored)

    def _possible(self, frame: Frame, channel: Channel, other: Channel, source: OutputSource) -> int:
        """That an override that may decide the channel gives the same as a source of the other's."""
        key = (id(frame), channel.name, source)
        if key not in self._giving:
            self._giving[key] = self._may_give(frame, channel, other, source)
        return self._giving[key]

    def _may_give(self, frame: Frame, channel: Channel, other: Channel, source: OutputSource) -> int:
        found: list[int] = []
        higher: list[int] = []
        for rank in frame.ranks[channel.name]:
            giving = [frame.both((frame.truth(o.when)[0], self._alike(frame, channel, o, other, source))) for o in rank]
            found.append(frame.both((frame.either(giving), *higher)))
            higher += [frame.truth(o.when)[1] for o in rank]
        return frame.either(found)

    def _alike(self, frame: Frame, channel: Channel, override: Override, other: Channel, source: OutputSource) -> int:
        """That an override of the channel gives what a source of the other's does, wherever the sticks are."""
        if source.case is None:
            given = override.value is not None and servo.output(channel, override.value)
            return TRUE if given is not False and given == self._output(other, source, {}) else FALSE
        line = channel.line(source.mode)
        if demanded(override) != self._limit(source) or line.terms is None:
            return FALSE  # another servo tells of the two lines, not of the tie
        same = [case for case in lines.cases(self.setup, line) if _equal_sums(case, source.case)]
        return frame.either(frame.guards(case) for case in same)

    def _link_ties(self, frame: Frame) -> None:
        """A tie that is the same in both goes the same way in both."""
        if id(frame) in self._linked:
            return
        self._linked[id(frame)] = frame
        by_channel = frame.ranks
        frame.deciders(self.pair.old.name)
        ours = {_rank(rank): rank for rank in by_channel[self.pair.old.name] if len(rank) > 1}
        for rank in by_channel[self.pair.new.name]:
            twin = ours.get(_rank(rank))
            if twin is not None and len(rank) > 1 and rank[0].name not in frame.ties:
                picks = frame.ties[twin[0].name]
                left = list(twin)
                linked = {}
                for override in rank:
                    other = next(o for o in left if (demanded(o), o.when) == (demanded(override), override.when))
                    left.remove(other)
                    linked[override.name] = picks[other.name]
                frame.ties[rank[0].name] = linked

    # -- inside

    def _alternatives(self) -> Iterator[Alternative]:
        for old, new in product(self._ways(self.pair.old), self._ways(self.pair.new)):
            self.work.add(PAIR)
            if old.case is not None and new.case is not None:
                if old.mode != new.mode or not _compatible(old.case, new.case):
                    continue
                if (
                    old.case == new.case
                    and self._limited_alike(old, new)
                    and _servo(self.pair.old) == _servo(self.pair.new)
                ):
                    continue
            for found in self._compared(old, new):
                self.work.add(ALTERNATIVE)
                yield found

    def _ways(self, channel: Channel) -> list[OutputSource]:
        own = self.joined.by_channel[channel.name]
        found = [OutputSource(o.name) for o in own if o.value is not None]
        limits = [o.name for o in own if o.limits]
        for mode in self.joined.pairs:
            line = channel.lines[mode]
            if line.terms is not None:
                cases = lines.cases(self.setup, line)
                found += [OutputSource(limit, mode, case) for limit in [None, *limits] for case in cases]
        if len(found) > MOST_ALTERNATIVES:
            raise OutOfBudget(f"channel {channel.name} comes by its output in {len(found)} ways")
        return found

    def _limit(self, way: OutputSource) -> tuple[object, ...]:
        """What keeps the line's case between two ends, as it is written; empty where nothing does."""
        return () if way.override is None else demanded(self.setup.overrides[way.override])

    def _limited_alike(self, one: OutputSource, other: OutputSource) -> bool:
        return self._limit(one) == self._limit(other)

    def _output(self, channel: Channel, way: OutputSource, sticks: Sticks, *, rounded: bool = True) -> Fraction:
        put_out = servo.output if rounded else servo.unrounded
        shapes, constant = (way.case.shapes, way.case.constant) if way.case else ((), ZERO)
        demand = sum((s.value(sticks[name]) for name, s in shapes), constant)
        return put_out(channel, self._demanded(way, demand))

    def _put_out(self, channel: Channel, way: OutputSource, demand: Fraction) -> Fraction:
        return servo.output(channel, self._demanded(way, demand))

    def _demanded(self, way: OutputSource, demand: Fraction) -> Fraction:
        """What is asked of the channel when its line comes to this, if it does that way."""
        override = self.setup.overrides[way.override] if way.override is not None else None
        if override is None:
            return demand
        return override.limited(demand) if override.value is None else override.value

    def change(self, old: OutputSource, new: OutputSource, sticks: Sticks, *, rounded: bool = True) -> Fraction:
        """By how many points the new output is above the old one."""
        before = self._output(self.pair.old, old, sticks, rounded=rounded)
        return self._output(self.pair.new, new, sticks, rounded=rounded) - before

    def _differ(self, old: OutputSource, new: OutputSource, sticks: Sticks) -> Fraction:
        """By how many points."""
        self.work.add(1)
        return abs(self.change(old, new, sticks))

    def _compared(self, old: OutputSource, new: OutputSource) -> Iterator[Alternative]:
        names = sorted({name for way in (old, new) if way.case for name, _ in way.case.shapes})
        if not names:
            if self._differ(old, new, {}):
                yield Alternative(old, new, ({},))
        elif len(names) == 1:
            found = tuple(self._stretches(old, new, names[0]))
            if found:
                yield Alternative(old, new, tuple({s.stick: s.at} for s in found), found)
        else:
            yield from self._sums(old, new)

    def _stretches(self, old: OutputSource, new: OutputSource, stick: str) -> Iterator[StickStretch]:
        for lo, hi in self._cells(stick, old, new):
            for at in [lo] if lo == hi else places(lo, hi):
                if self._differ(old, new, {stick: at}):
                    yield StickStretch(stick, lo, hi, at)
                    break

    def _cells(self, stick: str, *ways: OutputSource) -> Iterator[tuple[Fraction, Fraction]]:
        """Stretches between the ends, the thresholds of formulas, and wherever a function of the stick may turn; and the
        thresholds themselves."""
        ends = [-FULL, FULL, *self.thresholds.get(stick, ())]
        marks = set(ends)
        for channel, way in zip((self.pair.old, self.pair.new), ways, strict=True):
            for name, shape in way.case.shapes if way.case else ():
                if name == stick:
                    marks |= set(turns(shape))
                    if way.case is not None and len(way.case.shapes) == 1:
                        ends_of = self.setup.overrides[way.override].numbers.values() if way.override else ()
                        marks |= set(kinks(channel, shape, way.case.constant, ends_of))
        yield from ((at, at) for at in sorted(set(ends)))
        yield from pairwise(sorted(marks))

    def _sums(self, old: OutputSource, new: OutputSource) -> Iterator[Alternative]:
        ways = self._summed(self.pair.old, old), self._summed(self.pair.new, new)
        found, proved = SumPair(*ways, self.thresholds, self.work.add).places()
        if found:
            yield Alternative(old, new, tuple(found))
            self.unsure_in_part |= not proved
        else:
            self.unsure |= not proved

    def _summed(self, channel: Channel, way: OutputSource) -> SummedWay:
        shapes, constant = (dict(way.case.shapes), way.case.constant) if way.case else ({}, ZERO)
        limits = self.setup.overrides[way.override].numbers.values() if way.override else ()
        bends = (ZERO, *(servo.moving_demands(channel) or ()), *limits)
        return SummedWay(shapes, constant, partial(self._put_out, channel, way), bends)


def differing_places(some: Sequence[Alternative]) -> object:
    """Where on the sticks any of them differs."""
    if all(each.stretches for each in some):
        return tuple(sorted(differing_stretches(some).items()))
    return frozenset(tuple(sorted(place.items())) for each in some for place in each.at)


def differing_stretches(some: Sequence[Alternative]) -> dict[str, tuple[tuple[Fraction, Fraction], ...]]:
    """The stretches of each stick in which the output differs, neighbours as one."""
    found: dict[str, set[tuple[Fraction, Fraction]]] = {}
    for each in some:
        for stretch in each.stretches:
            found.setdefault(stretch.stick, set()).add((stretch.lo, stretch.hi))
    return {stick: tuple(coalesced(sorted(stretches))) for stick, stretches in found.items()}


def _rank(rank: Sequence[Override]) -> tuple[object, ...]:
    return tuple(sorted(((demanded(o), o.when) for o in rank), key=repr))


def _equal_sums(one: lines.LineCase, two: lines.LineCase) -> bool:
    return (one.constant, one.shapes) == (two.constant, two.shapes)


def _compatible(one: lines.LineCase, two: lines.LineCase) -> bool:
    """Whether some of the switch positions under which they hold are the same."""
    for ours, theirs in product(one.guards, two.guards):
        where = {(kind, name): choice for kind, name, choice in ours}
        if all(where.get((kind, name), choice) == choice for kind, name, choice in theirs):
            return True
    return False
