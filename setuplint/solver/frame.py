"""One state of the controls as literals, and every formula over it as a pair of literals: true, false, or neither (Kleene).

A frame is one step: its controls, the memory it starts from, and what it makes of them. Frames that share control literals
share the gates over them, so a movement of one switch is a frame that differs in that switch alone.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from setuplint.budget import PART
from setuplint.dataclass import replace
from setuplint.setup import formulas as f
from setuplint.setup.model import Condition
from setuplint.solver.encoding import Bits, Controls, Encoding, Lazy
from setuplint.solver.follows import follows, rises
from setuplint.solver.outputs import Outputs
from setuplint.solver.quantities import Quantity
from setuplint.solver.sat import FALSE, TRUE, UNKNOWN, Rails, known

MOST_KEPT = 64  # frames after movements, of one frame


class Frame(Outputs):
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
        super().__init__(encoding, controls, ties)
        self.before, self.hasty, self.instant = before, hasty, instant
        self.passed, self.first = passed, first
        self.lags: dict[str, int] = {}  # condition: its value may differ from its `when`
        self.memo: dict[f.Formula, Rails] = {}
        self.sides: tuple[dict[f.Formula, int], dict[f.Formula, int]] = (
            {},
            {},
        )  # one of two rails, where no more was asked
        self.held: dict[str, Rails] = {}  # conditions
        self.done = 0  # the bits of parts whose conditions are all among these
        self.whens: dict[str, Rails] = {}
        self._modes: list[Rails] | None = None
        self.trimmed: Frame | None = None  # the same state with trims anywhere
        self.throws: dict[tuple[str, str], Frame] = {}
        self.on_path = False  # a step from power-up
        self.opens = 0  # latches that may be on after this step, and could not before; told on a path alone

    # -- formulas

    def truth(self, formula: f.Formula) -> Rails:
        found = self.memo.get(formula)
        if found is None:
            found = self.memo[formula] = self._truth(formula)
        return found

    def holds(self, formula: f.Formula) -> int:
        """The literal that it is true: `truth(formula)[0]`, but nothing is put into clauses where a part settles it."""
        return self._rail(formula, 0)

    def _rail(self, formula: f.Formula, side: int) -> int:
        """One of the two of `truth`."""
        memo = self.sides[side]
        found = memo.get(formula)
        if found is None:
            found = memo[formula] = self._one_rail(formula, side)
        return found

    def _one_rail(self, formula: f.Formula, side: int) -> int:
        match formula:
            case f.And(items) | f.Or(items):
                all_of_them = isinstance(formula, f.And) == (side == 0)
                found = []
                for item in self.encoding.cones.least_first(items):
                    found.append(self._rail(item, side))
                    if found[-1] == (FALSE if all_of_them else TRUE):
                        return found[-1]
                return self.sat.both(found) if all_of_them else self.sat.either(found)
            case f.Not(item):
                return self._rail(item, 1 - side)
            case f.Predicate(name):
                return self._rail(self.encoding.cones.predicate(name), side)
        return self.truth(formula)[side]

    def _truth(self, formula: f.Formula) -> Rails:
        match formula:
            case f.And(items) | f.Or(items):
                return self._joined(items, isinstance(formula, f.And))
            case f.Not(item):
                true, false = self.truth(item)
                return false, true
            case f.SwitchIs(switch, position):
                return known(self.controls.positions[switch][position])
            case f.Predicate(name):
                return self.truth(self.encoding.cones.predicate(name))
            case f.OutputCompare(channel, op, number):
                return self.output(channel, op, number)
            case f.ModeIs(mode):
                return self.mode(mode)
            case f.Compare(name, op, number):
                return known(self.compare(name, op, number))
            case f.Holds(condition):
                return self.condition(condition)
            case f.Sounds(alarm):
                return self.truth(found.when) if (found := self.setup.alarms[alarm]).audible else known(FALSE)
            case f.Decides(channel, override):
                return self.deciders(channel)[override]
            case f.Follows(channel, stick):
                return follows(self, channel, stick)
            case f.Active(override):
                return self.truth(self.setup.overrides[override].when)
            case f.Lost(sensor):
                return known(self.controls.lost[sensor])
            case f.Heard(sensor):
                return known(self.heard(sensor))
            case f.Rises(channel, stick, by):
                return rises(self, channel, stick, by)
            case f.CellBelow(volts):
                cell = self.controls.voltages.get("")
                return UNKNOWN if cell is None else known(cell.compare("<", volts))
            case f.Unknown():
                return UNKNOWN

    def _joined(self, items: tuple[f.Formula, ...], all_of_them: bool) -> Rails:
        """All or any of some formulas; none is looked at once one settles it."""
        settles = known(FALSE if all_of_them else TRUE)
        found = []
        for item in items:
            found.append(self.truth(item))
            if found[-1] == settles:
                return settles
        return self.all_of(found) if all_of_them else self.any_of(found)

    def heard(self, sensor: str) -> int:
        return self.sat.both((self.controls.receiver, -self.controls.lost[sensor]))

    def compare(self, name: str, op: str, number: Fraction) -> int:
        if name in self.controls.sticks:
            return self.controls.sticks[name].compare(op, number)
        quantity, unit = self.encoding.quantity_of(name)
        return self.sat.both((self.heard(name), self.controls.voltages[quantity].compare(op, number / unit)))

    # -- conditions and modes

    def condition(self, name: str) -> Rails:
        found = self.held.get(name)
        if found is not None:
            return found
        # In dependency order, so that a chain of thousands does not go as deep.
        cones = self.encoding.cones
        under = cones.part(("condition", name))
        for each in cones.in_order(under & ~self.done, "condition"):
            if each not in self.held:
                self.sat.file.charge(PART)
                self.held[each] = self._condition(self.setup.conditions[each])
        self.done |= under
        return self.held[name]

    def _condition(self, condition: Condition) -> Rails:
        if condition.name in self.encoding.tainted:
            return UNKNOWN
        true, _false = when = self.delayed(condition)
        if condition.toggles:
            rising = self.sat.both((true, -self.before.last[condition.name]))
            return known(self.sat.differ(self.before.on[condition.name], rising))
        if condition.until is not None:
            return known(self._latched(condition, condition.until, true))
        return when

    def _latched(self, condition: Condition, until: f.Formula, true: int) -> int:
        """What a latch is after this. On a path nothing is put into clauses for one that cannot be on yet: where each sets the
        next, that is half of them all."""
        was_on, reset = self.before.on[condition.name], self.truth(until)[0]
        on = self.sat.both((-reset, self.sat.either((true, was_on))))
        if self.on_path and was_on == FALSE:
            on = self.sat.unless_refuted(on)
            self.opens += on != FALSE
        return on

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
            now = self.loose(condition, true)
            if self.first or self.passed is not None:
                self.keep(now, true, self.passed.delayed(condition)[0] if self.passed is not None else FALSE)
            self.lags[condition.name] = self.sat.differ(now, true)
            return known(now)
        return true, false

    def loose(self, condition: Condition, true: int) -> int:
        """A delayed value that need not be that of `when`: `after` can only be late, `stays` can only linger."""
        now = self.sat.variable()
        if not condition.stays:
            self.sat.clause(-now, true)
        if not condition.after:
            self.sat.clause(now, -true)
        return now

    def keep(self, now: int, true: int, was: int) -> None:
        """A delayed value is what it was or what `when` is."""
        self.sat.clause(-now, true, was)
        self.sat.clause(now, -true, -was)

    def modes(self) -> list[Rails]:
        """Rails of each mode in deciding order, and last of "no mode"."""
        if self._modes is None:
            found: list[Rails] = []
            self.sat.file.charge(PART * len(self.setup.modes))
            none, some = TRUE, FALSE  # so far
            for mode in self.setup.modes.values():
                true, false = (TRUE, FALSE) if mode.when is None else self.truth(mode.when)
                found.append((self.sat.both((true, none)), self.sat.either((false, some))))
                none, some = self.sat.both((none, false)), self.sat.either((some, true))
            found.append((none, some))
            self._modes = found
        return self._modes

    def mode(self, name: str | None) -> Rails:
        modes = self.modes()
        return modes[-1] if name is None else modes[list(self.setup.modes).index(name)]

    def memory_after(self) -> Bits:
        """What this state leaves behind."""
        conditions, held = self.setup.conditions, self.held
        return Bits(
            Lazy(lambda name: (held.get(name) or self.condition(name))[0]),
            Lazy(lambda name: self.delayed(conditions[name])[0]),
        )

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
        return Frame(self.encoding, controls, self.memory_after())

    def thrown(self, switch: str, position: str) -> Frame:
        """The settled frame after one switch is put in a position; asking again gives the same one."""
        found = self.throws.get((switch, position))
        if found is None:
            places = self.setup.switches[switch].positions
            found = self.moved(positions={switch: {p: TRUE if p == position else FALSE for p in places}})
            if len(self.throws) < MOST_KEPT:
                self.throws[switch, position] = found
        return found

    def let_go(self) -> None:
        """Forget the frames after movements, which hold this one."""
        after = [*self.throws.values(), *([self.trimmed] if self.trimmed is not None else [])]
        self.throws, self.trimmed = {}, None
        for frame in after:
            frame.let_go()

    def elsewhere(self, sticks: Mapping[str, Quantity]) -> Frame:
        """The same step with some sticks elsewhere, from the same memory."""
        controls = replace(
            self.controls, sticks=self.controls.sticks | dict(sticks), reads=self.controls.reads | dict(sticks)
        )
        return Frame(self.encoding, controls, self.before).with_ties_of(self)

    def shadow(self, sticks: Mapping[str, Quantity]) -> Frame:
        """Out of this state, memory as it leaves it, with some sticks elsewhere."""
        controls = replace(
            self.controls, sticks=self.controls.sticks | dict(sticks), reads=self.controls.reads | dict(sticks)
        )
        return Frame(self.encoding, controls, self.memory_after()).with_ties_of(self)

    def with_ties_of(self, other: Frame) -> Frame:
        """This one, its ties going as in another."""
        self.tied_as = other
        return self
