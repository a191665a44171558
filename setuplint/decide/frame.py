"""One state of the controls as literals, and every formula over it as a pair of literals: true, false, or neither (Kleene).

A frame is one step: its controls, the memory it starts from, and what it makes of them. Frames that share control literals
share the gates over them, so a movement of one switch is a frame that differs in that switch alone.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction

from setuplint.decide import lines, servo, sums
from setuplint.decide.cone import Cones
from setuplint.decide.curves import SMOOTHINGS, Shape
from setuplint.decide.follows import follows
from setuplint.decide.predicates import predicate
from setuplint.decide.quantities import Quantity
from setuplint.decide.sat import FALSE, TRUE, UNKNOWN, Rails, Sat, known
from setuplint.decide.state import RANGES
from setuplint.setup import formulas as f
from setuplint.setup.model import Channel, Condition, Override, Setup


@dataclass(slots=True)
class Controls:
    """Literals for one state of the controls."""

    positions: dict[str, dict[str, int]]
    sticks: dict[str, Quantity]  # as formulas read them
    reads: dict[str, Quantity]  # as channels read them: with trim, where trim is asked for
    voltages: dict[str, Quantity]  # "" is the voltage of a cell; other sensors under their own names
    receiver: int
    lost: dict[str, int]


class _Lazy(dict[str, int]):
    """Literals made when they are first asked for."""

    def __init__(self, make: Callable[[str], int]) -> None:
        super().__init__()
        self.make = make

    def __missing__(self, name: str) -> int:
        self[name] = literal = self.make(name)
        return literal


class Bits:
    """Memory as literals: latches and toggles that are on, and toggles whose `when` held last."""

    __slots__ = ("last", "on")

    def __init__(self, on: dict[str, int], last: dict[str, int]) -> None:
        self.on, self.last = on, last

    @classmethod
    def off(cls) -> Bits:
        return cls(defaultdict(lambda: FALSE), defaultdict(lambda: FALSE))

    @classmethod
    def free(cls, sat: Sat) -> Bits:
        return cls(_Lazy(lambda _: sat.variable()), _Lazy(lambda _: sat.variable()))

    @classmethod
    def after(cls, frame: Frame) -> Bits:
        """What a frame leaves behind."""
        conditions = frame.setup.conditions
        return cls(_Lazy(lambda name: frame.condition(name)[0]), _Lazy(lambda name: frame.delayed(conditions[name])[0]))


class Encoding:
    """What all frames of one setup share: the solver, the cases of lines, unknown smoothings, which conditions are unknown."""

    def __init__(self, setup: Setup) -> None:
        self.setup, self.sat, self.cones = setup, Sat(), Cones(setup)
        self.cases: dict[tuple[str, str | None], tuple[lines.Case, ...]] = {}
        self.tied: dict[int, int] = {}
        self.thresholds: dict[tuple[str, str], list[Fraction]] = {}
        self.bounds: dict[tuple[str, str, Fraction], servo.Bound] = {}
        self.outputs: dict[str, Fraction] = {}
        self.sums: list[sums.Sum] = []
        self.smoothing = {
            curve.name: dict(zip(SMOOTHINGS, self.sat.choices(3), strict=True))
            for curve in setup.curves.values()
            if curve.smoothing == "unknown"
        }
        self.by_channel: dict[str, list[list[Override]]] = {name: [] for name in setup.channels}
        for name in setup.channels:
            self.by_channel[name] = ranked(o for o in setup.overrides.values() if o.channel == name)
        self.tainted: set[str] = set()
        for condition in setup.conditions.values():
            if condition.remembers and any(self._unknown(a) for a in _parts(condition)):
                self.tainted.add(condition.name)
        self.shared_cell = any(
            s.reads == "cell-voltage" or (s.reads == "pack-voltage" and setup.battery.cells is not None)
            for s in setup.sensors.values()
        )

    def _unknown(self, atom: f.Formula) -> bool:
        setup = self.setup
        if isinstance(atom, f.Holds):
            if atom.condition in self.tainted:
                return True
            return any(self._unknown(a) for a in _parts(setup.conditions[atom.condition]))
        if isinstance(atom, f.ModeIs):
            return any(self._unknown(a) for m in setup.modes.values() if m.when for a in f.atoms(m.when))
        return isinstance(atom, f.Unknown)

    def lines(self, channel: Channel, mode: str | None) -> tuple[lines.Case, ...] | None:
        line = channel.line(mode)
        if line.terms is None:
            return None
        key = (channel.name, mode)
        if key not in self.cases:
            self.cases[key] = lines.cases(self.setup, line)
        return self.cases[key]

    def bound(self, channel: Channel, op: str, number: Fraction) -> servo.Bound:
        """What an output against a number asks of the demand."""
        key = (channel.name, op, number)
        found = self.bounds.get(key)
        if found is None:
            found = self.bounds[key] = servo.demand_bound(channel, op, number)
        return found

    def fixed(self, channel: Channel, override: Override) -> Fraction:
        """The output that an override gives."""
        found = self.outputs.get(override.name)
        if found is None:
            assert override.value is not None
            found = self.outputs[override.name] = servo.output(channel, override.value)
        return found

    def quantity_of(self, sensor: str) -> tuple[str, Fraction]:
        """The name of the quantity that a sensor shows, and what one unit of it reads as."""
        reads, cells = self.setup.sensors[sensor].reads, self.setup.battery.cells
        if reads == "cell-voltage":
            return "", Fraction(1)
        if reads == "pack-voltage" and cells is not None:
            return "", Fraction(cells)
        return sensor, Fraction(1)

    def controls(self, receiver: int | None = None) -> Controls:
        """A fresh state of the controls, anything possible; FALSE for a receiver that is off."""
        sat, setup = self.sat, self.setup
        if receiver is None:
            receiver = sat.variable() if setup.sensors else TRUE
        lost = {name: sat.variable() if receiver != FALSE else FALSE for name in setup.sensors}
        for literal in lost.values():
            sat.clause(-literal, receiver)
        sticks = {name: Quantity(sat, Fraction(-100), Fraction(100)) for name in setup.sticks}
        voltages = {"": Quantity(sat, *RANGES["cell-voltage"])} if self.shared_cell else {}
        for name, sensor in setup.sensors.items():
            if self.quantity_of(name)[0] == name:
                voltages[name] = Quantity(sat, *RANGES[sensor.reads])
        positions = {n: self.positions(n) for n in setup.switches}
        return Controls(positions, sticks, sticks, voltages, receiver, lost)

    def positions(self, switch: str) -> dict[str, int]:
        """Fresh literals for a switch, one of which holds."""
        names = self.setup.switches[switch].positions
        return dict(zip(names, self.sat.choices(len(names)), strict=True))

    def trimmed(self, controls: Controls) -> Controls:
        """The same state with every trim anywhere in its range, for channels alone (formulas compare without it)."""
        reads = dict(controls.sticks)
        for name, stick in self.setup.sticks.items():
            if stick.trim:
                reads[name] = Quantity(self.sat, -100 - stick.trim, 100 + stick.trim)
        return replace(controls, reads=reads)

    def tie_trims(self, controls: Controls) -> bool:
        """What a channel reads is within the trim of where the stick is, as far as the stick has been cut; whether anything
        was new."""
        new = False
        for name, read in controls.reads.items():
            stick = controls.sticks[name]
            if read is stick or self.tied.get(id(read)) == len(stick.at):
                continue
            new = True
            trim = self.setup.sticks[name].trim or Fraction(0)
            for at in [stick.lo, *list(stick.at), stick.hi]:
                below, upto = stick.cut(at)
                self.sat.clause(-upto, read.cut(at + trim)[1])
                self.sat.clause(below, -read.cut(at - trim)[0])
                self.sat.clause(-below, read.cut(at + trim)[0])
                self.sat.clause(upto, -read.cut(at - trim)[1])
            self.tied[id(read)] = len(stick.at)
        return new


def ranked(overrides: Iterable[Override]) -> list[list[Override]]:
    """Overrides in ranks of equal priority, highest first; one whose priority cannot be read stands above all."""
    ranks: dict[Fraction | None, list[Override]] = {}
    for override in overrides:
        ranks.setdefault(override.priority, []).append(override)
    unknown = ranks.pop(None, [])
    return [[o] for o in unknown] + [ranks[p] for p in sorted(ranks, key=lambda p: p or Fraction(0), reverse=True)]


def _parts(condition: Condition) -> list[f.Formula]:
    return [*f.atoms(condition.when), *(f.atoms(condition.until) if condition.until else ())]


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
                meaning = predicate(self.setup, name)
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
            for mode, (true, _) in zip([*self.setup.modes, None], self.modes(), strict=True):
                if true != FALSE:
                    right, wrong = self.line(found, mode, op, number, self.sat.both((free, true)))
                    yes.append(self.sat.both((free, true, right)))
                    no.append(self.sat.both((free, true, wrong)))
        return self.sat.either(yes), self.sat.either(no)

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

    def demand(self, owner: str, constant: Fraction, shapes: sums.Shapes, bound: servo.Bound, guard: int) -> int:
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

    def sum(self, owner: str, shapes: sums.Shapes, op: str, number: Fraction, guard: int) -> int:
        sticks = {name: self.controls.reads[name] for name, _ in shapes}
        if all(q.lo == -100 for q in sticks.values()):
            shapes, factor = sums.scaled(shapes)
            number /= factor
            op = servo.MIRRORED[op] if factor < 0 else op
        found = next((s for s in self.encoding.sums if s.shapes == shapes and s.sticks == sticks), None)
        if found is None:
            least, greatest = sums.limits(shapes, {name: (q.lo, q.hi) for name, q in sticks.items()})
            found = sums.Sum(shapes, sticks, Quantity(self.sat, least, greatest))
            self.encoding.sums.append(found)
        found.guards.append(guard)
        found.owners.add(owner)
        return found.quantity.compare(op, number)


def compared(value: Fraction, op: str, number: Fraction) -> bool:
    if op == "<":
        return value < number
    if op == "<=":
        return value <= number
    return value > number if op == ">" else value >= number
