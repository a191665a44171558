"""Stick values inside a box such that together they show every way the asked outputs can compare there."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache
from itertools import pairwise, product

from .cone import END, Box
from .formula import Formula, Output, leaves
from .meaning import Choice, State, World
from .parts import Limits, Term
from .places import NEAR, changes, round_output, side_of, turning_places, with_midpoints

Stick = str
Point = Mapping[Stick, Fraction]


@dataclass
class Asked:
    """One channel of a question in one state and choice: a constant and terms that read sticks, and the numbers."""

    channel: str
    base: Fraction
    terms: list[Term]
    numbers: list[Fraction]
    limits: Limits | None

    @property
    def sticks(self) -> list[Stick]:
        return [term.source for term in self.terms]


class Cells:
    """Points for one state whose sticks may move inside their boxes."""

    def __init__(
        self,
        world: World,
        formula: Formula,
        state: State,
        choice: Choice,
        box: Mapping[Stick, Box],
        closed: Callable[[Stick, Fraction], bool],
        trims: Mapping[Stick, Fraction] | None = None,
    ) -> None:
        """The boxes are of what channels read; sticks with `trims` are read that much further out than they go."""
        self.world, self.state, self.choice, self.box, self.closed = world, state, choice, box, closed
        self.trims = trims or {}
        numbers: dict[str, list[Fraction]] = {}
        for leaf in leaves(formula):
            if isinstance(leaf, Output):
                numbers.setdefault(leaf.channel, []).append(leaf.number)
        self.shapes: dict[tuple[int, Fraction], Fraction] = {}
        self.asked = [x for name, wanted in numbers.items() if (x := self.ask(name, wanted)) is not None]

    def ask(self, name: str, numbers: list[Fraction]) -> Asked | None:
        """None for a channel that reads no stick here."""
        terms = self.world.terms(name, self.state)
        decided = self.world.decided(name, self.state, self.choice)
        if terms is None or isinstance(decided, Fraction):
            return None
        moving = [t for t in terms if t.kind == "analog" and t.source in self.box and self.wide(t.source)]
        fixed = [t for t in terms if t not in moving]
        base = sum((self.world.term(t, self.state.controls, self.choice, {}) for t in fixed), Fraction(0))
        return Asked(name, base, moving, sorted(set(numbers)), decided) if moving else None

    def wide(self, stick: Stick) -> bool:
        low, high = self.box[stick]
        return low < high

    def raw(self, asked: Asked, point: Point) -> Fraction:
        """The sum, before an override limits it."""
        return sum((self.shape(t, point[t.source]) for t in asked.terms), asked.base)

    def put(self, asked: Asked, total: Fraction) -> Fraction:
        """The output, not rounded, of a sum."""
        demand = total if asked.limits is None else asked.limits.of(total)
        return self.world.servo_exact(self.world.channels[asked.channel], demand)

    def shape(self, term: Term, x: Fraction) -> Fraction:
        """A term at a stick's place, kept: a grid asks for the same ones again and again."""
        key = (id(term), x)
        if key not in self.shapes:
            self.shapes[key] = self.world.shape(term, x, self.state.controls, self.choice)
        return self.shapes[key]

    def signature(self, point: Point) -> tuple[int, ...]:
        """For every asked output and number, which is greater."""
        sides = []
        for asked in self.asked:
            output = round_output(self.put(asked, self.raw(asked, point)))
            sides += [side_of(output, number) for number in asked.numbers]
        return tuple(sides)

    def crossings(self, asked: Asked, stick: Stick, others: Point, places: Sequence[Fraction]) -> set[Fraction]:
        """Where the comparisons of one channel change along one stick; it is monotone between neighbouring places."""
        term = next(t for t in asked.terms if t.source == stick)
        rest = self.raw(replace(asked, terms=[t for t in asked.terms if t is not term]), others)

        @cache
        def raw(x: Fraction) -> Fraction:
            return self.put(asked, rest + self.shape(term, x))

        found: set[Fraction] = set()
        for number in asked.numbers:
            for low, high in pairwise(places):
                found.update(changes(raw, number, low, high))
        return found

    def inside(self, stick: Stick, places: set[Fraction]) -> list[Fraction]:
        """Places that belong to the stick's box, in order."""
        low, high = self.box[stick]
        return sorted(x for x in places if low < x < high or (x in (low, high) and self.closed(stick, x)))

    def points(self) -> Iterator[Point]:
        """The representatives. Complete where every asked channel reads at most one stick of these, or where only one
        sum of several is asked (the numbers may be many); a sample otherwise, see README.md."""
        moving = [stick for stick in self.box if any(stick in asked.sticks for asked in self.asked)]
        still = {stick: (low + high) / 2 for stick, (low, high) in self.box.items() if stick not in moving}
        sums = [asked for asked in self.asked if len(asked.terms) > 1]
        cuts = {stick: self.cuts(stick, in_sum=any(stick in s.sticks for s in sums)) for stick in moving}
        inside = {stick: self.inside(stick, set(with_midpoints(cuts[stick]))) for stick in moving}
        for values in product(*inside.values()):
            yield {**still, **dict(zip(inside, values, strict=True))}
        for asked in sums:
            for stick in asked.sticks:
                others = {name: values for name, values in inside.items() if name != stick}
                for values in product(*others.values()):
                    fixed = dict(zip(others, values, strict=True))
                    found = self.crossings(asked, stick, fixed, sorted(cuts[stick]))
                    for x in self.inside(stick, set(with_midpoints(found | cuts[stick])) if found else set()):
                        yield {**still, **fixed, stick: x}

    def cuts(self, stick: Stick, in_sum: bool) -> set[Fraction]:
        """Box ends, turning places of every term that reads the stick, changes of channels that read it alone; for a
        sum also places close to the ends, which stand for the ends of an open box."""
        low, high = self.box[stick]
        turns = {low, high}
        for asked in self.asked:
            for term in asked.terms:
                if term.source == stick:
                    end = END + self.trims.get(stick, 0)
                    turns |= set(turning_places(self.world, term, self.state.controls, self.choice, end))
        places = sorted(x for x in turns if low <= x <= high)
        found = set(places)
        for asked in self.asked:
            if asked.sticks == [stick]:
                found |= self.crossings(asked, stick, {}, places)
        return found | {low + NEAR, high - NEAR} if in_sum and high - low > 2 * NEAR else found
