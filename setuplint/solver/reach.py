"""Which states can be reached (MEANING.md 6): from power-up, by steps, through memory.

A question is a literal that each settled frame can give. It is asked on ever longer chains of frames, cheapest proofs first:
memory free (can only prove), power-up, one and two steps, a few states of memory breadth first, up to eight steps, what single
bits of memory and pairs of them always satisfy (can only prove; from then on before longer paths), then all states.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction
from functools import partial, reduce
from operator import or_

from setuplint.budget import PART, OutOfBudget, Spent
from setuplint.dataclass import dataclass, replace
from setuplint.named_tuple import NamedTuple
from setuplint.setup import formulas as f
from setuplint.setup.cone import Cone, Cones, has_kind, names_of_kind
from setuplint.setup.model import Setup
from setuplint.solver import sums
from setuplint.solver.encoding import Bits, Controls, Encoding
from setuplint.solver.frame import Frame
from setuplint.solver.past import MOST_VECTORS, Bit, Past, Remembered
from setuplint.solver.sat import FALSE, LARGEST_POOL, Model

Question = Callable[[Frame], int]

EARLY_STEPS = 2
MOST_STEPS = 8
SOON = 200  # conflicts
FEW_VECTORS, FEW_BITS = 32, 8  # states of a little memory that are walked through before longer paths are tried
MOST_REFUTED = 2_000


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


class Sought(NamedTuple):
    """What is looked for along a path: the question, the channels that it rests on, whether with trims, whether on calm paths
    alone."""

    question: Question
    channels: set[str]
    trim: bool
    calm: bool


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
        self.pasts: dict[frozenset[Bit], Past] = {}
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
            link = self.link(settled, passed, first=not self.chain)
            settled.on_path = link.passing.on_path = True
            self.chain.append(link)
        return self.chain[step]

    @property
    def frames(self) -> list[Frame]:
        """All of its links."""
        return [frame for link in (self.base, *self.chain) for frame in (link.settled, link.passing)]

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
        With `trim` it is about the last frame's trimmed version; with `fetch` the assignment itself is wanted."""
        last = (frames[-1].trimmed if trim else None) or frames[-1]
        read = [*[frame.controls for frame in frames[:-1]], last.controls]
        relevant = self._relevant(read, channels) if self.encoding.sums else []
        if trim and self.encoding.tie_trims(last.controls):
            self.sat.forget()
        found = Found(tuple(frames), 0, tuple(assumptions), None, {})
        self.sat.file.charge(
            1 + len(self.encoding.sums) // 2
        )  # when the budget is spent the pool gives no answer either
        if not relevant and not fetch and self.sat.seen(assumptions):
            return found
        touching, halvings = "", sums.FEW_HALVINGS
        passed_over: list[int] = []  # a literal that forbids what could not be refuted, for as long as this is asked
        for _ in range(MOST_REFUTED):
            if not self.sat.solve([*assumptions, *passed_over]):
                if not touching:
                    return None
                if halvings == sums.HALVINGS:
                    raise sums.Touching(touching)
                touching, passed_over, halvings = "", [], sums.HALVINGS  # what was passed over is looked at closely
                continue
            if not relevant and not fetch and self.sat.pooled >= LARGEST_POOL:
                return found
            model = self.sat.model()
            try:
                clause, points = sums.refute(relevant, model, self.sat, shown=fetch, halvings=halvings)
            except sums.Touching as end:
                touching, passed_over = str(end), passed_over or [self.sat.variable()]
                self.sat.clause(-passed_over[0], *sums.blocking(relevant, model))
                continue
            if clause is None:
                return replace(found, model=model, points=points) if fetch else found
            self.sat.clause(*clause)
            self.sat.forget()
        raise OutOfBudget(f"sums of several sticks were refuted {MOST_REFUTED} times")

    def _relevant(self, read: Sequence[Controls], channels: set[str]) -> list[sums.Sum]:
        """The sums of channels over what is read."""
        mine = {id(q) for controls in read for q in controls.reads.values()}
        return [s for s in self.encoding.sums if s.owners & channels and all(id(q) in mine for q in s.sticks.values())]

    def remembers(self, cone: Cone) -> bool:
        """Whether there are latches or toggles in it."""
        return bool(cone.bits & self.remembered)

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
        past = self._past(memory, has_kind(cone, "sensor"))
        return self._remembered(literal, past, Sought(question, channels, trim, calm), also)

    def _remembered(self, literal: int, past: Past, sought: Sought, also: Sequence[int]) -> Found | None:
        """The same through memory, for what free memory allows: `literal` is what is asked of that."""
        base, trouble = self.base.settled, list[OutOfBudget]()
        first_depth = partial(self._first_depth, literal, past, base, sought.channels)

        def is_bounded() -> bool:
            return self.solve([literal, past.bound, *also], [base], sought.channels, trim=sought.trim) is None

        found, steps = self._along(sought, 0, EARLY_STEPS, trouble)
        if found:
            return found
        if not trouble and past.knows_bound and is_bounded():
            return None
        depth = first_depth(FEW_VECTORS) if len(past.bits) <= FEW_BITS else 0
        if depth is None:
            return None
        found, steps = self._along(sought, max(depth, steps), MOST_STEPS, trouble, len(past.bits))
        if found:
            return found
        if not (trouble or depth or past.knows_bound) and is_bounded():
            return None
        depth = depth or first_depth(MOST_VECTORS, trouble)
        if depth is None:
            return None
        if depth >= steps:
            self._lay_out(depth, past)
            if found := self._at_step(sought, sought.question(self.at(depth).settled), depth, trouble):
                return found
        raise trouble[-1] if trouble else OutOfBudget(f"the search through memory went past {steps - 1} steps")

    def _along(
        self, sought: Sought, steps: int, most: int, trouble: list[OutOfBudget], beyond: int = 0
    ) -> tuple[Found | None, int]:
        """The answer after the fewest steps, from so many up to so many, and the number that comes next. Of steps that let some
        latch be on for the first time, so many `beyond` do not count where it is soon seen that there is no answer yet."""
        while steps <= most:
            frame, before = self.at(steps).settled, self.sat.spent
            literal = sought.question(frame)
            if literal != FALSE and (found := self._at_step(sought, literal, steps, trouble)):
                return found, steps
            if beyond and frame.opens and self.sat.spent - before <= SOON:
                most, beyond = most + 1, beyond - 1
            steps += 1
        return None, steps

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
        past = self._past(memory, has_kind(cone, "sensor"))
        if self.solve([literal, past.bound], [frame], channels, trim=trim) is None:
            return True
        if not thorough:
            return False
        return past.first_depth(literal, lambda x: self.solve(x, [frame], channels) is not None, MOST_VECTORS) is None

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

    def _at_step(self, sought: Sought, literal: int, steps: int, trouble: list[OutOfBudget]) -> Found | None:
        links = self.chain[: steps + 1]
        frames = [link.settled for link in links]
        still = [-lag for link in links[:-1] for lag in link.passing.lags.values()]
        try:
            for extra in [still] if sought.calm or not still else [still, []]:
                found = self.solve([self.start, literal, *extra], frames, sought.channels, trim=sought.trim)
                if found is not None:
                    return self._named(found, literal, hasty=extra != still, power_up=True)
        except OutOfBudget as end:
            trouble.append(end)
        return None

    def _lay_out(self, steps: int, past: Past) -> None:
        """The memory of each step in turn: a path of hundreds of steps would else be as many calls deep."""
        for step in range(steps):
            for kind, name in past.bits:
                if kind == "on":
                    self.at(step).passing.condition(name)

    # -- proofs over memory

    def _past(self, memory: list[str], hears: bool) -> Past:
        """What these, and those of the check at power-up, can be after power-up and any steps. A receiver that is on stays so,
        like memory."""
        asked = {*memory, *self.start_memory}
        memory = [name for name in self.remembering if name in asked]
        bits: dict[Bit, Remembered] = {}
        before, after, first = (
            self.base.settled.before,
            self.base.passing.memory_after(),
            self.at(0).passing.memory_after(),
        )
        for name in memory:
            bits["on", name] = Remembered(before.on[name], after.on[name], first.on[name])
        for name in memory:
            if self.setup.conditions[name].toggles:
                bits["last", name] = Remembered(before.last[name], after.last[name], first.last[name])
        if hears:
            receiver = self.base.settled.controls.receiver
            if self.heard is None:
                self.heard = self.sat.variable()
                self.sat.clause(-self.heard, receiver)
            bits["heard", ""] = Remembered(self.heard, receiver, FALSE)
        key = frozenset(bits)
        if key not in self.pasts:
            smaller = [past for bits_of, past in self.pasts.items() if bits_of < key]
            self.pasts[key] = Past(self.sat, self.start, bits, smaller)
        return self.pasts[key]

    def _first_depth(
        self,
        literal: int,
        past: Past,
        frame: Frame,
        channels: set[str],
        most: int,
        trouble: list[OutOfBudget] | None = None,
    ) -> int | None:
        """The number of the step at which the literal of a frame can first hold; None: never; 0 where that is not told, with what
        it ended by among the `trouble`."""

        def possible(literals: Sequence[int]) -> bool:
            return self.solve(literals, [frame], channels) is not None

        try:
            return past.first_depth(literal, possible, most)
        except OutOfBudget as end:
            if trouble is not None:
                trouble.append(end)
            return 0
