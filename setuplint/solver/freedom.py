"""Which values a control may have in a chain of states, those first that are easy to read."""

from __future__ import annotations

from fractions import Fraction

from setuplint.fraction import fraction
from setuplint.plain.resting import rest, round_inside, sensible
from setuplint.plain.state import LOST, State
from setuplint.solver.frame import Frame
from setuplint.solver.pins import Control
from setuplint.solver.quantities import Cell, Quantity
from setuplint.solver.reach import Found, Reach
from setuplint.solver.sat import FALSE, TRUE
from setuplint.solver.sums import inner


class Freedom:
    """What the controls may be in the states of an answer: literals, that of rest first, then those of round values."""

    frames: list[Frame]
    found: Found

    def __init__(self, reach: Reach) -> None:
        self.reach, self.sat, self.setup = reach, reach.sat, reach.setup
        self._rest: State | None = None
        self._ordered: dict[tuple[Quantity, Control], tuple[int, list[int]]] = {}

    @property
    def rest(self) -> State:
        if self._rest is None:
            self._rest = rest(self.setup)
        return self._rest

    def options(self, step: int, control: Control) -> list[int]:
        """Literals for what a control may be, the preferred first; together with their order, its whole freedom."""
        kind, name = control
        controls = self.frames[step].controls
        if kind == "switch":
            return list(controls.positions[name].values())
        if kind == "receiver":
            return [controls.receiver, -controls.receiver]
        if kind == "sensor" and self.reach.encoding.quantity_of(name)[0] == "":
            return [-controls.lost[name], controls.lost[name]]
        quantity = self.quantity(step, control)
        known = self._ordered.get((quantity, control))
        if known is None or known[0] != len(quantity.at):  # until it is cut again the order stays
            known = self._ordered[quantity, control] = len(quantity.at), self._in_order(quantity, control)
        ordered = known[1]
        if kind == "sensor":
            lost = controls.lost[name]
            return [self.sat.both((-lost, c)) for c in ordered] + [self.sat.both((lost, c)) for c in ordered]
        return ordered

    def _in_order(self, quantity: Quantity, control: Control) -> list[int]:
        """The stretches of a quantity, that of rest first, then those that round values are in."""
        cells, at = list(quantity.cells()), self.rest_value(control)
        here = [c for c in cells if _inside(c, at)]
        others = sorted((c for c in cells if c not in here), key=lambda c: _roundness(self.value(control, c)))
        return [self.sat.both((c.above, c.under)) for c in here + others]

    def quantity(self, step: int, control: Control) -> Quantity:
        controls = self.frames[step].controls
        kind, name = control
        if kind == "stick":
            quantity = controls.sticks[name]
            quantity.cut(self.rest_value(control))
            return quantity
        return controls.voltages[name]

    def rest_value(self, control: Control) -> Fraction:
        kind, name = control
        if kind == "stick":
            return self.setup.sticks[name].rest
        if kind == "cell":
            return self.rest.cell or fraction(0)
        value = self.rest.readings[name]
        return value if isinstance(value, Fraction) else fraction(0)

    def at_rest(self, step: int, control: Control) -> int:
        if control[0] == "sensor" and self.rest.readings[control[1]] == LOST:
            return self.frames[step].controls.lost[control[1]]
        if step == 0 and self.found.from_power_up and control[0] in ("receiver", "sensor"):
            return TRUE  # unheard is how power-up is
        return self.options(step, control)[0]

    def moved(self, step: int, control: Control) -> int:
        """The literal that a control is not where it was a step before (the first: not at rest)."""
        if step == 0:
            return -self.at_rest(0, control)
        before, now = self.frames[step - 1], self.frames[step]
        kind, name = control
        if kind == "receiver":
            return FALSE
        if kind == "switch":
            was, became = before.controls.positions[name], now.controls.positions[name]
            return self.sat.both(-self.sat.both((was[p], became[p])) for p in was)
        changed: list[int] = []
        if kind == "sensor":
            if step == 1:
                return -self.at_rest(1, control)
            changed.append(self.sat.differ(before.controls.lost[name], now.controls.lost[name]))
            if self.reach.encoding.quantity_of(name)[0] == "":
                return changed[0]
        one, other = self.quantity(step - 1, control), self.quantity(step, control)
        for place in list(one.places):
            other.cut(place)
        for place in list(other.places):
            one.cut(place)
        for a, b in zip(one.pairs, other.pairs, strict=True):
            changed += [self.sat.differ(x, y) for x, y in zip(a, b, strict=True)]
        return self.sat.either(changed)

    def value(self, control: Control, cell: Cell) -> Fraction:
        """A readable value in a cell."""
        kind, _ = control
        lo, hi = inner(cell)
        if lo == hi:
            return lo
        at = self.rest_value(control)
        if lo <= at <= hi:
            return at
        if kind == "stick":
            return round_inside(lo, hi)
        unit = self._unit() if kind == "cell" else fraction(1)
        return sensible(cell.lo * unit, cell.hi * unit, cell.lo_closed, cell.hi_closed, unit) / unit

    def _unit(self) -> Fraction:
        """What the voltage of a cell is shown times, so that the number shown is round."""
        packs = [s for s in self.setup.sensors.values() if s.reads == "pack-voltage"]
        return fraction(next((cells for s in packs if (cells := self.setup.cells_of(s)) is not None), 1))


def _inside(cell: Cell, at: Fraction) -> bool:
    above = cell.lo < at or (cell.lo == at and cell.lo_closed)
    return above and (at < cell.hi or (at == cell.hi and cell.hi_closed))


def _roundness(value: Fraction) -> tuple[int, Fraction, bool]:
    """Fewest digits first, then the smaller, then the positive one."""
    digits = 0
    shown = abs(value)
    while shown.denominator != 1 and digits < 12:
        shown *= 10
        digits += 1
    text = str(shown.numerator).rstrip("0") or "0"
    return len(text) + (0 if digits == 0 else 1), abs(value), value < 0
