"""What memory can be after power-up and any steps: bounds that prove, and its states in turn (MEANING.md 6)."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from itertools import combinations, product

from setuplint.budget import OutOfBudget
from setuplint.named_tuple import NamedTuple
from setuplint.solver.sat import FALSE, TRUE, Sat

MOST_VECTORS = 4_096
MOST_BITS_IN_PAIRS = 24

Bit = tuple[str, str]  # ("on", latch or toggle), ("last", toggle), ("heard", "")
Clause = tuple[tuple[Bit, bool], ...]  # one of these bits is so


BEFORE, AFTER, FIRST = range(3)


class Remembered(NamedTuple):
    """One bit of memory, as literals: before a step, after it, and after power-up."""

    before: int
    after: int
    first: int


class Past:
    """The memory of some latches and toggles. Its bounds and states are the same for every question that rests on these."""

    def __init__(self, sat: Sat, start: int, bits: Mapping[Bit, Remembered], smaller: Sequence[Past] = ()) -> None:
        """`start` is the literal that the state at power-up is admitted; the bits of `smaller` ones are among these."""
        self.sat, self.start, self.bits, self.smaller = sat, start, bits, smaller
        self._bound: int | None = None
        self._gates: dict[tuple[Clause, int], int] = {}
        self._levels: list[
            int
        ] = []  # literals over memory before a step: it can be one of those first met after so many
        self._growing: list[int] = []  # states of the next
        self._met = 0
        self._fresh: tuple[int, int] | None = None

    # -- bounds

    @property
    def knows_bound(self) -> bool:
        """Whether the bound has been worked out."""
        return self._bound is not None

    @property
    def bound(self) -> int:
        """The literal, over memory before a step, of all that single bits and pairs of them satisfy after power-up and every
        step."""
        if self._bound is None:
            try:
                known = self.sat.both([past.bound for past in self.smaller])
                found = self._strongest(list(self._clauses()), known)
                self._bound = self.sat.both([known, *(-self._broken(clause, BEFORE) for clause in found)])
            except OutOfBudget:
                self._bound = TRUE
        return self._bound

    def _clauses(self) -> Iterator[Clause]:
        """Those of single bits and of pairs, but what was asked of fewer bits: these go on without the others."""
        asked: set[Bit | tuple[Bit, Bit]] = set()
        for past in self.smaller:
            asked.update(past.bits)
            asked.update(past.pairs)
        yield from (((bit, sign),) for bit in self.bits if bit not in asked for sign in (True, False))
        for a, b in self.pairs:
            if (a, b) not in asked:
                yield from (((a, x), (b, y)) for x, y in product((True, False), repeat=2))

    @property
    def pairs(self) -> Iterable[tuple[Bit, Bit]]:
        """Those that are asked about."""
        return combinations(self.bits, 2) if len(self.bits) <= MOST_BITS_IN_PAIRS else ()

    def _strongest(self, clauses: list[Clause], known: int) -> list[Clause]:
        """Those of the clauses that hold after power-up, and after a step from where they and what is known do."""
        clauses = self._surviving(clauses, FIRST, [self.start])
        left = -1
        while left != len(clauses):
            left = len(clauses)
            clauses = self._surviving(clauses, AFTER, [known, *(-self._broken(clause, BEFORE) for clause in clauses)])
        return clauses

    def _surviving(self, clauses: list[Clause], when: int, assumed: Sequence[int]) -> list[Clause]:
        """Those that no assignment breaks: first by some assignments, a bit each way, then by all."""
        literals = {bit: remembered[when] for bit, remembered in self.bits.items()}
        named = {name for clause in clauses for name in clause}
        for bit, sign in [(bit, sign) for bit in literals for sign in (True, False) if (bit, sign) in named]:
            if self.sat.solve([*assumed, -literals[bit] if sign else literals[bit]]):
                clauses = self._unbroken(clauses, literals)
        broken = {clause: self._broken(clause, when) for clause in clauses}
        while clauses and self.sat.solve([*assumed, self.sat.either([broken[clause] for clause in clauses])]):
            clauses = self._unbroken(clauses, literals)
        return clauses

    def _unbroken(self, clauses: list[Clause], literals: Mapping[Bit, int]) -> list[Clause]:
        """Those that hold in the assignment just found."""
        so = set(zip(literals, self.sat.model().of(literals.values()), strict=True))
        return [clause for clause in clauses if clause[0] in so or clause[-1] in so]

    def _broken(self, clause: Clause, when: int) -> int:
        """The literal that a clause does not hold."""
        found = self._gates.get((clause, when))
        if found is None:
            found = self.sat.both([-self.bits[bit][when] if sign else self.bits[bit][when] for bit, sign in clause])
            self._gates[clause, when] = found
        return found

    # -- states

    def first_depth(self, literal: int, possible: Callable[[Sequence[int]], bool], most: int) -> int | None:
        """The number of the step at which a literal over memory before it can first hold, or None: never. OutOfBudget past so
        many states of memory."""
        depth = 1
        while (level := self._level(depth, most)) != FALSE:
            if possible([level, literal]):
                return depth
            depth += 1
        return None

    def _level(self, depth: int, most: int) -> int:
        while len(self._levels) < depth:
            if self._levels and self._levels[-1] == FALSE:
                return FALSE
            self._grow(most)
            self._levels.append(self.sat.either(self._growing))
            self._growing = []
        return self._levels[depth - 1]

    def _grow(self, most: int) -> None:
        """Every state that follows from those of the last level and was not met before."""
        sat = self.sat
        if self._fresh is None:  # power-up, or a step, leaves behind what was not met before
            self._fresh = sat.variable(), sat.variable()
        fresh_first, fresh = self._fresh
        assumed = [self._levels[-1], fresh] if self._levels else [self.start, fresh_first]
        bits = list(self.bits.values())
        now = [bit.after if self._levels else bit.first for bit in bits]
        while self._has_another(assumed):
            if self._met >= most:
                raise OutOfBudget(f"more than {most:,} states of memory were met")
            vector = sat.model().of(now)
            self._met += 1
            kept = [tuple(x if v else -x for x in bit) for bit, v in zip(bits, vector, strict=True)]
            self._growing.append(sat.both([bit[BEFORE] for bit in kept]))
            sat.clause(-fresh_first, *[-bit[FIRST] for bit in kept])
            sat.clause(-fresh, *[-bit[AFTER] for bit in kept])

    def _has_another(self, assumed: Sequence[int]) -> bool:
        try:
            return self.sat.solve(assumed)
        except OutOfBudget as end:
            raise OutOfBudget(f"{end} after {self._met:,} states of memory") from end
