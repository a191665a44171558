"""One state of the controls as literals, and every formula over it as a pair of literals: true, false, or neither (Kleene).

A frame is one step: its controls, the memory it starts from, and what it makes of them. Frames that share control literals
share the gates over them, so a movement of one switch is a frame that differs in that switch alone.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from fractions import Fraction

from setuplint.curves import lines, servo
from setuplint.curves.servo import compared
from setuplint.curves.shape import Shape
from setuplint.curves.sums import Shapes, limits, scaled
from setuplint.setup import formulas as f
from setuplint.setup.model import Channel, Condition, Override
from setuplint.setup.predicates import predicate_formula
from setuplint.solver import sums
from setuplint.solver.encoding import Bits, Controls, Encoding
from setuplint.solver.follows import follows
from setuplint.solver.quantities import Quantity
from setuplint.solver.sat import FALSE, TRUE, UNKNOWN, Rails, known

MOST_KEPT = 64  # frames after movements, of one frame


class Frame:
    """The meaning of one state. Every method gives literals; nothing is asked of the solver here."""

    def __init__(
        self,
        encoding: Encoding,
        controls: Controls,
        before: Bits,
        *,
        hasty: bool = False,
        passed: Frame | None = None,
        first: bool = False,
        instant: bool = False,
        ties: dict[str, dict[str, int]] | None = None,
    ) -> None:
        """`before` is the memory it starts from. `hasty`: timed conditions under memory may lag or linger; what was on in the
        frame `passed` before does not lag, what was off there (or is the `first`, at power-up) does not linger. `instant`:
        the first moment after power-up, every `after` still off."""
        self.encoding, self.setup, self.sat = encoding, encoding.setup, encoding.sat
        self.controls, self.before, self.hasty, self.instant = controls, before, hasty, instant
        self.passed, self.first = passed, first
        self.ties = ties if ties is not None else {}
        self.lags: dict[str, int] = {}  # condition: its value may differ from its `when`
        self.memo: dict[f.Formula, Rails] = {}
        self.whens: dict[str, Rails] = {}
        self._modes: list[Rails] | None = None
        self.trimmed: Frame | None = None  # the same state with trims anywhere
        self._deciders: dict[str, dict[str | None, Rails]] = {}
        self.throws: dict[tuple[str, str], Frame] = {}

    # -- formulas

    def truth(self, formula: f.Formula) -> Rails:
        found = self.memo.get(formula)
        if found is None:
            found = self.memo[formula] = self._truth(formula)
        return found

    def _truth(self, formula: f.Formula) -> Rails:
        match formula:
            case f.And(items):
                rails = [self.truth(i) for i in items]
                return self.sat.both(t for t, _ in rails), self.sat.either(n for _, n in rails)
            case f.Or(items):
                rails = [self.truth(i) for i in items]
                return self.sat.either(t for t, _ in rails), self.sat.both(n for _, n in rails)
            case f.Not(item):
                true, false = self.truth(item)
                return false, true
            case f.SwitchIs(switch, position):
                return known(self.controls.positions[switch][position])
            case f.Lost(sensor):
                return known(self.controls.lost[sensor])
            case f.Heard(sensor):
                return known(self.heard(sensor))
            case f.Compare(name, op, number):
                return known(self.compare(name, op, number))
            case f.Holds(condition):
                return self.condition(condition)
            case f.ModeIs(mode):
                return self.mode(mode)
            case f.Active(override):
                return self.truth(self.setup.overrides[override].when)
            case f.Decides(channel, override):
                return self.deciders(channel)[override]
            case f.OutputCompare(channel, op, number):
                return self.output(channel, op, number)
            case f.Sounds(alarm):
                found = self.setup.alarms[alarm]
                return self.truth(found.when) if found.audible else known(FALSE)
            case f.CellBelow(volts):
                cell = self.controls.voltages.get("")
                return UNKNOWN if cell is None else known(cell.compare("<", volts))
            case f.Follows(channel, stick):
                return follows(self, channel, stick)
            case f.Predicate(name):
                meaning = predicate_formula(self.setup, name)
                return self.truth(meaning)
            case f.Unknown():
                return UNKNOWN

    def heard(self, sensor: str) -> int:
        return self.sat.both((self.controls.receiver, -self.controls.lost[sensor]))

    def compare(self, name: str, op: str, number: Fraction) -> int:
        if name in self.controls.sticks:
            return self.controls.sticks[name].compare(op, number)
        quantity, unit = self.encoding.quantity_of(name)
        return self.sat.both((self.heard(name), self.controls.voltages[quantity].compare(op, number / unit)))

    # -- conditions and modes

    def condition(self, name: str) -> Rails:
        found = self.memo.get(f.Holds(name))
        if found is not None:
            return found
        # In dependency order, so that a chain of thousands does not go as deep.
        cones = self.encoding.cones
        for each in cones.in_order(cones.part(("condition", name)), "condition"):
            formula = f.Holds(each)
            if formula not in self.memo:
                self.memo[formula] = self._condition(self.setup.conditions[each])
        return self.memo[f.Holds(name)]

    def _condition(self, condition: Condition) -> Rails:
        if condition.name in self.encoding.tainted:
            return UNKNOWN
        true, _false = when = self.delayed(condition)
        if condition.toggles:
            rising = self.sat.both((true, -self.before.last[condition.name]))
            return known(self.sat.differ(self.before.on[condition.name], rising))
        if condition.until is not None:
            reset = self.truth(condition.until)[0]
            return known(self.sat.both((-reset, self.sat.either((true, self.before.on[condition.name])))))
        return when

    def delayed(self, condition: Condition) -> Rails:
        """Its `when` as `after` and `stays` pass it on: the same once settled."""
        found = self.whens.get(condition.name)
        if found is None:
            found = self.whens[condition.name] = self._delayed(condition)
        return found

    def _delayed(self, condition: Condition) -> Rails:
        true, false = self.truth(condition.when)
        if self.instant and condition.after:
            return known(FALSE)
        if self.hasty and (condition.after or condition.stays) and true == -false:
            now = self.sat.variable()
            if not condition.stays:
                self.sat.clause(-now, true)
            if not condition.after:
                self.sat.clause(now, -true)
            was = self.passed.delayed(condition)[0] if self.passed is not None else FALSE
            if self.first or self.passed is not None:
                self.sat.clause(-now, true, was)
                self.sat.clause(now, -true, -was)
            self.lags[condition.name] = self.sat.differ(now, true)
            return known(now)
        return true, false

    def modes(self) -> list[Rails]:
        """Rails of each mode in deciding order, and last of "no mode"."""
        if self._modes is None:
            found: list[Rails] = []
            none_true: list[int] = []  # literals whose conjunction: none so far
            some_true: list[int] = []
            for mode in self.setup.modes.values():
                true, false = (TRUE, FALSE) if mode.when is None else self.truth(mode.when)
                found.append((self.sat.both((true, *none_true)), self.sat.either((false, *some_true))))
                none_true.append(false)
                some_true.append(true)
            found.append((self.sat.both(none_true), self.sat.either(some_true)))
            self._modes = found
        return self._modes

    def mode(self, name: str | None) -> Rails:
        modes = self.modes()
        return modes[-1] if name is None else modes[list(self.setup.modes).index(name)]

    def moved(
        self,
        positions: Mapping[str, dict[str, int]] | None = None,
        sticks: Mapping[str, Quantity] | None = None,
    ) -> Frame:
        """The settled frame after a movement out of this one: some controls replaced, all else the same."""
        controls = self.controls
        controls = replace(
            controls,
            positions=controls.positions | dict(positions or {}),
            sticks=controls.sticks | dict(sticks or {}),
            reads=controls.reads | dict(sticks or {}),
        )
        return Frame(self.encoding, controls, Bits.after(self))

    def thrown(self, switch: str, position: str) -> Frame:
        """The settled frame after one switch is put in a position; asking again gives the same one."""
        found = self.throws.get((switch, position))
        if found is None:
            places = self.setup.switches[switch].positions
            found = self.moved(positions={switch: {p: TRUE if p == position else FALSE for p in places}})
            if len(self.throws) < MOST_KEPT:
                self.throws[switch, position] = found
        return found

    def shadow(self, sticks: Mapping[str, Quantity]) -> Frame:
        """Out of this state, memory as it leaves it, with some sticks elsewhere."""
        controls = replace(
            self.controls, sticks=self.controls.sticks | dict(sticks), reads=self.controls.reads | dict(sticks)
        )
        return Frame(self.encoding, controls, Bits.after(self), ties=self.ties)

    # -- channels

    def deciders(self, channel: str) -> dict[str | None, Rails]:
        """For each override of the channel, and for None (its own line), whether it decides."""
        found = self._deciders.get(channel)
        if found is not None:
            return found
        found = {}
        no_higher: list[int] = []  # all false for sure
        some_higher: list[int] = []  # one true for sure
        for rank in self.encoding.by_channel[channel]:
            active = {o.name: self.truth(o.when) for o in rank}
            picks = self._picks(rank, active)
            for override in rank:
                true, false = active[override.name]
                pick = picks[override.name]
                sure = FALSE if override.priority is None else self.sat.both((true, pick, *no_higher))
                found[override.name] = (sure, self.sat.either((false, -pick, *some_higher)))
            no_higher += [n for _, n in active.values()]
            some_higher += [t for o in rank if o.priority is not None for t in (active[o.name][0],)]
        found[None] = (self.sat.both(no_higher), self.sat.either([self.truth(o.when)[0] for o in self._all(channel)]))
        self._deciders[channel] = found
        return found

    def _all(self, channel: str) -> list[Override]:
        return [o for rank in self.encoding.by_channel[channel] for o in rank]

    def _picks(self, rank: list[Override], active: Mapping[str, Rails]) -> dict[str, int]:
        """Among equals any may win: one free choice, of an active one where there is one."""
        if len(rank) == 1:
            return {rank[0].name: TRUE}
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

    def output(self, channel: str, op: str, number: Fraction) -> Rails:
        """The settled output against a number."""
        found = self.setup.channels[channel]
        yes: list[int] = []
        no: list[int] = []
        deciders = self.deciders(channel)
        for override in self._all(channel):
            if override.value is not None:
                holds = compared(self.encoding.fixed(found, override), op, number)
                (yes if holds else no).append(deciders[override.name][0])
        free = deciders[None][0]
        if free != FALSE:
            for mode, true in self.flown(found):
                right, wrong = self.line(found, mode, op, number, self.sat.both((free, true)))
                yes.append(self.sat.both((free, true, right)))
                no.append(self.sat.both((free, true, wrong)))
        return self.sat.either(yes), self.sat.either(no)

    def flown(self, channel: Channel) -> Iterator[tuple[str | None, int]]:
        """One of the modes that share a line, with the literal that one of them is flown; of every line of the channel."""
        shared: dict[str | None, list[int]] = {}
        for mode, (true, _) in zip([*self.setup.modes, None], self.modes(), strict=True):
            if true != FALSE:
                shared.setdefault(mode if mode in channel.lines else None, []).append(true)
        return ((mode, self.sat.either(literals)) for mode, literals in shared.items())

    def line(self, channel: Channel, mode: str | None, op: str, number: Fraction, guard: int) -> Rails:
        """The output of its line in a mode against a number; `guard` is where that line decides."""
        cases = self.encoding.lines(channel, mode)
        if cases is None:
            return UNKNOWN
        bound = self.encoding.bound(channel, op, number)
        yes = []
        for case in cases:
            here = self.guards(case)
            deciding = self.sat.both((guard, here))
            right = self.demand(channel.name, case.constant, case.shapes, bound, deciding)
            yes.append(self.sat.both((here, right)))
        return known(self.sat.either(yes))

    def guards(self, case: lines.Case) -> int:
        return self.sat.either(self.sat.both(self.guard(g) for g in guards) for guards in case.guards)

    def guard(self, guard: lines.Guard) -> int:
        kind, name, choice = guard
        return self.controls.positions[name][choice] if kind == "switch" else self.encoding.smoothing[name][choice]

    def demand(self, owner: str, constant: Fraction, shapes: Shapes, bound: servo.Bound, guard: int) -> int:
        """Whether a constant and the sticks together stand in the bound."""
        if bound.op in ("always", "never"):
            return TRUE if bound.op == "always" else FALSE
        number = bound.number - constant
        if not shapes:
            return TRUE if compared(Fraction(0), bound.op, number) else FALSE
        if len(shapes) > 1:
            return self.sum(owner, shapes, bound.op, number, guard)
        name, shape = shapes[0]
        return self.stick(self.controls.reads[name], shape, bound.op, number)

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
        found = next((s for s in self.encoding.sums if s.shapes == shapes and s.sticks == sticks), None)
        if found is None:
            least, greatest = limits(shapes, {name: (q.lo, q.hi) for name, q in sticks.items()})
            found = sums.Sum(shapes, sticks, Quantity(self.sat, least, greatest))
            self.encoding.sums.append(found)
        found.guards.append(guard)
        found.owners.add(owner)
        return found.quantity.compare(op, number)
