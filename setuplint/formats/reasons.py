"""Why something holds in a state, as a tree: the formula, its atoms with their truth, and the conditions behind them."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from setuplint.dataclass import dataclass, field
from setuplint.formats.numbers import decimal
from setuplint.formats.terminal import plain
from setuplint.plain.evaluate import Evaluation, truth
from setuplint.plain.state import Memory, State
from setuplint.setup import formulas as f
from setuplint.setup.formula_text import formula_text
from setuplint.setup.model import Condition, Setup

DEEPEST = 12
WORDS = {True: "yes", False: "no", None: "not known"}
ON = {True: "on", False: "off", None: "not known"}


@dataclass(slots=True)
class Reason:
    """A line of the tree, and the lines below it."""

    text: str
    under: list[Reason] = field(default_factory=list)


class Reasons:
    """The reasons in one settled state. `before` is the memory it came from, `line` says where a part is in the file."""

    def __init__(
        self, setup: Setup, state: State, seen: Evaluation, before: Memory, line: Callable[[str, str], str]
    ) -> None:
        self.setup, self.state, self.seen, self.before, self.line = setup, state, seen, before, line

    def node(self, head: str, formula: f.Formula) -> Reason:
        """A head that rests on a formula, with the formula's atoms below it; a condition with its own atoms."""
        return Reason(head + compound_words(formula), self._formula(formula, set(), 0))

    def _formula(self, formula: f.Formula, told: set[str], depth: int) -> list[Reason]:
        found = []
        for atom in dict.fromkeys(f.atoms(formula)):
            if isinstance(atom, f.Holds):
                found.append(self._condition(self.setup.conditions[atom.condition], told, depth))
            elif isinstance(atom, f.ModeIs):
                mode = self.setup.modes[atom.mode]
                here = WORDS[truth(self.setup, atom, self.state, self.seen)]
                found.append(Reason(f"mode is {plain(mode.name)} ({self.line('modes', mode.name)}): {here}"))
            else:
                found.append(Reason(f"{formula_words(atom)}: {WORDS[truth(self.setup, atom, self.state, self.seen)]}"))
        return found

    def _condition(self, condition: Condition, told: set[str], depth: int) -> Reason:
        name = condition.name
        node = Reason(f"{plain(name)} ({self.line('conditions', name)}): {ON[self.seen.conditions[name]]}")
        if name in told or depth >= DEEPEST:
            node.text += ", as above" if name in told else ""
            return node
        told.add(name)
        node.text += self._memory(condition) + compound_words(condition.when)
        node.under = self._formula(condition.when, told, depth + 1)
        if condition.until is not None:
            node.under.append(
                Reason(f"until {formula_words(condition.until)}", self._formula(condition.until, told, depth + 1))
            )
        return node

    def _memory(self, condition: Condition) -> str:
        """The delays and the memory of a condition, in words."""
        said = ""
        if condition.after:
            said += f", after {decimal(condition.after)} s"
        if condition.stays:
            said += f", stays {decimal(condition.stays)} s"
        if condition.toggles:
            said += ", changes over each time"
        if condition.remembers and self.seen.conditions[condition.name] and condition.name in self.before.on:
            said += ", from before"
        return said


def formula_words(formula: f.Formula) -> str:
    """A formula as it could be written in the file."""
    text = formula_text(formula)
    return "something that cannot be read" if text is None else plain(text)


def compound_words(formula: f.Formula) -> str:
    """The formula, if it is made of several; it stands above them."""
    return f", {formula_words(formula)}" if isinstance(formula, f.And | f.Or | f.Not) else ""


def tree_lines(nodes: list[Reason], indent: str = "") -> Iterator[str]:
    """The tree in lines."""
    for number, node in enumerate(nodes, start=1):
        last = number == len(nodes)
        yield f"{indent}{'└─' if last else '├─'} {node.text}"
        yield from tree_lines(node.under, f"{indent}{'   ' if last else '│  '}")
