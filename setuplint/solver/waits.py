"""How long conditions take to settle after a movement, and an instant in which some have not."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from fractions import Fraction

from setuplint.named_tuple import NamedTuple
from setuplint.setup import formulas as f
from setuplint.setup.model import ZERO, Condition, Setup
from setuplint.solver.frame import Frame
from setuplint.solver.sat import UNKNOWN, Rails, known

SETTLES = (True, False)
Late = frozenset[tuple[str, bool]]  # conditions, each with what its `when` settles to


class Chain(NamedTuple):
    """Seconds, the last of the conditions that make them up, and the chain before it: a row of thousands is kept once."""

    seconds: Fraction
    last: str = ""
    before: Chain | None = None

    def links(self) -> list[Chain]:
        """The chain up to each of its conditions, in their order."""
        found: list[Chain] = []
        chain: Chain | None = self
        while chain is not None and chain.last:
            found.append(chain)
            chain = chain.before
        return found[::-1]

    def settled(self, condition: Condition) -> dict[bool, Chain]:
        """The same for each value that the `when` of its condition may settle to: it comes on by `after`, goes off by `stays`."""
        if not (condition.after and condition.stays) or self.last != condition.name:
            return dict.fromkeys(SETTLES, self)
        less = max(condition.after, condition.stays)
        return {
            on: self._replace(seconds=self.seconds - less + (condition.after if on else condition.stays))
            for on in SETTLES
        }


def waits(setup: Setup, switch: str) -> dict[str, Chain]:
    """For each condition that rests on the switch, the longest wait until it is settled after a movement of that."""
    longest = _Longest(setup, switch)
    for condition in setup.conditions.values():
        set_, reset = longest.of([condition.when]), longest.of([condition.until])
        own = max(condition.after, condition.stays)
        if set_ is not None and own:
            set_ = Chain(set_.seconds + own, condition.name, set_)
        chains = [chain for chain in (set_, reset) if chain is not None]
        if chains:
            longest.found[condition.name] = max(chains, key=lambda chain: chain[0])
    return longest.found


class _Longest:
    """The longest waits of what formulas ask for, by those of conditions that were found so far."""

    def __init__(self, setup: Setup, switch: str) -> None:
        self.setup, self.switch = setup, switch
        self.found: dict[str, Chain] = {}
        self.modes: list[Chain | None] = []

    def of(self, formulas: Iterable[f.Formula | None]) -> Chain | None:
        best: Chain | None = None
        for formula in formulas:
            for atom in f.atoms(formula) if formula is not None else ():
                chain = self._one(atom)
                if chain is not None and (best is None or chain[0] > best[0]):
                    best = chain
        return best

    def _one(self, atom: f.Formula) -> Chain | None:
        if isinstance(atom, f.SwitchIs):
            return Chain(ZERO) if atom.switch == self.switch else None
        if isinstance(atom, f.Holds):
            return self.found.get(atom.condition)
        if isinstance(atom, f.ModeIs):
            if not self.modes:  # the conditions that modes rest on come before those that rest on modes
                self.modes.append(self.of(mode.when for mode in self.setup.modes.values()))
            return self.modes[0]
        return None


class Lagging(Frame):
    """An instant after a movement: the conditions in `late` may still be on their way to what they settle to, if that is so."""

    def __init__(
        self,
        old: Frame,
        moved: Frame,
        late: Late,
        rests: Callable[[str, Collection[str]], bool],
        all_: Collection[str],
    ) -> None:
        """`rests` says whether a condition rests on others of some; `all_` are those that take time after the movement."""
        super().__init__(moved.encoding, moved.controls, moved.before)
        self.old, self.rests, self.all = old, rests, all_
        self.late, self.late_so = frozenset(name for name, _ in late), late

    def _delayed(self, condition: Condition) -> Rails:
        true, false = self.truth(condition.when)
        if condition.name not in self.late:
            return true, false
        if true != -false:
            return UNKNOWN
        now = self.loose(condition, true)
        was, was_not = self.old.delayed(condition)
        if was == -was_not and not self.rests(condition.name, self.all):  # its `when` has changed once, at the movement
            self.sat.clause(-was, -true, now)
            self.sat.clause(was, true, -now)
        if (condition.name, True) not in self.late_so:
            self.sat.clause(-true, now)
        if (condition.name, False) not in self.late_so:
            self.sat.clause(true, -now)
        return known(now)

    def _condition(self, condition: Condition) -> Rails:
        if condition.remembers and (condition.name in self.late or self.rests(condition.name, self.late)):
            return known(self.sat.variable())
        return super()._condition(condition)


class FirstMoment(Frame):
    """The state right after a movement, before any delay has run out: what waits has not come, what stays has not gone."""

    def __init__(self, old: Frame, moved: Frame) -> None:
        super().__init__(moved.encoding, moved.controls, moved.before)
        self.old = old

    def _delayed(self, condition: Condition) -> Rails:
        now = self.truth(condition.when)
        if not (condition.after or condition.stays):
            return now
        was = self.old.delayed(condition)
        if condition.after and condition.stays:
            return was
        return self.all_of((now, was)) if condition.after else self.any_of((now, was))
