"""Kleene's three-valued logic, and what the plain evaluator knows of one state."""

from __future__ import annotations

import operator
from collections.abc import Callable, Iterable, Mapping, Sequence
from fractions import Fraction

from setuplint.plain.state import LOST, State
from setuplint.setup.formulas import And, Compare, Formula, Holds, Lost, ModeIs, Not, Or, SwitchIs, Unknown
from setuplint.setup.model import ZERO, BySwitch, Override, Setup

Truth = bool | None

COMPARE: Mapping[str, Callable[[Fraction, Fraction], bool]] = {
    "<": operator.lt,
    "<=": operator.le,
    ">": operator.gt,
    ">=": operator.ge,
}


def no(value: Truth) -> Truth:
    return None if value is None else not value


def every(values: Iterable[Truth]) -> Truth:
    result: Truth = True
    for value in values:
        if value is False:
            return False
        if value is None:
            result = None
    return result


def some(values: Iterable[Truth]) -> Truth:
    result: Truth = False
    for value in values:
        if value is True:
            return True
        if value is None:
            result = None
    return result


def differ(one: Truth, other: Truth) -> Truth:
    return None if one is None or other is None else one != other


class Here:
    """One state with the conditions known so far, asked for the formulas that may stand in a setup."""

    def __init__(self, setup: Setup, state: State, conditions: dict[str, Truth]) -> None:
        self.setup, self.state, self.conditions = setup, state, conditions
        self._modes: tuple[str | None, ...] | None = None

    def holds(self, formula: Formula) -> Truth:
        if isinstance(formula, And):
            return every(map(self.holds, formula.items))
        if isinstance(formula, Or):
            return some(map(self.holds, formula.items))
        if isinstance(formula, Not):
            return no(self.holds(formula.item))
        return self.leaf(formula)

    def leaf(self, formula: Formula) -> Truth:
        if isinstance(formula, SwitchIs):
            return self.state.positions[formula.switch] == formula.position
        if isinstance(formula, Holds):
            return self.conditions[formula.condition]
        if isinstance(formula, Compare):
            value: Fraction | str | None = self.state.sticks.get(formula.name)
            if value is None:
                value = self.state.readings[formula.name]
            return not isinstance(value, str) and COMPARE[formula.op](value, formula.number)
        if isinstance(formula, ModeIs):
            return among(formula.mode, self.modes)
        if isinstance(formula, Lost):
            return self.state.readings[formula.sensor] == LOST
        if isinstance(formula, Unknown):
            return None
        raise TypeError(f"{formula} cannot stand in a setup")

    @property
    def modes(self) -> tuple[str | None, ...]:
        """The modes that may be flown: one, None for no mode, or several where that is not known."""
        # A condition may name a mode; those that modes stand on come before it, so the first question is not too early.
        if self._modes is None:
            self._modes = self._possible()
        return self._modes

    def _possible(self) -> tuple[str | None, ...]:
        found: list[str | None] = []
        for mode in self.setup.modes.values():
            value = True if mode.when is None else self.holds(mode.when)
            if value is not False:
                found.append(mode.name)
            if value is True:
                return tuple(found)
        return (*found, None)

    def amount(self, quantity: Fraction | BySwitch) -> Fraction:
        return quantity.at[self.state.positions[quantity.switch]] if isinstance(quantity, BySwitch) else quantity


def among(item: str | None, possible: Sequence[str | None]) -> Truth:
    if item not in possible:
        return False
    return True if len(possible) == 1 else None


def contenders(rivals: Sequence[tuple[Override, Truth]], pick: str | None) -> list[Override | None]:
    """Who may decide a channel, None for its own line; the last one does if nothing that is unknown holds.

    `rivals` are its overrides whose `when` is not False, in file order; `pick` wins over its equals.
    """
    if not rivals:
        return [None]
    # One whose priority is not known may stand anywhere.
    able: list[Override | None] = [override for override, _ in rivals if override.priority is None]
    placed = [(override, value) for override, value in rivals if override.priority is not None]
    placed.sort(key=lambda rival: (-(rival[0].priority or ZERO), rival[0].name != pick))
    for override, value in placed:
        able.append(override)
        if value is True:
            return able
    if not any(override.priority is None and value is True for override, value in rivals):
        able.append(None)
    return able
