"""Whether two conditions of a joined setup are equal: at every instant, whatever is remembered and whatever delays run."""

from __future__ import annotations

from setuplint.budget import OutOfBudget, Spent
from setuplint.setup import formulas as f
from setuplint.setup.model import Condition, Setup
from setuplint.solver.encoding import Bits, Encoding
from setuplint.solver.frame import Frame

MOST_ASKED = 2_000  # pairs of conditions for one comparison

Parts = tuple[int | None, int | None]


class Equal:
    """Conditions as literals over the controls; what one with a delay or a memory gives may be anything. A literal of None:
    something in the formula cannot be read."""

    def __init__(self, controls: Setup, spent: Spent | None = None) -> None:
        encoding = Encoding(controls, spent)
        self.sat = encoding.sat
        self.frame = Frame(encoding, encoding.controls(), Bits.free(self.sat))
        self.values: dict[str, int | None] = {}
        self.added: dict[str, Parts] = {}
        self.asked = 0

    def charge(self, work: int) -> None:
        """Count work that is done beside. OutOfBudget where there is none left to do."""
        self.sat.file.charge(work)

    @property
    def is_spent(self) -> bool:
        """Whether no more pairs are asked about: what is not written alike counts as another."""
        return self.asked > MOST_ASKED

    def add(self, condition: Condition) -> None:
        """A condition whose own conditions were added before."""
        parts = self.added[condition.name] = self.parts(condition)
        if None not in parts and (condition.remembers or condition.after or condition.stays):
            self.values[condition.name] = self.sat.variable()
        else:
            self.values[condition.name] = parts[0]

    def parts(self, condition: Condition) -> Parts:
        """Its `when` and its `until`."""
        return self.literal(condition.when), self.literal(condition.until or f.FALSE)

    def same(self, parts: Parts, other: str) -> bool:
        """Whether a `when` and an `until` are those of a condition that was added."""
        self.asked += 1
        if self.asked > MOST_ASKED:
            return False
        self.sat.new_question()
        try:
            return all(self._same(a, b) for a, b in zip(parts, self.added[other], strict=True))
        except OutOfBudget:
            return False

    def _same(self, one: int | None, other: int | None) -> bool:
        if one is None or other is None:
            return False
        return one == other or not self.sat.solve([self.sat.differ(one, other)])

    def literal(self, formula: f.Formula) -> int | None:
        match formula:
            case f.And(items) | f.Or(items):
                self.sat.file.charge(len(items))
                found = [self.literal(item) for item in items]
                known = [x for x in found if x is not None]
                if len(known) < len(found):
                    return None
                return self.sat.both(known) if isinstance(formula, f.And) else self.sat.either(known)
            case f.Not(item):
                inner = self.literal(item)
                return None if inner is None else -inner
            case f.Holds(name):
                return self.values.get(name)
            case f.SwitchIs() | f.Lost() | f.Heard() | f.Compare():
                return self.frame.truth(formula)[0]
        return None
