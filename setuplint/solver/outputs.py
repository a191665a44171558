"""What channels put out in one state, as literals, given the truth of formulas there."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterable, Iterator, Mapping
from fractions import Fraction

from setuplint.budget import PART
from setuplint.curves import servo
from setuplint.curves.lines import YES, Guard, LineCase
from setuplint.curves.servo import compared
from setuplint.curves.shape import Shape
from setuplint.curves.sums import Shapes, limits, scaled
from setuplint.dataclass import replace
from setuplint.fraction import fraction
from setuplint.plain.simulate import FARTHEST
from setuplint.setup import formulas as f
from setuplint.setup.model import HUNDRED as FULL
from setuplint.setup.model import ZERO, Channel, Condition, Override
from setuplint.solver import sums
from setuplint.solver.encoding import Controls, Encoding
from setuplint.solver.quantities import Quantity
from setuplint.solver.sat import FALSE, TRUE, UNKNOWN, Rails, known


class Outputs(ABC):
    """The channels of one state. Every method gives literals; nothing is asked of the solver here."""

    def __init__(self, encoding: Encoding, controls: Controls, ties: dict[str, dict[str, int]] | None = None) -> None:
        """`ties` has, for each group of overrides with equal priority, which of them wins: shared with frames that keep it."""
        self.encoding, self.setup, self.sat = encoding, encoding.setup, encoding.sat
        self.controls = controls
        self.ties = ties if ties is not None else {}
        self.tied_as: Outputs | None = None  # a state whose winners win here too, where they are active
        self._deciders: dict[str, dict[str | None, Rails]] = {}
        self.put = TRUE  # to be asked for too, where sticks are put at places and a sum of others is left

    @abstractmethod
    def truth(self, formula: f.Formula) -> Rails: ...

    @abstractmethod
    def condition(self, name: str) -> Rails: ...

    @abstractmethod
    def delayed(self, condition: Condition) -> Rails: ...

    @abstractmethod
    def modes(self) -> list[Rails]: ...

    @abstractmethod
    def shadow(self, sticks: Mapping[str, Quantity]) -> Outputs: ...

    # -- gates over literals

    def both(self, literals: Iterable[int]) -> int:
        """The conjunction; TRUE of none."""
        return self.sat.both(literals)

    def either(self, literals: Iterable[int]) -> int:
        """The disjunction; FALSE of none."""
        return self.sat.either(literals)

    def differ(self, one: int, other: int) -> int:
        """Exclusive or."""
        return self.sat.differ(one, other)

    def all_of(self, rails: Iterable[Rails]) -> Rails:
        """The conjunction of what may be unknown."""
        pairs = list(rails)
        return self.sat.both([t for t, _ in pairs]), -self.sat.both([-n for _, n in pairs])

    def any_of(self, rails: Iterable[Rails]) -> Rails:
        """The disjunction of what may be unknown."""
        pairs = list(rails)
        return -self.sat.both([-t for t, _ in pairs]), self.sat.both([n for _, n in pairs])

    # -- what all states of the setup share

    @property
    def ranks(self) -> Mapping[str, list[list[Override]]]:
        """The overrides of each channel, those of equal priority together, the highest first."""
        return self.encoding.by_channel

    @property
    def smoothings(self) -> Mapping[str, Mapping[str, int]]:
        """For each curve of unknown smoothing, a literal for each kind that it may be."""
        return self.encoding.smoothing

    def lines(self, channel: Channel, mode: str | None) -> tuple[LineCase, ...] | None:
        """The cases of a channel's line in a mode; None where the line is not described."""
        return self.encoding.lines(channel, mode)

    def fixed(self, channel: Channel, override: Override) -> Fraction:
        """The output that an override gives."""
        return self.encoding.fixed(channel, override)

    def quantity_of(self, sensor: str) -> tuple[str, Fraction]:
        """The name of the quantity that a sensor shows, and what one unit of it reads as."""
        return self.encoding.quantity_of(sensor)

    def any_position(self, switch: str) -> dict[str, int]:
        """New literals for a switch that may stand anywhere."""
        return self.encoding.positions(switch)

    # -- channels

    def deciders(self, channel: str) -> dict[str | None, Rails]:
        """For each override of the channel, and for None (its own line), whether it decides."""
        found = self._deciders.get(channel)
        if found is not None:
            return found
        found = {}
        self.sat.file.charge(2 * PART * len(self._all(channel)))
        none, some, surely = TRUE, FALSE, FALSE  # higher: all false for sure, one true for sure, and one that decides
        for rank in self.encoding.by_channel[channel]:
            active = {o.name: self.truth(o.when) for o in rank}
            picks = self._picks(rank, active)
            for override in rank:
                true, false = active[override.name]
                pick = picks[override.name]
                sure = FALSE if override.priority is None else self.sat.both((true, pick, none))
                found[override.name] = (sure, self.sat.either((false, -pick, surely)))
            none = self.sat.both((none, *(false for _, false in active.values())))
            some = self.sat.either((some, *(true for true, _ in active.values())))
            surely = self.sat.either((surely, *(active[o.name][0] for o in rank if o.priority is not None)))
        found[None] = (none, some)
        self._deciders[channel] = found
        return found

    def _all(self, channel: str) -> list[Override]:
        return [o for rank in self.encoding.by_channel[channel] for o in rank]

    def _picks(self, rank: list[Override], active: Mapping[str, Rails]) -> dict[str, int]:
        """Among equals any may win: one free choice, of an active one where there is one."""
        if len(rank) == 1:
            return {rank[0].name: TRUE}
        if self.tied_as is not None and all(true == -false for true, false in active.values()):
            return self._kept_picks(self.tied_as.deciders(rank[0].channel), active)
        key = rank[0].name
        if key not in self.ties:
            self.ties[key] = {o.name: self.sat.variable() for o in rank}
            picks = self.ties[key]
            names = list(picks)
            for n, a in enumerate(names):
                self.sat.clause(-picks[a], -active[a][1])
                self.sat.clause(-active[a][0], *picks.values())
                for b in names[n + 1 :]:
                    self.sat.clause(-picks[a], -picks[b])
        return self.ties[key]

    def _kept_picks(self, here: Mapping[str | None, Rails], active: Mapping[str, Rails]) -> dict[str, int]:
        """Of equals the one wins that decides in the other state, where it is active here too; else the first in the file."""
        picks: dict[str, int] = {}
        no_earlier = [-self.sat.either(self.sat.both((here[name][0], true)) for name, (true, _) in active.items())]
        for name, (true, false) in active.items():
            wins = self.sat.either((here[name][0], self.sat.both(no_earlier)))
            picks[name] = self.sat.both((true, wins))
            no_earlier.append(false)
        return picks

    def output(self, channel: str, op: str, number: Fraction) -> Rails:
        """The settled output against a number."""
        found = self.setup.channels[channel]
        yes: list[int] = []
        no: list[int] = []
        deciders = self.deciders(channel)
        self.sat.file.charge(len(deciders))
        for override in self._all(channel):
            if override.value is not None:
                holds = compared(self.fixed(found, override), op, number)
                (yes if holds else no).append(deciders[override.name][0])
        for limit in self.line_limits(channel):
            free = deciders[limit.name if limit else None][0]
            for mode, true in self.flown(found) if free != FALSE else ():
                right, wrong = self.line(found, mode, op, number, self.sat.both((free, true)), limit)
                yes.append(self.sat.both((free, true, right)))
                no.append(self.sat.both((free, true, wrong)))
        return self.sat.either(yes), self.sat.either(no)

    def line_limits(self, channel: str) -> list[Override | None]:
        """The ways in which the channel's line goes on: with nothing (None), or an override that limits it, deciding."""
        return [None, *(o for o in self._all(channel) if o.limits)]

    def line_demand(
        self, channel: Channel, op: str, number: Fraction, guard: int, limit: Override | None = None
    ) -> Rails:
        """What the line flown, perhaps limited, asks of the servo, against a number of percent; `guard` is where it decides."""
        bare = replace(channel, reversed=False, down=FULL, up=FULL, sub_trim=ZERO, low=-FARTHEST, high=FARTHEST)
        found: list[Rails] = []
        for mode, true in self.flown(channel):
            here = self.sat.both((guard, true))
            right, wrong = self.line(bare, mode, op, number, here, limit) if here != FALSE else UNKNOWN
            found.append((self.sat.both((true, right)), self.sat.both((true, wrong))))
        return self.sat.either(right for right, _ in found), self.sat.either(wrong for _, wrong in found)

    def flown(self, channel: Channel) -> Iterator[tuple[str | None, int]]:
        """One of the modes that share a line, with the literal that one of them is flown; of every line of the channel."""
        shared: dict[str | None, list[int]] = {}
        for mode, (true, _) in zip([*self.setup.modes, None], self.modes(), strict=True):
            if true != FALSE:
                shared.setdefault(mode if mode in channel.lines else None, []).append(true)
        return ((mode, self.sat.either(literals)) for mode, literals in shared.items())

    def line(
        self, channel: Channel, mode: str | None, op: str, number: Fraction, guard: int, limit: Override | None = None
    ) -> Rails:
        """The output of its line, perhaps limited, in a mode against a number; `guard` is where it decides."""
        cases = self.encoding.lines(channel, mode)
        if cases is None:
            return UNKNOWN
        bound = servo.limited_bound(self.encoding.bound(channel, op, number), limit)
        found: list[tuple[int, int]] = []
        for case in cases:
            self.sat.file.charge(PART * (1 + len(case.shapes) + len(case.guards)))
            here = self.guards(case)
            deciding = self.sat.both((guard, here))
            found.append((here, self.demand(channel.name, case.constant, case.shapes, bound, deciding)))
        yes = self.sat.either([self.sat.both(pair) for pair in found])
        if all(true == -false for true, false in map(self.truth, self.encoding.lendings[channel.name])):
            return known(yes)
        return yes, self.sat.either([self.sat.both((here, -right)) for here, right in found])

    def guards(self, case: LineCase) -> int:
        return self.sat.either(self.sat.both(self.guard(g) for g in guards) for guards in case.guards)

    def guard(self, guard: Guard) -> int:
        kind, name, choice = guard
        if kind == "lent":
            return self.truth(name)[0 if choice == YES else 1]
        return self.controls.positions[name][choice] if kind == "switch" else self.encoding.smoothing[name][choice]

    def demand(self, owner: str, constant: Fraction, shapes: Shapes, bound: servo.DemandBound, guard: int) -> int:
        """Whether a constant and the sticks together stand in the bound. A stick that is put at a place, as no assignment puts it
        there, adds a constant; a sum that is left is one only where `put` is asked for, or every other question would meet it."""
        if bound.op in ("always", "never"):
            return TRUE if bound.op == "always" else FALSE
        number, reads = bound.number - constant, self.controls.reads
        if len(shapes) > 1:
            fixed = [shape.value(reads[name].lo) for name, shape in shapes if reads[name].is_fixed]
            number, shapes = number - sum(fixed, ZERO), tuple(i for i in shapes if not reads[i[0]].is_fixed)
            if fixed and len(shapes) > 1:
                guard = self.sat.both((guard, self._asked_put()))
        if not shapes:
            return TRUE if compared(fraction(0), bound.op, number) else FALSE
        if len(shapes) > 1:
            return self.sum(owner, shapes, bound.op, number, guard)
        name, shape = shapes[0]
        return self.stick(reads[name], shape, bound.op, number)

    def _asked_put(self) -> int:
        if self.put == TRUE:
            self.put = self.sat.variable()
            self.sat.prefer([-self.put])
        return self.put

    def stick(self, quantity: Quantity, shape: Shape, op: str, number: Fraction) -> int:
        if op in (">", ">="):
            return -self.stick(quantity, shape, servo.OPPOSITE[op], number)
        where = (shape.below if op == "<" else shape.at_most)(number, quantity.lo, quantity.hi)
        return self.sat.either([quantity.inside(interval) for interval in where])

    def sum(self, owner: str, shapes: Shapes, op: str, number: Fraction, guard: int) -> int:
        sticks = {name: self.controls.reads[name] for name, _ in shapes}
        if all(q.lo == -100 for q in sticks.values()):
            shapes, factor = scaled(shapes)
            number /= factor
            op = servo.MIRRORED[op] if factor < 0 else op
        key = shapes, tuple(sticks.items())
        found = self.encoding.known_sums.get(key)
        if found is None:
            least, greatest = limits(shapes, {name: (q.lo, q.hi) for name, q in sticks.items()})
            found = self.encoding.known_sums[key] = sums.Sum(shapes, sticks, Quantity(self.sat, least, greatest))
            self.encoding.sums.append(found)
        found.guards.append(guard)
        found.owners.add(owner)
        self.sat.prefer([found.quantity.compare("<", number)])  # beside a value rather than at it: that is hard to meet
        return found.quantity.compare(op, number)
