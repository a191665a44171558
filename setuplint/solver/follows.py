"""`CHANNEL follows STICK` (MEANING.md 7) as literals: could this stick, with mode, conditions and memory kept, change it?"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator
from fractions import Fraction
from typing import NamedTuple

from setuplint.budget import OutOfBudget
from setuplint.curves import servo
from setuplint.curves.lines import LineCase
from setuplint.curves.shape import Shape
from setuplint.curves.sums import limits
from setuplint.setup import formulas as f
from setuplint.setup.model import Channel
from setuplint.solver.outputs import Outputs
from setuplint.solver.quantities import Cell, Fixed
from setuplint.solver.sat import FALSE, TRUE, Rails
from setuplint.solver.sums import inner

FULL = Fraction(100)
MOST_COMPARED = 20_000  # conditions times stretches, for one stick of one channel in one frame


class Stretch(NamedTuple):
    """A part of the stick's range in which every formula that reads the stick is constant."""

    lo: Fraction
    hi: Fraction
    kept: int  # literal: with the stick there, mode, conditions and memory are as they are, and no override decides


def follows(frame: Outputs, channel: str, stick: str) -> Rails:
    """Rails of `channel follows stick` in a frame."""
    setup, sat = frame.setup, frame.sat
    found = setup.channels[channel]
    free, taken = frame.deciders(channel)[None]
    yes: list[int] = []
    no = [taken]
    stretches: list[Stretch] | None = None
    for mode, true in frame.flown(found) if free != FALSE else ():
        cases = frame.encoding.lines(found, mode)
        if cases is None:
            continue
        for case in cases:
            here = sat.both((free, true, frame.guards(case)))
            shape = dict(case.shapes).get(stick)
            if shape is None:
                no.append(here)
                continue
            if stretches is None:
                stretches = list(_stretches(frame, channel, stick))
            moves = _moves(frame, found, case, stick, shape, stretches, here)
            yes.append(sat.both((here, moves)))
            no.append(sat.both((here, -moves)))
    return sat.either(yes), sat.either(no)


def _stretches(frame: Outputs, channel: str, stick: str) -> Iterator[Stretch]:
    cuts = frame.encoding.cones.thresholds.of(channel, stick)
    if not cuts:
        yield Stretch(-FULL, FULL, TRUE)
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
        yield Stretch(*span, _kept(frame, shadow, channel, stick))


def _kept(frame: Outputs, shadow: Outputs, channel: str, stick: str) -> int:
    """The mode, and the conditions and memory that the channel rests on, the same in both, and no override deciding in the
    second. What does not rest on the stick is the same anyway."""
    cones = frame.encoding.cones
    under = cones.of([f.Decides(channel, None)])
    hanging = [c for c in frame.setup.conditions.values()
               if ("condition", c.name) in under and cones.rests("condition", c.name, "stick", stick)]  # fmt: skip
    pairs = [(frame.condition(c.name), shadow.condition(c.name)) for c in hanging]
    if any(cones.rests("mode", m, "stick", stick) for m in frame.setup.modes):
        pairs += zip(frame.modes(), shadow.modes(), strict=True)
    pairs += [(frame.delayed(c), shadow.delayed(c)) for c in hanging if c.toggles]
    same = [-frame.sat.differ(a, b) for x, y in pairs for a, b in zip(x, y, strict=True) if a != b]
    return frame.sat.both([*same, shadow.deciders(channel)[None][0]])


def _moves(
    frame: Outputs, channel: Channel, case: LineCase, stick: str, shape: Shape, stretches: list[Stretch], guard: int
) -> int:
    """Whether two kept stick values give different outputs in this case of the line."""
    others = tuple(item for item in case.shapes if item[0] != stick)
    spans: list[tuple[int, Fraction, Fraction]] = []
    for stretch in stretches:
        (_, least), (_, greatest) = shape.extremes(stretch.lo, stretch.hi)
        spans.append((stretch.kept, least, greatest))
    if others:
        return _moves_beside(frame, channel, case, others, spans, guard)
    return _differ(
        frame,
        [
            (kept, servo.output(channel, case.constant + low), servo.output(channel, case.constant + high))
            for kept, low, high in spans
        ],
    )


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
    frame: Outputs,
    channel: Channel,
    case: LineCase,
    others: tuple[tuple[str, Shape], ...],
    spans: list[tuple[int, Fraction, Fraction]],
    guard: int,
) -> int:
    """With other sticks in the sum: they do not hold it beyond an end where the output no longer moves."""
    ends = servo.moving_demands(channel)
    if ends is None:
        return FALSE
    bottom, top = ends
    reads = frame.controls.reads
    least, greatest = limits(others, {name: (reads[name].lo, reads[name].hi) for name, _ in others})

    def above(high: Fraction) -> int:
        high += case.constant
        if high + least > bottom:
            return TRUE
        return frame.demand(channel.name, high, others, servo.DemandBound(">", bottom), guard)

    def under(low: Fraction) -> int:
        low += case.constant
        if low + greatest < top:
            return TRUE
        return frame.demand(channel.name, low, others, servo.DemandBound("<", top), guard)

    sat = frame.sat
    return sat.both(
        (
            _differ(frame, spans),
            sat.either(sat.both((kept, above(high))) for kept, _, high in spans),
            sat.either(sat.both((kept, under(low))) for kept, low, _ in spans),
        )
    )
