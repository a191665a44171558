"""One instant as literals, in which timed conditions may not have followed their `when` yet (MEANING.md 8, *Moments*)."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from setuplint.dataclass import replace
from setuplint.setup import formulas as f
from setuplint.setup.model import Condition
from setuplint.solver.encoding import Bits, Controls, Encoding
from setuplint.solver.frame import Frame
from setuplint.solver.quantities import Quantity
from setuplint.solver.sat import FALSE, TRUE, UNKNOWN, Rails, known


class Instant(Frame):
    """Outputs stand at their targets. `lags` has, for each condition that may be behind, the literal that it is."""

    def trimmed_with(self, controls: Controls) -> Instant:
        """The same instant with trims: no formula reads them."""
        return Trimmed(self, controls)

    def shadow(self, sticks: Mapping[str, Quantity]) -> Frame:
        return Elsewhere(self, sticks)

    def lag(self, condition: Condition, true: int) -> Rails:
        """A delayed value that may be behind."""
        now = self.loose(condition, true)
        self.lags[condition.name] = self.sat.differ(now, true)
        return known(now)


class EverSince(Frame):
    """What may have been so at some instant since power-up, no control having moved: literals that a formula may have been
    true, and that it may have been false."""

    def __init__(self, encoding: Encoding, controls: Controls) -> None:
        super().__init__(encoding, controls, Bits.off())

    def _truth(self, formula: f.Formula) -> Rails:
        found = super()._truth(formula)
        return (TRUE, TRUE) if found == UNKNOWN else found

    def _condition(self, condition: Condition) -> Rails:
        true, false = self.truth(condition.when)
        if condition.watches or condition.name in self.encoding.tainted:
            return TRUE, TRUE
        return true, TRUE if condition.after or condition.stays or condition.remembers else false


class AnyInstant(Instant):
    """The conditions in `slow` may be late or linger whatever came before; all others have settled. They are put there in
    dependency order, each before it is asked for. With `ever`, what lingers was so at some instant since then."""

    def __init__(self, encoding: Encoding, controls: Controls, before: Bits, ever: EverSince | None = None) -> None:
        super().__init__(encoding, controls, before)
        self.slow: set[str] = set()
        self.ever = ever

    def _delayed(self, condition: Condition) -> Rails:
        true, false = self.truth(condition.when)
        if condition.name not in self.slow:
            return true, false
        if true != -false:
            return UNKNOWN
        now = self.lag(condition, true)
        if self.ever is not None:
            self.sat.clause(-now[0], self.ever.truth(condition.when)[0])
        return now


class NextInstant(Instant):
    """An instant that follows another: the conditions in `way` keep the delayed value that they had, or take their `when`,
    each freely; all others have settled."""

    def __init__(self, passed: Frame, controls: Controls, way: Collection[str]) -> None:
        super().__init__(passed.encoding, controls, passed.memory_after())
        self.passed, self.way = passed, frozenset(way)

    def _delayed(self, condition: Condition) -> Rails:
        true, false = self.truth(condition.when)
        if condition.name not in self.way or self.passed is None:
            return true, false
        was, was_not = self.passed.delayed(condition)
        if true != -false or was != -was_not:  # what is not known is not said to lag
            return true, false
        behind = self.lag(condition, true)
        self.keep(behind[0], true, was)
        return behind


class Trimmed(Instant):
    """An instant whose sticks are read with trim."""

    def __init__(self, of: Instant, controls: Controls) -> None:
        super().__init__(of.encoding, controls, of.before, ties=of.ties)
        self.of, self.lags = of, of.lags

    def _delayed(self, condition: Condition) -> Rails:
        return self.of.delayed(condition)


class Elsewhere(Frame):
    """An instant with some sticks elsewhere: what is behind stays as it is, all else follows."""

    def __init__(self, of: Instant, sticks: Mapping[str, Quantity]) -> None:
        controls = replace(
            of.controls, sticks=of.controls.sticks | dict(sticks), reads=of.controls.reads | dict(sticks)
        )
        super().__init__(of.encoding, controls, of.memory_after(), ties=of.ties)
        self.of = of

    def _delayed(self, condition: Condition) -> Rails:
        true, false = self.truth(condition.when)
        value = self.of.delayed(condition)
        behind = self.of.lags.get(condition.name, FALSE)
        if behind == FALSE or value == UNKNOWN or true != -false:
            return (true, false) if behind == FALSE else UNKNOWN
        sat = self.sat
        return known(sat.either((sat.both((behind, value[0])), sat.both((-behind, true)))))
