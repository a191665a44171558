"""`CHANNEL follows STICK` (MEANING.md 7) as literals: could this stick, with mode, conditions and memory kept, change it?
And which way does it turn it?"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator
from fractions import Fraction

from setuplint.budget import PART, OutOfBudget
from setuplint.curves import servo
from setuplint.curves.lines import LineCase
from setuplint.curves.servo import compared
from setuplint.curves.shape import Shape
from setuplint.curves.sums import limits
from setuplint.fraction import fraction
from setuplint.named_tuple import NamedTuple
from setuplint.setup import formulas as f
from setuplint.setup.model import Channel, Override
from setuplint.solver.outputs import Outputs
from setuplint.solver.quantities import Cell, Fixed
from setuplint.solver.sat import FALSE, TRUE, Rails
from setuplint.solver.sums import inner

FULL = fraction(100)
MOST_COMPARED = 20_000  # conditions times stretches, for one stick of one channel in one frame


class Stretch(NamedTuple):
    """A part of the stick's range in which every formula that reads the stick is constant."""

    lo: Fraction
    hi: Fraction
    kept: int  # literal: with the stick there, mode, conditions and memory are as they are, and the line goes on
    limit: Override | None = None  # the override that limits it there


class TermSpan(NamedTuple):
    """What the stick adds to the sum in a stretch of its way, from the least to the greatest."""

    kept: int
    low: Fraction
    high: Fraction
    limit: Override | None


def stick_in(frame: Outputs, case: LineCase, stick: str) -> str | None:
    """The stick, or the pupil's place of it, as a case of a line reads it; None where it does not."""
    sticks = frame.setup.sticks
    return next((name for name, _ in case.shapes if name == stick or sticks[name].pupil_of == stick), None)


def follows(frame: Outputs, channel: str, stick: str) -> Rails:
    """Rails of `channel follows stick` in a frame."""
    setup, sat = frame.setup, frame.sat
    found = setup.channels[channel]
    ways = [frame.deciders(channel)[limit.name if limit else None] for limit in frame.line_limits(channel)]
    free = sat.either(true for true, _ in ways)
    yes: list[int] = []
    no = [_taken(frame, channel)]
    stretches: dict[str, list[Stretch]] = {}
    for mode, true in frame.flown(found) if free != FALSE else ():
        cases = frame.encoding.lines(found, mode)
        if cases is None:
            continue
        for case in cases:
            here = sat.both((free, true, frame.guards(case)))
            read = stick_in(frame, case, stick)
            if read is None:
                no.append(sat.both((true, frame.guards(case))))
                continue
            if read not in stretches:
                stretches[read] = list(_stretches(frame, channel, read))
            sat.file.charge(PART * (1 + len(case.shapes)) * len(stretches[read]))
            moves = _moves(frame, found, case, read, dict(case.shapes)[read], stretches[read], here)
            yes.append(sat.both((here, moves)))
            no.append(sat.both((here, -moves)))
    return sat.either(yes), sat.either(no)


def _taken(frame: Outputs, channel: str) -> int:
    """Surely an override with a value decides: neither the line, nor one that limits it, nor one that cannot be read."""
    overrides = frame.setup.overrides
    deciders = frame.deciders(channel).items()
    return frame.sat.both(false for name, (_, false) in deciders if name is None or overrides[name].value is None)


def rises(frame: Outputs, channel: str, stick: str, by: Fraction) -> Rails:
    """Rails of `Rises` in a frame."""
    found = frame.setup.channels[channel]
    ways = [(limit, frame.deciders(channel)[limit.name if limit else None]) for limit in frame.line_limits(channel)]
    yes: list[int] = []
    no = [_taken(frame, channel)]
    for limit, (going_on, _) in ways:
        for mode, true in frame.flown(found) if going_on != FALSE else ():
            for case in frame.lines(found, mode) or ():
                here = frame.both((going_on, true, frame.guards(case)))
                right = _rises(frame, found, case, limit, stick, by, here)
                yes.append(frame.both((here, right)))
                no.append(frame.both((here, -right)))
    return frame.either(yes), frame.either(no)


def _rises(
    frame: Outputs, channel: Channel, case: LineCase, limit: Override | None, stick: str, by: Fraction, here: int
) -> int:
    """Whether it goes that way in this case of the line, and the other sticks do not hold it where it no longer moves."""
    read = stick_in(frame, case, stick)
    if read is None:
        return FALSE
    shape = dict(case.shapes)[read]
    low, high = shape.value(-FULL), shape.value(FULL)
    if ((high < low) != channel.reversed) != (by < 0):
        return FALSE
    moving = servo.rising_demands(channel, low, high, abs(by), limit)
    if moving is None:
        return FALSE
    others = tuple(item for item in case.shapes if item[0] != read)
    ends = (servo.DemandBound(">", moving[0]), servo.DemandBound("<", moving[1]))
    return frame.both(frame.demand(channel.name, case.constant, others, end, here) for end in ends)


def _stretches(frame: Outputs, channel: str, stick: str) -> Iterator[Stretch]:
    sat, limits = frame.sat, frame.line_limits(channel)
    cuts = frame.encoding.cones.thresholds.of(channel, stick)
    if not cuts:
        here = frame.deciders(channel)
        alone = len(limits) == 1
        yield from (Stretch(-FULL, FULL, TRUE if alone else here[o.name if o else None][0], o) for o in limits)
        return
    hanging = sum(frame.encoding.cones.rests("condition", c, "stick", stick) for c in frame.setup.conditions)
    if 2 * len(cuts) * hanging > MOST_COMPARED:
        raise OutOfBudget(
            f"{hanging} conditions compare {stick} at {len(cuts)} places: too many to tell what it changes"
        )
    ends = [-FULL, *cuts, FULL]
    places = [(x, x) for x in cuts] + [(a, b) for a, b in itertools.pairwise(ends) if a < b]
    for lo, hi in sorted(places):
        at = Fixed(frame.sat, lo, hi)
        shadow = frame.shadow({stick: at})
        lo_closed, hi_closed = (lo == -FULL and lo not in cuts), (hi == FULL and hi not in cuts)
        span = (lo, hi) if lo == hi else inner(Cell(lo, hi, lo_closed, hi_closed, TRUE, TRUE))
        same = _kept(frame, shadow, channel, stick)
        for limit, going_on in _ways(frame, shadow, channel):
            yield Stretch(*span, sat.both((same, going_on)), limit)


def _ways(frame: Outputs, shadow: Outputs, channel: str) -> Iterator[tuple[Override | None, int]]:
    """How the line may go on with the stick elsewhere. Of equals the one wins there that decides here, else the first."""
    sat, here = frame.sat, frame.deciders(channel)
    no_higher: list[int] = []
    for rank in frame.ranks[channel]:
        active = {o.name: shadow.truth(o.when) for o in rank}
        no_earlier: list[int] = []
        if any(o.limits for o in rank):
            no_earlier.append(-sat.either(sat.both((here[o.name][0], active[o.name][0])) for o in rank))
        for override in rank if no_earlier else ():
            true, false = active[override.name]
            if override.limits and override.priority is not None:
                wins = sat.either((here[override.name][0], sat.both(no_earlier)))
                yield override, sat.both((true, wins, *no_higher))
            no_earlier.append(false)
        no_higher += [false for _, false in active.values()]
    yield None, sat.both(no_higher)


def _kept(frame: Outputs, shadow: Outputs, channel: str, stick: str) -> int:
    """The mode, and the conditions and memory that the channel rests on, the same in both. What does not rest on the stick is the
    same anyway."""
    cones = frame.encoding.cones
    under = cones.of([f.Decides(channel, None)])
    hanging = [c for c in frame.setup.conditions.values()
               if ("condition", c.name) in under and cones.rests("condition", c.name, "stick", stick)]  # fmt: skip
    pairs = [(frame.condition(c.name), shadow.condition(c.name)) for c in hanging]
    if any(cones.rests("mode", m, "stick", stick) for m in frame.setup.modes):
        pairs += zip(frame.modes(), shadow.modes(), strict=True)
    pairs += [(frame.delayed(c), shadow.delayed(c)) for c in hanging if c.toggles]
    pairs += [(frame.truth(lent), shadow.truth(lent)) for lent in frame.encoding.lendings[channel]]
    same = [-frame.sat.differ(a, b) for x, y in pairs for a, b in zip(x, y, strict=True) if a != b]
    return frame.sat.both(same)


def _moves(
    frame: Outputs, channel: Channel, case: LineCase, stick: str, shape: Shape, stretches: list[Stretch], guard: int
) -> int:
    """Whether two kept stick values give different outputs in this case of the line."""
    others = tuple(item for item in case.shapes if item[0] != stick)
    spans: list[TermSpan] = []
    for stretch in stretches:
        (_, least), (_, greatest) = shape.extremes(stretch.lo, stretch.hi)
        spans.append(TermSpan(stretch.kept, case.constant + least, case.constant + greatest, stretch.limit))
    if others:
        return _moves_beside(frame, channel, others, spans, guard)
    return _differ(frame, [(s.kept, _put(channel, s, s.low), _put(channel, s, s.high)) for s in spans])


def _put(channel: Channel, span: TermSpan, demand: Fraction) -> Fraction:
    return servo.output(channel, demand if span.limit is None else span.limit.limited(demand))


def _differ(frame: Outputs, spans: Iterable[tuple[int, Fraction, Fraction]]) -> int:
    """Two different values in the spans whose literals hold."""
    still: dict[Fraction, list[int]] = {}
    moving = []
    for kept, low, high in spans:
        if low == high:
            still.setdefault(low, []).append(kept)
        else:
            moving.append(kept)
    kept_at = [frame.sat.either(literals) for literals in still.values()]
    jumps = [frame.sat.both(pair) for pair in itertools.combinations(kept_at, 2)]
    return frame.sat.either(moving + jumps)


def _moves_beside(
    frame: Outputs, channel: Channel, others: tuple[tuple[str, Shape], ...], spans: list[TermSpan], guard: int
) -> int:
    """With other sticks in the sum: they do not hold it beyond an end where the output no longer moves."""
    ends = servo.moving_demands(channel)
    if ends is None:
        return FALSE
    reads, sat = frame.controls.reads, frame.sat
    least, greatest = limits(others, {name: (reads[name].lo, reads[name].hi) for name, _ in others})

    def sum_is(op: str, number: Fraction) -> int:
        """The sum of the others against a number."""
        if compared(least, op, number) and compared(greatest, op, number):
            return TRUE
        return frame.demand(channel.name, fraction(0), others, servo.DemandBound(op, number), guard)

    def less(one: TermSpan, two: TermSpan) -> int:
        """The least that the one gives is under the greatest that the other does: both held between their ends."""
        (bottom, top), (floor, ceiling) = _held(ends, one.limit), _held(ends, two.limit)
        if bottom >= ceiling:
            return FALSE
        above = TRUE if bottom < floor else sum_is(">", bottom - two.high)
        under = TRUE if top < floor else sum_is("<", floor - one.low)
        if top < ceiling:
            under = sat.either((under, sum_is(">", top - two.high)))
        if one.low < two.high:
            under = sat.either((under, sum_is("<", ceiling - one.low)))
        return sat.both((one.kept, two.kept, above, under))

    if len({_held(ends, span.limit) for span in spans}) > 1:
        return sat.either(less(one, two) for one in spans for two in spans)
    bottom, top = _held(ends, spans[0].limit)
    return sat.both(
        (
            _differ(frame, [(kept, low, high) for kept, low, high, _ in spans]),
            sat.either(sat.both((kept, sum_is(">", bottom - high))) for kept, _, high, _ in spans),
            sat.either(sat.both((kept, sum_is("<", top - low))) for kept, low, _, _ in spans),
            TRUE if bottom < top else FALSE,
        )
    )


def _held(ends: tuple[Fraction, Fraction], limit: Override | None) -> tuple[Fraction, Fraction]:
    """The demands between which the output moves, where an override limits them."""
    bottom, top = ends
    low, high = ends if limit is None else (limit.limited(bottom), limit.limited(top))
    return min(max(low, bottom), top), min(max(high, bottom), top)
