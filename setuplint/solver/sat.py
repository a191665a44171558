"""Gates and questions over one incremental SAT solver. Literals are non-zero integers; TRUE and FALSE are literals too."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from setuplint import budget
from setuplint.budget import (
    CONFLICTS_A_CALL,
    CONFLICTS_A_FILE,
    CONFLICTS_A_QUESTION,
    CONFLICTS_THEN,
    OutOfBudget,
    Spent,
)
from setuplint.solver.minisat import Minisat

TRUE = 1
FALSE = -1
LARGEST_POOL = 256
MOST_LOOKED_UP = 64  # literals at once

Rails = tuple[int, int]  # Kleene: a literal for "is true", one for "is false"; neither: unknown
UNKNOWN: Rails = (FALSE, FALSE)


def known(literal: int) -> Rails:
    return literal, -literal


class Sat:
    """Hash-consed gates: the same inputs give the same literal, so frames that share controls share clauses."""

    def __init__(self, spent: Spent | None = None) -> None:
        self.solver = Minisat()
        self.variables = 1
        self.solver.add_clause([TRUE])
        self.gates: dict[tuple[int, ...], int] = {}
        self.inputs: list[tuple[int, ...] | None] = [None, None]  # of gates, by variable
        # Assignments seen: many questions are answered by one of them. The pool has, by variable, in which of them it is
        # true and in which false, as bits, and how many of them were looked at for that.
        self.seen_before: list[bytes] = []
        self.pool: list[tuple[int, int, int]] = []
        self.alike: dict[
            tuple[int, int, int], tuple[int, int, int]
        ] = {}  # one object for all variables of which it is so
        self.file = spent or Spent()
        self.new_question()
        self.false_by_itself = False  # what was asked last
        self.before = 0, 0  # conflicts and propagations of this solver so far

    def variable(self) -> int:
        self.file.charge(budget.VARIABLE)
        self.variables += 1
        self.inputs.append(None)
        return self.variables

    def clause(self, *literals: int) -> None:
        self.file.charge(budget.CLAUSE)
        if TRUE not in literals:
            self.solver.add_clause([x for x in literals if x != FALSE])

    def both(self, literals: Iterable[int]) -> int:
        """The conjunction; TRUE of none."""
        inputs = set(literals)
        inputs.discard(TRUE)
        if FALSE in inputs:
            return FALSE
        if len(inputs) < 2:
            return inputs.pop() if inputs else TRUE
        self.file.work += budget.GATE  # a sum that is over shows at the next charge
        key = tuple(sorted(inputs))
        gate = self.gates.get(key)
        if gate is None:
            if key[0] < 0 < key[-1] and not inputs.isdisjoint([-x for x in key]):
                return FALSE
            gate = self.gates[key] = self._gate(key)
        return gate

    def _gate(self, key: tuple[int, ...]) -> int:
        """A variable that is true just where all of these are."""
        self.file.charge(budget.CLAUSE * (len(key) + 1) + budget.VARIABLE)
        self.variables = gate = self.variables + 1
        self.inputs.append(key)
        self.solver.add_conjunction(gate, key)
        return gate

    def either(self, literals: Iterable[int]) -> int:
        """The disjunction; FALSE of none."""
        return -self.both([-x for x in literals])

    def differ(self, a: int, b: int) -> int:
        """Exclusive or."""
        return self.either((self.both((a, -b)), self.both((-a, b))))

    def pick_one(self, literals: Sequence[int]) -> None:
        """Exactly one of them holds, in every state."""
        self.clause(*literals)
        for n, a in enumerate(literals):
            for b in literals[n + 1 :]:
                self.clause(-a, -b)

    def choices(self, count: int) -> list[int]:
        """Literals for one of `count` alternatives."""
        if count == 1:
            return [TRUE]
        if count == 2:
            first = self.variable()
            return [first, -first]
        found = [self.variable() for _ in range(count)]
        self.pick_one(found)
        return found

    def new_question(self) -> None:
        self.spent = self.boxes = 0
        self.begun = self.file.work

    def solve(self, assumptions: Sequence[int]) -> bool:
        """Whether the assumptions can hold together; OutOfBudget when the search runs out."""
        self.false_by_itself = FALSE in assumptions
        if self.false_by_itself:
            return False
        self.file.charge(budget.CALL)
        left = CONFLICTS_A_QUESTION - self.spent
        if left <= 0:
            raise OutOfBudget(f"the search used up its {CONFLICTS_A_QUESTION} conflicts")
        if self.is_spent:
            raise OutOfBudget(f"one question used up its {budget.WORK_A_QUESTION:,} units of work")
        most = CONFLICTS_A_CALL if self.file.conflicts < CONFLICTS_A_FILE else CONFLICTS_THEN
        many = self.variables >= budget.MANY
        a_conflict = 1 + self.variables // budget.VARIABLES_OF_MANY if many else 1
        most = min(most, budget.WORK_A_QUESTION // a_conflict)
        answer = self.solver.solved(list(assumptions), min(left, most))
        conflicts, propagations = self.solver.totals()
        used = conflicts - self.before[0]
        self.spent += used
        self.file.conflicts += used
        a_unit = budget.PROPAGATIONS_OF_MANY if many else budget.PROPAGATIONS_A_UNIT
        self.file.work += used * a_conflict + (propagations - self.before[1]) // a_unit
        self.before = conflicts, propagations
        if answer is None:
            raise OutOfBudget(f"one search used up its {most} conflicts")
        return answer

    def following(self, literal: int) -> set[int]:
        """The literals that follow from one without searching."""
        self.file.charge(budget.CALL)
        return set(self.solver.propagated([literal])) if literal not in (TRUE, FALSE) else set()

    def unless_refuted(self, literal: int) -> int:
        """The same literal, or FALSE where it is seen without searching that it can never hold."""
        if literal in (TRUE, FALSE):
            return literal
        self.file.charge(budget.CALL)
        return FALSE if self.solver.refutes([literal]) else literal

    def prefer(self, literals: Sequence[int]) -> None:
        """Where they may hold or not, let searches try first that they do."""
        self.solver.prefer([x for x in literals if x not in (TRUE, FALSE)])

    @property
    def is_spent(self) -> bool:
        """Whether the question has used up its part of the file's work."""
        return self.file.work - self.begun > budget.WORK_A_QUESTION

    def model(self) -> Model:
        """The assignment found by the last solve."""
        values = self.solver.model()
        self.file.work += len(values) // budget.VALUES_A_UNIT
        so = bytes([value > 0 for value in values])  # an answer may hold it for long
        if self.pooled < LARGEST_POOL:
            self.pool += [(0, 0, self.pooled)] * (len(values) + 1 - len(self.pool))
            self.seen_before.append(b"\0" + so)
        return Model(so)

    @property
    def pooled(self) -> int:
        """How many assignments there are in the pool."""
        return len(self.seen_before)

    def forget(self) -> None:
        """Empty the pool: a clause has been added that says more than what a new variable means."""
        self.pool, self.seen_before, self.alike = [], [], {}

    def seen(self, literals: Sequence[int]) -> bool:
        """Whether some assignment seen before makes all of these true. Of very many no one looks: a search is as quick."""
        if len(literals) > MOST_LOOKED_UP:
            return False
        pool, pooled = self.pool, len(self.seen_before)
        common = (1 << pooled) - 1
        for literal in literals:
            variable = literal if literal > 0 else -literal
            if variable < len(pool) and pool[variable][2] == pooled:
                true, false, _ = pool[variable]
            else:
                true, false = self._pooled(variable)
            common &= true if literal > 0 else false
            if not common:
                return False
        return True

    def _pooled(self, variable: int) -> tuple[int, int]:
        """In which assignments of the pool a variable is true, and in which false; a gate made since by its inputs, which
        are always older than it."""
        pool, pooled = self.pool, self.pooled
        for new in range(len(pool), variable + 1):
            true = false = 0
            inputs = self.inputs[new]
            if inputs is not None:
                true = (1 << pooled) - 1
                for each in inputs:
                    if each > 0:
                        t, n = self._among(each)
                    else:
                        n, t = self._among(-each)
                    true &= t
                    false |= n
            entry = true, false, pooled
            pool.append(self.alike.setdefault(entry, entry))
        return self._among(variable)

    def _among(self, variable: int) -> tuple[int, int]:
        true, false, done = self.pool[variable]
        pooled = len(self.seen_before)
        if done < pooled:
            for n in range(done, pooled):
                value = self.seen_before[n][variable : variable + 1]  # none where the solver had not met it
                if value == b"\1":
                    true |= 1 << n
                elif value:
                    false |= 1 << n
            self.pool[variable] = true, false, pooled
        return true, false

    def core(self) -> list[int]:
        """Those of the assumptions that the last search found not to hold together; none where one of them is FALSE."""
        return [] if self.false_by_itself else self.solver.core()

    def counts(self, literals: Sequence[int]) -> list[int]:
        """The literal at index k is true when more than k of them hold."""
        counts = [[x] for x in literals]
        while len(counts) > 1:
            counts = [
                self._merge(counts[n], counts[n + 1]) if n + 1 < len(counts) else counts[n]
                for n in range(0, len(counts), 2)
            ]
        return counts[0] if counts else []

    def _merge(self, a: list[int], b: list[int]) -> list[int]:
        total = [self.variable() for _ in (*a, *b)]
        self.file.charge(budget.CLAUSE * ((len(a) + 1) * (len(b) + 1) - 1))
        for i, one in enumerate([0, *a]):
            for j, other in enumerate([0, *b]):
                if i or j:
                    more = total[i + j - 1]
                    self.solver.add_clause([-one, -other, more] if one and other else [-(one or other), more])
        return total


class Model:
    """One assignment; literals the solver never saw count as false."""

    __slots__ = ("values",)

    def __init__(self, values: bytes) -> None:
        self.values = values  # of each variable, 1 or 0

    def __getitem__(self, literal: int) -> bool:
        index = abs(literal) - 1
        value = index < len(self.values) and self.values[index] > 0
        return value if literal > 0 else not value

    def of(self, literals: Iterable[int]) -> list[bool]:
        """Whether each of them holds."""
        values, most = self.values, len(self.values)
        return [
            (x <= most and values[x - 1] > 0) if x > 0 else not (-x <= most and values[-x - 1] > 0) for x in literals
        ]
