"""Which states can be reached (MEANING.md 6): from power-up, by steps, through memory.

A question is a literal that each settled frame can give. It is asked on ever longer chains of frames, cheapest proofs first:
memory free (can only prove), power-up, one and two steps, what single bits and pairs of memory always satisfy (can only
prove), up to eight steps, then breadth first over memory vectors.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction
from functools import reduce
from itertools import combinations, product
from operator import or_

from setuplint.budget import PART, OutOfBudget, Spent
from setuplint.dataclass import dataclass, replace
from setuplint.setup import formulas as f
from setuplint.setup.cone import Cone, Cones, has_kind, names_of_kind
from setuplint.setup.model import Setup
from setuplint.solver import sums
from setuplint.solver.encoding import Bits, Encoding
from setuplint.solver.frame import Frame
from setuplint.solver.sat import FALSE, LARGEST_POOL, Model

Question = Callable[[Frame], int]

EARLY_STEPS = 2
MOST_STEPS = 8
MOST_VECTORS = 4_096
MOST_REFUTED = 2_000
MOST_BITS_IN_PAIRS = 24


@dataclass(frozen=True, slots=True)
class Found:
    """A chain of settled frames, the last of which answers, and what must be assumed for the chain to be real."""

    frames: tuple[Frame, ...]  # from power-up where memory matters, else the last state alone
    literal: int
    assumptions: tuple[int, ...]
    model: Model | None  # None: a real assignment exists and was not fetched
    points: dict[tuple[int, str], Fraction]
    hasty: bool = False
    from_power_up: bool = False


@dataclass(slots=True)
class Link:
    """One step of a chain: the settled state, and what is handed on (it may lag where timed conditions feed memory)."""

    settled: Frame
    passing: Frame


class Reach:
    """The chains of one setup and the questions asked of them."""

    def __init__(self, setup: Setup, spent: Spent | None = None, cones: Cones | None = None) -> None:
        self.setup = setup
        self.encoding = Encoding(setup, spent, cones)
        self.sat = self.encoding.sat
        self.cones = self.encoding.cones
        self.remembering = [c.name for c in setup.conditions.values() if c.remembers]
        self.remembered = reduce(or_, (self.cones.bit(("condition", name)) for name in self.remembering), 0)
        self.memory_cone = self.cones.of(f.Holds(n) for n in self.remembering)
        self.timed = [
            c
            for c in names_of_kind(self.memory_cone, "condition")
            if setup.conditions[c].after or setup.conditions[c].stays
        ]
        free = Bits.free(self.sat)
        self.base = self.link(Frame(self.encoding, self.encoding.controls(), free))
        self.heard: int | None = None  # literal: the receiver was on before the base
        self.chain: list[Link] = []
        self.invariants: dict[tuple[tuple[str, ...], bool], int] = {}
        self._start: int | None = None
        start: f.Formula = f.Predicate("start allowed")
        self.start_memory = self._memory(self.cones.of([start]))

    # -- chains

    def link(self, settled: Frame, passed: Frame | None = None, first: bool = False) -> Link:
        if not self.timed:
            return Link(settled, settled)
        passing = Frame(
            self.encoding, settled.controls, settled.before, hasty=True, passed=passed, first=first, ties=settled.ties
        )
        return Link(settled, passing)

    def at(self, step: int) -> Link:
        """The chain's link at a step; step 0 is power-up."""
        while len(self.chain) <= step:
            if not self.chain:
                controls = self.encoding.controls(receiver=FALSE)
                before = Bits.off()
            else:
                last = self.chain[-1]
                controls = self.encoding.controls()
                self.sat.clause(-last.settled.controls.receiver, controls.receiver)
                before = last.passing.memory_after()
            passed = self.chain[-1].passing if self.chain else None
            settled = Frame(self.encoding, controls, before)
            self.chain.append(self.link(settled, passed, first=not self.chain))
        return self.chain[step]

    @property
    def start(self) -> int:
        """The literal that the power-up state is admitted."""
        if self._start is None:
            true, false = self.at(0).settled.truth(f.Predicate("start allowed"))
            self._start = true if true == -false else -false
        return self._start

    def admits(self) -> bool:
        """Whether any state is admitted at power-up."""
        return self.sat.solve([self.start])

    # -- questions

    def solve(
        self,
        assumptions: Sequence[int],
        frames: Sequence[Frame],
        channels: set[str],
        *,
        trim: bool = False,
        fetch: bool = False,
    ) -> Found | None:
        """An assignment that is real for sums of several sticks too, in the given frames and channels; None: there is none.
        With `trim` it is about the frames' trimmed versions; with `fetch` the assignment itself is wanted."""
        read = [(frame.trimmed if trim and frame.trimmed else frame).controls for frame in frames]
        mine = {id(q) for controls in read for q in controls.reads.values()}
        relevant = [
            s for s in self.encoding.sums if s.owners & channels and all(id(q) in mine for q in s.sticks.values())
        ]
        if trim and sum(self.encoding.tie_trims(controls) for controls in read):
            self.sat.forget()
        found = Found(tuple(frames), 0, tuple(assumptions), None, {})
        self.sat.file.charge(
            1 + len(self.encoding.sums) // 2
        )  # when the budget is spent the pool gives no answer either
        if not relevant and not fetch and self.sat.seen(assumptions):
            return found
        touching: sums.Touching | None = None
        passed_over: list[int] = []  # a literal that forbids what could not be refuted, for as long as this is asked
        for _ in range(MOST_REFUTED):
            if not self.sat.solve([*assumptions, *passed_over]):
                if touching is not None:
                    raise touching
                return None
            if not relevant and not fetch and self.sat.pooled >= LARGEST_POOL:
                return found
            model = self.sat.model()
            try:
                clause, points = sums.refute(relevant, model, self.sat)
            except sums.Touching as end:
                touching, passed_over = end, passed_over or [self.sat.variable()]
                self.sat.clause(-passed_over[0], *sums.blocking(relevant, model))
                continue
            if clause is None:
                return replace(found, model=model, points=points)
            self.sat.clause(*clause)
            self.sat.forget()
        raise OutOfBudget(f"sums of several sticks were refuted {MOST_REFUTED} times")

    def _memory(self, cone: Cone) -> list[str]:
        """The latches and toggles in it, in file order."""
        return [*self.cones.in_order(cone.bits & self.remembered, "condition")] if self.remembered else []

    def ask(self, question: Question, cone: Cone, also: Sequence[int] = (), calm: bool = False) -> Found | None:
        """A reachable settled state for which the question's literal holds, or None: there is none. OutOfBudget.

        `calm` passes over paths on which a delay is caught still running; None is still said of them too.
        """
        self.sat.new_question()
        self.sat.file.charge(len(self.cones.nodes) // PART)
        channels, trim = names_of_kind(cone, "channel"), ("trim", "") in cone
        memory = self._memory(cone)
        base = self.base.settled
        literal = question(base)
        if not memory:
            return self._named(self.solve([literal, *also], [base], channels, trim=trim), literal)
        if self.solve([literal, *also], [base], channels, trim=trim) is None:
            return None
        memory = sorted({*memory, *self.start_memory}, key=self.remembering.index)
        trouble: list[OutOfBudget] = []
        for steps in range(EARLY_STEPS + 1):
            found = self._at_step(question, steps, channels, trim, trouble, calm)
            if found is not None:
                return found
        hears = has_kind(cone, "sensor")
        invariant = self._invariant(memory, hears)
        if not trouble and self.solve([literal, invariant, *also], [base], channels, trim=trim) is None:
            return None
        for steps in range(EARLY_STEPS + 1, MOST_STEPS + 1):
            found = self._at_step(question, steps, channels, trim, trouble, calm)
            if found is not None:
                return found
            if steps == EARLY_STEPS + 2:
                depth = self._first_depth(literal, memory, channels, hears, trouble)
                if depth is None and not trouble:
                    return None
                if depth is not None and depth > MOST_STEPS:
                    self._lay_out(depth, memory)
                    found = self._at_step(question, depth, channels, trim, trouble, calm)
                    if found is not None:
                        return found
        raise trouble[0] if trouble else OutOfBudget(f"the search through memory went past {MOST_STEPS} steps")

    def never(self, literal: int, frame: Frame, cone: Cone, *, thorough: bool = False) -> bool:
        """Whether a literal of a frame over the base's controls and memory holds after no power-up and no steps, every timed
        condition under memory being late or lingering as it likes. False is no proof of anything; `thorough` goes through
        the states of memory where bounds of it do not tell. OutOfBudget."""
        channels, trim = names_of_kind(cone, "channel"), ("trim", "") in cone
        memory = self._memory(cone)
        if self.solve([literal], [frame], channels, trim=trim) is None:
            return True
        if not memory:
            return False
        memory = sorted({*memory, *self.start_memory}, key=self.remembering.index)
        hears = has_kind(cone, "sensor")
        invariant = self._invariant(memory, hears)
        if self.solve([literal, invariant], [frame], channels, trim=trim) is None:
            return True
        return thorough and self._breadth_first(literal, memory, channels, hears, frame) is None

    def at_power_up(self, question: Question, cone: Cone, instant: bool = False) -> Found | None:
        """The question on the power-up state alone; `instant`: on its first moment, every `after` still off."""
        self.sat.new_question()
        settled = self.at(0).settled
        frame = settled
        if instant:
            frame = Frame(self.encoding, settled.controls, settled.before, instant=True, ties=settled.ties)
        literal = question(frame)
        found = self.solve([self.start, literal], [frame], names_of_kind(cone, "channel"), trim=("trim", "") in cone)
        return self._named(found, literal, power_up=True)

    def _named(self, found: Found | None, literal: int, hasty: bool = False, power_up: bool = False) -> Found | None:
        if found is None:
            return None
        return Found(found.frames, literal, found.assumptions, found.model, found.points, hasty, power_up)

    def _at_step(
        self, question: Question, steps: int, channels: set[str], trim: bool, trouble: list[OutOfBudget], calm: bool
    ) -> Found | None:
        links = [self.at(n) for n in range(steps + 1)]
        frames = [link.settled for link in links]
        literal = question(frames[-1])
        still = [-lag for link in links[:-1] for lag in link.passing.lags.values()]
        try:
            for extra in [still] if calm or not still else [still, []]:
                found = self.solve([self.start, literal, *extra], frames, channels, trim=trim)
                if found is not None:
                    return self._named(found, literal, hasty=extra != still, power_up=True)
        except OutOfBudget as end:
            trouble.append(end)
        return None

    def _lay_out(self, steps: int, memory: list[str]) -> None:
        """The memory of each step in turn: a path of hundreds of steps would else be as many calls deep."""
        for step in range(steps):
            for name in memory:
                self.at(step).passing.condition(name)

    # -- proofs and searches over memory

    def _bits(self, memory: list[str], hears: bool) -> tuple[list[int], list[int], list[int]]:
        """What is remembered: before a step, after it, and after power-up. A receiver that is on stays so, like memory."""
        toggles = [n for n in memory if self.setup.conditions[n].toggles]
        before, after, first = (
            [bits.on[n] for n in memory] + [bits.last[n] for n in toggles]
            for bits in (self.base.settled.before, self.base.passing.memory_after(), self.at(0).passing.memory_after())
        )
        if hears:
            receiver = self.base.settled.controls.receiver
            if self.heard is None:
                self.heard = self.sat.variable()
                self.sat.clause(-self.heard, receiver)
            before, after, first = [*before, self.heard], [*after, receiver], [*first, FALSE]
        return before, after, first

    def _invariant(self, memory: list[str], hears: bool) -> int:
        """The literal over free memory of all that single bits and pairs of them satisfy after power-up and every step."""
        key = (tuple(memory), hears)
        if key not in self.invariants:
            try:
                self.invariants[key] = self._strongest(memory, hears)
            except OutOfBudget:
                self.invariants[key] = -FALSE
        return self.invariants[key]

    def _strongest(self, memory: list[str], hears: bool) -> int:
        sat = self.sat
        base, after, first = self._bits(memory, hears)
        size = range(len(base))
        clauses: list[tuple[tuple[int, int], ...]] = [((n, sign),) for n in size for sign in (1, -1)]
        if len(base) <= MOST_BITS_IN_PAIRS:
            clauses += [((a, x), (b, y)) for a, b in combinations(size, 2) for x, y in product((1, -1), repeat=2)]

        def over(bits: list[int], clause: tuple[tuple[int, int], ...]) -> int:
            return sat.either(sign * bits[n] for n, sign in clause)

        def surviving(bits: list[int], assumed: Sequence[int]) -> bool:
            """Drop the clauses that some assignment breaks; whether any was dropped."""
            nonlocal clauses
            dropped = False
            while clauses and sat.solve([*assumed, sat.either(-over(bits, c) for c in clauses)]):
                model = sat.model()
                values = [model[b] for b in bits]
                clauses = [c for c in clauses if any(values[n] == (sign > 0) for n, sign in c)]
                dropped = True
            return dropped

        surviving(first, [self.start])
        while surviving(after, [over(base, c) for c in clauses]):
            pass
        return sat.both(over(base, c) for c in clauses)

    def _first_depth(
        self, literal: int, memory: list[str], channels: set[str], hears: bool, trouble: list[OutOfBudget]
    ) -> int | None:
        try:
            return self._breadth_first(literal, memory, channels, hears)
        except OutOfBudget as end:  # longer paths are tried still
            trouble.append(end)
            return None

    def _breadth_first(
        self, literal: int, memory: list[str], channels: set[str], hears: bool, frame: Frame | None = None
    ) -> int | None:
        """The number of the step at which the literal can first hold, or None: never. OutOfBudget past the vectors."""
        sat = self.sat
        before, after, first = self._bits(memory, hears)
        fresh_first, fresh = (
            sat.variable(),
            sat.variable(),
        )  # power-up, or a step, leaves behind what was not met before
        seen = 0

        def successors(bits: list[int], assumed: Sequence[int]) -> list[tuple[bool, ...]]:
            nonlocal seen
            found = []
            while sat.solve(assumed):
                model = sat.model()
                vector = tuple(model[b] for b in bits)
                found.append(vector)
                seen += 1
                if seen > MOST_VECTORS:
                    raise OutOfBudget(f"more than {MOST_VECTORS} states of memory were met")
                for guard, where in ((fresh_first, first), (fresh, after)):
                    sat.clause(-guard, *(-b if v else b for b, v in zip(where, vector, strict=True)))
            return found

        level = successors(first, [self.start, fresh_first])
        depth = 1
        while level:
            following: list[tuple[bool, ...]] = []
            for vector in level:
                here = [b if v else -b for b, v in zip(before, vector, strict=True)]
                if self.solve([*here, literal], [frame or self.base.settled], channels) is not None:
                    return depth
            for vector in level:
                here = [b if v else -b for b, v in zip(before, vector, strict=True)]
                following += successors(after, [*here, fresh])
            level, depth = following, depth + 1
        return None
