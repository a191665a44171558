"""The exact least and greatest output of a channel: likely values first, then halving down to the rounding of outputs."""

from __future__ import annotations

import itertools
from fractions import Fraction

from setuplint.curves import servo
from setuplint.curves.sums import limits
from setuplint.engine.answers import FOUND, NOT_DECIDED, Answer, Range
from setuplint.fraction import fraction
from setuplint.hints import TYPE_CHECKING
from setuplint.setup import formulas as f

if TYPE_CHECKING:
    from setuplint.engine.search import Search

GRAIN = fraction(1, servo.GRAIN)


def output_range(search: Search, channel: str, given: f.Formula) -> Range:
    """Least and greatest over the reachable states that `given` allows; KeyError for a channel that is not there."""
    search.setup.channels[channel]
    known = f.both(given, f.OutputCompare(channel, ">=", fraction(-1000)))
    first = search.find(known)
    if not first.found:
        return Range(first.verdict, because=first.because)
    assert first.case is not None
    at = first.case.evaluation.outputs[channel]
    assert at is not None
    likely = sorted(candidates(search, channel))
    least = _farthest(search, channel, given, at, "<=", [v for v in likely if v <= at], first)
    greatest = _farthest(search, channel, given, at, ">=", [v for v in reversed(likely) if v >= at], first)
    if NOT_DECIDED in (least[1].verdict, greatest[1].verdict):
        return Range(NOT_DECIDED, because=least[1].because + greatest[1].because)
    return Range(FOUND, least[0], greatest[0], least[1].case, greatest[1].case)


def bounds(search: Search, channel: str, given: f.Formula) -> tuple[str, Fraction | None, Fraction | None]:
    """The verdict, and the least and the greatest as `output_range` has them, without the states that show them: for
    tables, at a fraction of the cost. KeyError for a channel that is not there."""
    search.setup.channels[channel]
    verdict = search.find(f.both(given, f.OutputCompare(channel, ">=", fraction(-1000)))).verdict
    if verdict != FOUND:
        return verdict, None, None
    likely = sorted(candidates(search, channel))
    least = _end(search, channel, given, likely, -1)
    greatest = None if least is None else _end(search, channel, given, likely[::-1], 1)
    return (NOT_DECIDED, None, None) if greatest is None else (FOUND, least, greatest)


def _end(search: Search, channel: str, given: f.Formula, likely: list[Fraction], way: int) -> Fraction | None:
    """The farthest output in one direction, `likely` ones first, the farthest of them first; None: not decided."""

    def reaches(value: Fraction) -> bool | None:
        asked = f.both(given, f.OutputCompare(channel, ">=" if way > 0 else "<=", value))
        verdict = search.find(asked).verdict
        return None if verdict == NOT_DECIDED else verdict == FOUND

    at, beyond = fraction(-1000 * way), fraction(1000 * way)
    for value in likely:
        reached = reaches(value)
        if reached:
            at = value
            further = reaches(value + way * GRAIN)
            if not further:
                return None if further is None else value
            break
        if reached is None:
            return None
        beyond = value
    while abs(beyond - at) > GRAIN:
        middle = servo.rounded((at + beyond) / 2)
        reached = reaches(middle)
        if reached is None:
            return None
        at, beyond = (middle, beyond) if reached else (at, middle)
    return at


def candidates(search: Search, channel: str) -> set[Fraction]:
    """Outputs at which an extreme is likely: overrides' numbers, and the ends of lines over stretches between thresholds."""
    setup, encoding = search.setup, search.reach.encoding
    found = setup.channels[channel]
    mine = [o for o in setup.overrides.values() if o.channel == channel]
    values = {servo.output(found, number) for o in mine for number in o.numbers.values()}
    for mode in [*setup.modes, None]:
        for case in encoding.lines(found, mode) or ():
            box = {name: (fraction(-100), fraction(100)) for name, _ in case.shapes}
            ends = [limits(case.shapes, box)]
            if len(case.shapes) == 1:
                name = case.shapes[0][0]
                cuts = [fraction(-100), *search.thresholds(channel, name), fraction(100)]
                ends += [limits(case.shapes, {name: (a, b)}) for a, b in itertools.pairwise(cuts)]
            values |= {servo.output(found, case.constant + x) for pair in ends for x in pair}
    return values


def _farthest(
    search: Search, channel: str, given: f.Formula, at: Fraction, op: str, likely: list[Fraction], best: Answer
) -> tuple[Fraction, Answer]:
    """The farthest output in one direction, and an answer that shows it."""
    way = 1 if op == ">=" else -1

    def reaches(value: Fraction) -> Answer:
        return search.find(f.both(given, f.OutputCompare(channel, op, value)))

    beyond = servo.rounded(fraction(1000 * way))
    for value in likely:
        answer = reaches(value)
        if answer.verdict == NOT_DECIDED:
            return value, answer
        if not answer.found:
            beyond = value
            continue
        best, at = answer, value
        further = reaches(value + way * GRAIN)
        if not further.found:
            return value, further if further.verdict == NOT_DECIDED else answer
        break
    while abs(beyond - at) > GRAIN:
        middle = servo.rounded((at + beyond) / 2)
        answer = reaches(middle)
        if answer.verdict == NOT_DECIDED:
            return at, answer
        if answer.found:
            assert answer.case is not None
            shown = answer.case.evaluation.outputs[channel]
            assert shown is not None
            best, at = answer, max(shown, middle) if way > 0 else min(shown, middle)
        else:
            beyond = middle
    return at, best
