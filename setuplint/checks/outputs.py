"""Whether a channel puts out something else in two places of some switches, all other controls the same: exactly.

What holds an output at a number, an override or an end of the servo's way, is told by comparing with that number. Where a line
goes freely in both places the sums of two of its cases are held against each other.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import product

from setuplint.book.asking import Asking
from setuplint.budget import OutOfBudget
from setuplint.checks.places import formula_differs
from setuplint.curves import servo
from setuplint.curves.lines import Guard, LineCase
from setuplint.curves.shape import FULL
from setuplint.curves.sums import Shapes, limits
from setuplint.curves.turns import ANY, apart
from setuplint.engine import unknowns
from setuplint.engine.literals import FALSE, TRUE, Frame, Rails
from setuplint.plain.evaluate import Evaluation
from setuplint.setup import formulas as f
from setuplint.setup.model import BySwitch, Channel, Line, Override

MOST_PAIRS = 10_000  # of cases of one line with other terms of sticks
FARTHEST = Fraction(10**9)
CLEAR = (Fraction(1), Fraction(1, 4))  # of the most by which lines differ: what shows it better


Going = tuple[LineCase, int]  # a case of a line, and the literal that it goes by this case


def output_differs(one: Frame, two: Frame, channel: Channel, switches: Sequence[str], share: Fraction = ANY) -> Rails:
    """The outputs in two places of the switches are not the same; only asked where the mode is. `share`: of lines only where
    neither is held, and the sticks that make them differ stand where they do so by that share of the most, or more. OutOfBudget
    where a line has too many cases."""
    told = [
        formula_differs(one, two, held) for held in held_comparisons(one, channel, switches, all_of_them=share == ANY)
    ]
    return one.any_of([*told, lines_differ(one, two, channel, switches, share)])


def held_comparisons(
    frame: Frame, channel: Channel, switches: Sequence[str], *, all_of_them: bool
) -> Iterator[f.Formula]:
    """Comparisons that tell an output at which something holds the channel from every other; all, or overrides' values alone."""
    overrides = [o for o in frame.setup.acting_on(channel.name) if all_of_them or o.value is not None]
    numbers = {servo.output(channel, x) for o in overrides for x in o.numbers.values()}
    if all_of_them and reads_switches(channel, switches):
        numbers |= {servo.output(channel, end) for end in (-FARTHEST, FARTHEST)}
    for number in sorted(numbers):
        yield f.OutputCompare(channel.name, "<", number)
        yield f.OutputCompare(channel.name, "<=", number)


def lines_differ(one: Frame, two: Frame, channel: Channel, switches: Sequence[str], share: Fraction) -> Rails:
    """The channel's line goes freely in both places, by cases whose sums are not the same."""
    found: list[int] = []
    first, second = dict(one.flown(channel)), dict(two.flown(channel))
    for mode in (m for m in first if m in second and line_reads(channel.line(m), switches)):
        cases = one.lines(channel, mode) or ()
        here, there = (
            [
                (case, literal)
                for case in cases
                if (literal := frame.both((flown, going(frame, channel, case)))) != FALSE
            ]
            for frame, flown in ((one, first[mode]), (two, second[mode]))
        )
        found += shifted_sums(one, here, there)
        for (a, at), (b, then) in bent_pairs(here, there, switches):
            found.append(one.both((at, then, sums_differ(one, a, b, share))))
    true = one.either(found)
    return true, -true if is_known(one, channel) and is_known(two, channel) else FALSE


def shifted_sums(frame: Frame, here: Sequence[Going], there: Sequence[Going]) -> Iterator[int]:
    """Of cases with the same terms of sticks, two: their constants are others."""
    ours, theirs = by_shapes(here), by_shapes(there)
    for shapes in (each for each in ours if each in theirs):
        then = {case.constant: literal for case, literal in theirs[shapes]}
        same = (frame.both((literal, then.get(case.constant, FALSE))) for case, literal in ours[shapes])
        both = frame.either(literal for _, literal in ours[shapes]), frame.either(then.values())
        yield frame.both((*both, -frame.either(same)))


def bent_pairs(here: Sequence[Going], there: Sequence[Going], switches: Sequence[str]) -> Iterator[tuple[Going, Going]]:
    """Cases with other terms of sticks that may hold with nothing but the switches, and whose stick is read, in another place.
    OutOfBudget where there are too many."""

    def fixed(guard: Guard) -> bool:
        kind, name, _ = guard
        return kind != "lent" and not (kind == "switch" and name in switches)

    def beside(some: Sequence[Going]) -> list[set[frozenset[Guard]]]:
        return [{frozenset(filter(fixed, guards)) for guards in case.guards} for case, _ in some]

    if len(here) * len(there) > MOST_PAIRS and len(by_shapes(here) | by_shapes(there)) > 1:
        raise OutOfBudget(f"a channel's line has more than {MOST_PAIRS} pairs of cases to compare")
    for (a, rests), (b, others) in product(
        zip(here, beside(here), strict=True), zip(there, beside(there), strict=True)
    ):
        if a[0].shapes != b[0].shapes and not rests.isdisjoint(others):
            yield a, b


def by_shapes(some: Sequence[Going]) -> dict[Shapes, list[Going]]:
    found: dict[Shapes, list[Going]] = {}
    for case, literal in some:
        found.setdefault(case.shapes, []).append((case, literal))
    return found


def going(frame: Frame, channel: Channel, case: LineCase) -> int:
    """The channel's line decides by this case, and neither a limit nor an end of the servo's way holds its sum."""
    holds = FALSE if servo.moving_demands(channel) is None else frame.guards(case)
    if holds == FALSE:
        return FALSE
    deciders = frame.deciders(channel.name)
    ways = ((limit, deciders[limit.name if limit else None][0]) for limit in frame.line_limits(channel.name))
    here = ((limit, frame.both((holds, free))) for limit, free in ways)
    return frame.either(frame.both((way, *free_sum(frame, channel, case, limit, way))) for limit, way in here)


def free_sum(frame: Frame, channel: Channel, case: LineCase, limit: Override | None, way: int) -> Iterator[int]:
    """The sum is between the ends of the servo's way and the numbers of an override that limits it; `way` is where it counts."""
    ends = servo.moving_demands(channel)
    assert ends is not None
    least, most = (limit.at_least, limit.at_most) if limit else (None, None)
    low = ends[0] if least is None else max(ends[0], least)
    high = ends[1] if most is None else min(ends[1], most)
    lowest, highest = limits(case.shapes, {name: (-FULL, FULL) for name, _ in case.shapes})
    for op, number, end in ((">", low, case.constant + lowest), ("<", high, case.constant + highest)):
        if way != FALSE and not servo.compared(end, op, number):  # else it is so wherever the sticks are
            yield frame.demand(channel.name, case.constant, case.shapes, servo.DemandBound(op, number), way)


def sums_differ(frame: Frame, one: LineCase, two: LineCase, share: Fraction) -> int:
    """The sums of two cases are not the same, but for single places of a stick, or of several together."""
    by = one.constant - two.constant
    first, second = dict(one.shapes), dict(two.shapes)
    moving = [name for name in first | second if first.get(name) != second.get(name)]
    if by and len(moving) != 1:
        return TRUE
    return frame.either(
        frame.controls.reads[name].inside(stretch)
        for name in moving
        for stretch in apart(first.get(name), second.get(name), by, share)
    )


def is_known(frame: Frame, channel: Channel) -> bool:
    """Whether it is known who decides the channel, and whose sticks it reads."""
    rails = [*frame.deciders(channel.name).values(), *map(frame.truth, channel.lendings)]
    return all(true == -false for true, false in rails)


def reads_switches(channel: Channel, switches: Sequence[str]) -> bool:
    """One of its lines hangs on one of the switches."""
    return any(line_reads(line, switches) for line in channel.every_line)


def line_reads(line: Line, switches: Sequence[str]) -> bool:
    """A term hangs on one of the switches: by its numbers, or by whose stick it reads."""
    return any(
        t.source in switches
        or any(isinstance(by, BySwitch) and by.switch in switches for by in (t.rate, t.expo))
        or (t.lending is not None and may_hang(t.lending.lent, switches))
        for t in line.terms or ()
    )


def may_hang(formula: f.Formula, switches: Sequence[str]) -> bool:
    """It names one of the switches, or what may rest on one."""
    return any(a.switch in switches if isinstance(a, f.SwitchIs) else isinstance(a, f.Holds | f.ModeIs)
               for a in f.atoms(formula))  # fmt: skip


def note_undescribed(ask: Asking, subject: str) -> None:
    """What a channel does in another place is not known where a line is not described, or an override: noted as not judged."""
    for channel in ask.setup.channels.values():
        if any(line.terms is None for line in channel.every_line):
            ask.not_judged(ask.setup.undescribed(channel.name), subject)
    for override in ask.setup.overrides.values():
        for because in unknowns.of_part(ask.as_decided(), ("override", override.name), ask.decider.unknowns):
            ask.not_judged(because, subject)


def changed_words(one: Evaluation, two: Evaluation) -> list[str]:
    """The channels whose outputs differ, where both are known."""
    return [c for c, value in one.outputs.items() if value is not None and two.outputs[c] not in (None, value)]


def points_apart(one: Evaluation, two: Evaluation, channel: str) -> str:
    """By how many points the outputs of a channel differ, both being known, with every digit: 0.000001."""
    was, now = one.outputs[channel], two.outputs[channel]
    assert was is not None
    assert now is not None
    return f"{float(abs(now - was)):.6f}".rstrip("0").rstrip(".")
