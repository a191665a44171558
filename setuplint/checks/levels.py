"""How far an output goes with one movement, while the sticks are held: what it may give before, and what after."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from fractions import Fraction
from itertools import product
from math import floor

from setuplint.book.asking import Asking
from setuplint.checks.moves import Held, MovementStep, find_nearly, find_step, outputs_after
from setuplint.curves import lines, servo
from setuplint.curves.shape import FULL
from setuplint.curves.sums import Shapes, limits
from setuplint.dataclass import dataclass, field, replace
from setuplint.engine.answers import Case
from setuplint.engine.literals import FALSE, Frame, Rails
from setuplint.engine.search import Movement
from setuplint.plain.channel_values import output
from setuplint.plain.logic import COMPARE
from setuplint.setup import formulas as f
from setuplint.setup.model import Channel, Override

STEPS = (Fraction(10), Fraction(1), Fraction(1, 10))  # points: how closely a change that knobs turn is looked at


@dataclass(frozen=True, slots=True)
class HeldLevels:
    """What a channel may give: `values`, and with knobs all between the ends of `spans` (the ends are values). `known` is
    False where a part is not described, and it may give anything."""

    values: tuple[Fraction, ...]
    spans: tuple[tuple[Fraction, Fraction], ...] = ()
    known: bool = True

    def by(self, step: Fraction) -> list[Fraction]:
        """The values, and every multiple of a step within the spans."""
        found = set(self.values)
        for lo, hi in self.spans:
            found |= {lo + n * step for n in range(floor((hi - lo) / step) + 1)}
        return sorted(found)


def turned_levels(before: HeldLevels, after: HeldLevels) -> bool:
    """Neither side of a change is a list of numbers with which the other could be compared."""
    return bool(before.spans) and (bool(after.spans) or not after.known)


def output_levels(
    ask: Asking, channel: Channel, modes: Iterable[str | None], held: Held, given: f.Formula
) -> HeldLevels:
    """What it may give with some sticks held, where `given` holds. OutOfBudget where a line has too many cases."""
    values: set[Fraction] = set()
    spans: set[tuple[Fraction, Fraction]] = set()
    known = True
    ways: list[Override | None] = [None]
    for override in ask.setup.acting_on(channel.name):
        if not override.numbers:
            known = False
        elif not ask.proved_impossible(f.both(f.Active(override.name), given)):
            ways += [override] if override.limits else []
            values |= set() if override.value is None else {output(channel, override.value)}
    for mode in modes:
        found = ask.decider.lines(channel, mode)
        known = known and found is not None
        for case, way in product(found or (), ways):
            constant, rest = folded(case, held)
            ends = limits(rest, {name: (-FULL, FULL) for name, _ in rest}) if rest else (Fraction(0), Fraction(0))
            demands = [constant + end if way is None else way.limited(constant + end) for end in ends]
            least, most = sorted(output(channel, demand) for demand in demands)
            values |= {least, most}
            if rest:
                spans.add((least, most))
    return HeldLevels(tuple(sorted(values)), tuple(sorted(spans)), known)


def folded(case: lines.LineCase, held: Held) -> tuple[Fraction, Shapes]:
    """A case of a line with some sticks held: the constant, and what is left to turn it."""
    constant = sum((shape.value(held[name]) for name, shape in case.shapes if name in held), case.constant)
    return constant, tuple((name, shape) for name, shape in case.shapes if name not in held)


def held_output(
    frame: Frame, channel: Channel, op: str, number: Fraction, held: Held, modes: Sequence[str | None] = ()
) -> Rails:
    """The output against a number, in states in which the sticks are held there (and one of the modes is flown): it is
    not looked for all along their way, as `OutputCompare` has to."""
    yes: list[int] = []
    no: list[int] = []
    deciders = frame.deciders(channel.name)
    for override in (o for rank in frame.ranks[channel.name] for o in rank):
        if override.value is not None:
            holds = COMPARE[op](frame.fixed(channel, override), number)
            (yes if holds else no).append(deciders[override.name][0])
    ways = product(frame.line_limits(channel.name), modes or [*frame.setup.modes, None])
    for limit, mode in ways:
        bound = servo.limited_bound(servo.demand_bound(channel, op, number), limit)
        flown = frame.both((deciders[limit.name if limit else None][0], frame.mode(mode)[0]))
        for case in (frame.lines(channel, mode) or ()) if flown != FALSE else ():
            constant, rest = folded(case, held)
            here = frame.both((flown, frame.guards(case)))
            right = frame.demand(channel.name, constant, rest, bound, here)
            yes.append(frame.both((here, right)))
            no.append(frame.both((here, -right)))
    return frame.either(yes), frame.either(no)


@dataclass(frozen=True, slots=True)
class OutputChange:
    """An output that rises by more than `up` points, or falls by more than `down` (None: either may go any way). `slack`:
    what is nearer than a point of the grid counts too."""

    channel: Channel
    up: Fraction | None = None
    down: Fraction | None = None
    step: Fraction = STEPS[0]
    slack: bool = False
    modes: Sequence[str | None] = ()  # flown before; none: any
    then: Sequence[str | None] = ()  # flown after
    seen: dict[tuple[object, ...], Rails] = field(default_factory=dict, compare=False, repr=False)

    def open(self, before: HeldLevels, after: HeldLevels) -> bool:
        """It could be, as far as the numbers go."""
        if not (before.known and after.known):
            return True
        return any(self.too_much(now - was) for was in before.values for now in after.values)

    def too_much(self, by: Fraction) -> bool:
        return (self.up is not None and by > self.up) or (self.down is not None and -by > self.down)

    def rails(self, frame: Frame, moved: Frame, before: HeldLevels, after: HeldLevels, held: Held) -> Rails:
        """For states in which something else holds the sticks there."""
        near = self.step if self.slack else Fraction(0)

        def both(op: str, number: Fraction, then: str, limit: Fraction) -> Rails:
            here = self.compared(frame, op, number, held, self.modes)
            return frame.all_of([here, self.compared(moved, then, limit, held, self.then)])

        found: list[Rails] = []
        for value in before.by(self.step) if turned_levels(before, after) or not before.spans else ():
            if self.up is not None:
                found.append(both("<=", value + near, ">", value + self.up))
            if self.down is not None:
                found.append(both(">=", value - near, "<", value - self.down))
        for value in after.by(self.step) if not (found and before.known) else ():
            if self.up is not None:
                found.append(both("<", value - self.up, ">=", value))
            if self.down is not None:
                found.append(both(">", value + self.down, "<=", value))
        return frame.any_of(found)

    def compared(self, frame: Frame, op: str, number: Fraction, held: Held, modes: Sequence[str | None]) -> Rails:
        """Most are asked again by other movements, and by other modes that hover at the same stick."""
        key = (frame, op, number, tuple(sorted(held.items())), modes)
        found = self.seen.get(key)
        if found is None:
            found = self.seen[key] = held_output(frame, self.channel, op, number, held, modes)
        return found

    def shown(self, case: Case) -> bool:
        found = outputs_after(case, self.channel.name)
        return found is not None and self.too_much(found[1] - found[0])


def find_change(
    ask: Asking,
    change: OutputChange,
    make: Callable[[OutputChange], MovementStep],
    movements: Sequence[Movement],
    subject: str,
    knobs: bool,
) -> Case | None:
    """A case of a movement with the change; `make` makes the question of it. With `knobs` before and after are not lists
    of numbers, and are compared on an ever finer grid, until it is found, proved impossible or not decided (noted)."""
    for step in STEPS:
        case = find_step(ask, make(replace(change, step=step)), movements, subject)
        if case is not None or not knobs:
            return case
        nearly = find_nearly(ask, make(replace(change, step=step, slack=True)), movements, subject)
        if nearly is None:
            return None
        if nearly:
            return nearly[0]
    ask.undecided.append(
        (subject, f"{change.channel.name} changes by about as much as is too much, as the knobs are turned")
    )
    return None
