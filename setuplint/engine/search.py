"""Asking for a reachable state: the question goes to the solver, and its case is replayed by the plain evaluator."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from fractions import Fraction
from functools import partial
from itertools import takewhile

from setuplint.budget import BOX, PART, QUESTION, OutOfBudget, Spent
from setuplint.curves.lines import LineCase
from setuplint.dataclass import replace
from setuplint.engine import unknowns
from setuplint.engine.answers import FOUND, IMPOSSIBLE, NOT_DECIDED, NOT_JUDGED, Answer, Case, Timing, Value
from setuplint.engine.begun import UNBEGUN, begun_as_runs, is_run_to, late_under_memory
from setuplint.engine.caught import caught_case
from setuplint.engine.recall import Recall
from setuplint.hints import TYPE_CHECKING
from setuplint.plain.evaluate import Evaluation, evaluate, replay, truth
from setuplint.plain.state import TRIM, State
from setuplint.setup import formulas as f
from setuplint.setup.cone import Cone, Cones
from setuplint.setup.model import Channel, Setup
from setuplint.setup.names import Names, claim_formula, names_of_setup
from setuplint.setup.predicates import START
from setuplint.setup.reads import Reads
from setuplint.solver.frame import Frame
from setuplint.solver.lags import TimedRun
from setuplint.solver.pins import Control
from setuplint.solver.quantities import Fixed
from setuplint.solver.reach import Found, Question, Reach
from setuplint.solver.slowness import Paces
from setuplint.solver.waits import Chain
from setuplint.solver.witness import Chooser, MovementOf, Witness
from setuplint.solver.witness import Movement as Movement

if TYPE_CHECKING:
    from typing import Any

    from setuplint.engine.kept import Known

UNSHOWN = "only a delay caught still running would make it so, and no timed run shows it"
HASTE = "the controls move again before a delay has run out"
CAUGHT = "what comes late or stays on is caught on the way"

Asked = f.Formula | str
Check = Callable[[Case], bool] | None  # says of a replayed case whether it shows what was asked


class Disagreement(Exception):
    """The plain evaluator does not show what the solver found: a defect of ours, never silent."""


class Search(Recall):
    """Questions about one setup, asked of one solver that serves them all; answers are kept."""

    def __init__(
        self,
        setup: Setup,
        spent: Spent | None = None,
        before: Search | None = None,
        reads: Reads | None = None,
        known: Known | None = None,
    ) -> None:
        """`before` is one of the same setup, whose part this one takes. `reads` notes what answers rest on; `known` has answers
        to the same questions of the same text."""
        self.whole, self.reads, self.noted, self.known = setup, reads or Reads(), reads, known
        self.cones: Cones = before.cones if before is not None else Cones(setup)
        self.start_cells = self.cones.cells(self.cones.of([START]).bits)
        self.reach = Reach(setup, spent, self.cones)
        self._start_possible = setup.start is None or self._admits()
        # Else every question would be answered "impossible": all is asked without the check.
        if not self._start_possible and not self.reach.sat.file.over:
            setup = replace(setup, start=None)
            self.reach = Reach(setup, self.reach.sat.file)
        self.setup = setup
        self.names: Names | None = None  # that formulas given as text may use
        self.unknowns: unknowns.Known = {}
        self._described = 0  # the bits of parts of which nothing is unknown
        self.waits: dict[str, dict[str, Chain]] = {}  # of conditions, by the switch that is moved
        self.chooser = Chooser(self.reach)
        self.paces = Paces(setup, self.reach.cones)
        self.instants: dict[tuple[object, ...], Frame] = {}  # those of questions about moments
        self._answers: dict[object, Answer] = {}
        self._way: tuple[tuple[State, ...], list[Evaluation]] = (), []  # of the last case
        self.watchers: dict[tuple[str, f.Formula, f.Formula], Any] = {}  # those with a latch of a question's own

    @property
    def start_possible(self) -> bool:
        """Whether some state is admitted at power-up."""
        self.reads.cells |= self.start_cells
        return self._start_possible

    def _admits(self) -> bool:
        """Whether some state is admitted at power-up; where that cannot be told, all is asked as if none were, of more states."""
        try:
            return self.reach.admits()
        except OutOfBudget:
            return False

    @property
    def settled(self) -> Frame:
        """Any settled state, its memory free: what all questions share, to make literals of."""
        return self.reach.base.settled

    @property
    def rest(self) -> State:
        """The controls at rest (MEANING.md 1)."""
        self.reads.everything = True
        return self.chooser.rest

    def lines(self, channel: Channel, mode: str | None) -> tuple[LineCase, ...] | None:
        """The cases of a channel's line in a mode; None where the line is not described."""
        self.reads.cells |= self.reach.cones.line_cells(channel)
        return self.reach.encoding.lines(channel, mode)

    def possible_literals(self) -> Callable[[Sequence[int]], bool]:
        """For a new question: whether literals can hold together, with memory free. OutOfBudget where that cannot be told."""
        sat = self.reach.sat
        sat.new_question()
        return lambda literals: bool(sat.solve(literals))

    def smooth_alike(self, one: str, other: str) -> None:
        """Two curves of unknown smoothing are smoothed in one way: that of their transmitter."""
        smoothing = self.reach.encoding.smoothing
        if one in smoothing and other in smoothing:
            smoothing[other] = smoothing[one]

    # -- finding a state

    def find(self, formula: Asked, *, at_power_up: bool = False, trim: bool = False) -> Answer:
        """A reachable settled state in which the formula holds.

        `at_power_up` asks for the power-up state alone (receiver off, memory as it sets itself); `trim` lets every trim
        stand anywhere in its range. FormulaError where a formula given as text cannot be read.
        """
        asked = self.formula(formula)
        key = (asked, at_power_up, trim)
        cone = self.note([asked])
        found = self._answers.get(key)
        if found is None:
            found = self._answers[key] = self.recalled(key, cone, lambda: self._find(asked, cone, at_power_up, trim))
        return found

    # -- other questions

    def formula(self, asked: Asked) -> f.Formula:
        if not isinstance(asked, str):
            return asked
        if self.names is None:
            self.names = names_of_setup(self.setup)
        return claim_formula(asked, self.setup, self.names)

    def cone(self, formulas: Iterable[f.Formula]) -> Cone:
        """What formulas rest on."""
        return self.note(formulas)

    def thresholds(self, channel: str, stick: str) -> list[Fraction]:
        """Where the formulas that could change the channel with the stick compare it."""
        self.reads.cells |= self.reach.cones.all_conditions
        self.note([], ("channel", channel))
        return self.reach.cones.thresholds.of(channel, stick)

    def movements(self, formulas: Iterable[f.Formula]) -> list[Movement]:
        """Every movement of a switch that the formulas rest on, in file order."""
        cone = self.cone(formulas)
        return [(s.name, p) for s in self.setup.switches.values() if ("switch", s.name) in cone for p in s.positions]

    def ask(
        self,
        question: Question,
        cone: Cone,
        check: Check = None,
        movement_of: MovementOf | None = None,
        *,
        at_power_up: bool = False,
        instant: bool = False,
    ) -> Answer:
        """Ask for a literal of a settled frame; `check` says of the replayed case whether it shows it."""
        self.reads.cone(cone)
        try:
            self.reach.sat.file.charge(QUESTION)
            found = self.reach.at_power_up(question, cone, instant) if at_power_up else self.reach.ask(question, cone)
            if found is None:
                return Answer(IMPOSSIBLE)
            late = late_under_memory(self.reach, cone) if found.from_power_up and not instant else ()
            shown = partial(self._shown_in_time, cone=cone, check=check, movement_of=movement_of, late=late)
            if found.hasty or late:  # there may be no case to show
                case, hasty = shown(found), found.hasty
                begun = begun_as_runs(self.reach, question, late) if late else question
                if case is None and late:
                    again = self.reach.at_power_up(begun, cone) if at_power_up else self.reach.ask(begun, cone)
                    case = None if again is None else shown(again)
                if case is not None:
                    return Answer(FOUND, lambda: case, reads=self.reads)
                calm = None if at_power_up else self._patient(begun, cone)
                if calm is None or (late and shown(calm) is None):
                    return Answer(NOT_DECIDED, because=(UNSHOWN if hasty else UNBEGUN,))
                found = calm
        except OutOfBudget as end:
            return Answer(NOT_DECIDED, because=(str(end),))

        def show() -> Case:
            case = self._show(found, cone, check, movement_of)
            assert case is not None
            return case

        return Answer(FOUND, show, reads=self.reads)

    def is_described(self, cone: Cone, *formulas: f.Formula) -> bool:
        """Whether nothing is unknown of formulas and of what they rest on, their cone: what is not true of them is false."""
        for node in Cone(cone.cones, cone.bits & ~self._described):
            if unknowns.of_part(self.setup, node, self.unknowns):
                return False
            self._described |= cone.cones.bit(node)
        return all(unknowns.is_described(self.setup, formula, self.unknowns) for formula in formulas)

    # -- inside

    def _shown_in_time(
        self, found: Found, cone: Cone, check: Check, movement_of: MovementOf | None, late: Sequence[str]
    ) -> Case | None:
        """The case of an answer, where a timed run shows it; with `late` ones also where it needs no lag."""
        case = self._show(found, cone, check, movement_of)
        return case if case is None or found.hasty or not late or is_run_to(self.reach, case, cone) else None

    def _patient(self, question: Question, cone: Cone) -> Found | None:
        """A longer path on which everything settles before the next step, where a shorter one could not be shown."""
        try:
            return self.reach.ask(question, cone, calm=True)
        except OutOfBudget:
            return None

    def at(self, **values: Fraction) -> dict[str, Fixed]:
        """Sticks put at a value, for `Frame.shadow` and `Frame.moved`."""
        return {name: Fixed(self.reach.sat, value, value) for name, value in values.items()}

    def _find(self, asked: f.Formula, cone: Cone, at_power_up: bool, trim: bool) -> Answer:
        cone = cone | {("trim", "")} if trim else cone

        def question(frame: Frame) -> int:
            return self._frame(frame, trim).holds(asked)

        def perhaps(frame: Frame) -> int:
            return -self._frame(frame, trim).truth(asked)[1]

        answer = self.ask(question, cone, lambda case: self.holds(asked, case, False) is True, at_power_up=at_power_up)
        if not answer.impossible or self.is_described(cone, asked):
            return answer
        try:
            true, false = self._frame(self.reach.base.settled, trim).truth(asked)
            if true == -false:
                return answer
            self.reach.sat.file.charge(PART * bin(cone.bits).count("1"))  # its parts may be gone through for reasons
            unsure = (
                self.reach.at_power_up(perhaps, cone) if at_power_up else self.reach.ask(perhaps, cone)
            ) is not None
        except OutOfBudget as end:
            return Answer(NOT_DECIDED, because=(str(end),))
        return (
            Answer(NOT_JUDGED, because=unknowns.reasons(self.setup, asked, cone, self.unknowns)) if unsure else answer
        )

    def _frame(self, frame: Frame, trim: bool) -> Frame:
        if not trim:
            return frame
        if frame.trimmed is None:
            controls = self.reach.encoding.trimmed(frame.controls)
            frame.trimmed = Frame(self.reach.encoding, controls, frame.before, ties=frame.ties)
        return frame.trimmed

    def holds(self, formula: f.Formula, case: Case, after: bool) -> bool | None:
        state, evaluation = (case.after, case.after_evaluation) if after else (case.state, case.evaluation)
        assert state is not None
        assert evaluation is not None
        return truth(self.setup, formula, state, evaluation)

    def _show(
        self,
        found: Found,
        cone: Cone,
        check: Check,
        movement_of: MovementOf | None,
    ) -> Case | None:
        """The case of an answer, replayed; None where it needs a lag that no timed run shows. Disagreement, a defect of
        ours, where the plain evaluator does not show what was found."""
        whole = cone | self.cone([START]) if found.from_power_up else cone
        self.reach.sat.new_question()
        witness = self.chooser.choose(found, whole, movement_of)
        if witness.hasty:
            return caught_case(self.setup, witness, self._case, check, self.reach.sat.file)
        case = self._case(witness)
        if check is not None and not check(case):
            raise Disagreement(f"{witness.matters} in {case.states}")
        return case

    def _case(self, witness: Witness, run: TimedRun | None = None) -> Case:
        """Replayed step by step, each left to settle; or as a `run` shows it that catches a delay."""
        setup, states = self.setup, witness.states
        self.reach.sat.file.charge(len(states) * (BOX * len(setup.channels) + PART * len(self.cones.nodes)))
        evaluations = self._replayed(states) if run is None else run.ends
        last = states[-1]
        matters = {name: value for c in witness.matters for name, value in self._named(c, last, witness)}
        for stick, amount in last.trim.items():
            if amount and ("stick", stick) in witness.matters:
                matters[f"{stick}{TRIM}"] = amount
        after = after_evaluation = None
        movement = witness.movement
        if movement is not None:
            after = replace(moved_state(last, movement), ties=witness.ties_after)
            after_evaluation = evaluate(setup, after, evaluations[-1].memory)
            matters.setdefault(movement[0], last.positions[movement[0]])
        steps: tuple[Mapping[str, Value], ...] = ()
        if witness.from_power_up:
            steps = tuple(self._moved(states[n - 1] if n else None, s) for n, s in enumerate(states))
        return Case(
            states,
            tuple(evaluations),
            matters,
            steps,
            self._assumed(witness, run),
            movement,
            after,
            after_evaluation,
            None if run is None else Timing(run.at, run.since, None),
        )

    def _replayed(self, states: tuple[State, ...]) -> list[Evaluation]:
        """Each of the states settled; as far as the way there is that of the last case, it is not gone again."""
        way, known = self._way
        shared = sum(1 for _ in takewhile(lambda pair: pair[0] == pair[1], zip(way, states, strict=False)))
        evaluations = replay(self.setup, states, known[:shared])
        self._way = states, evaluations
        return evaluations

    def timed_case(
        self, witness: Witness, states: tuple[State, ...], evaluations: tuple[Evaluation, ...], timing: Timing
    ) -> Case:
        """The case of a run that goes through more states than its witness, one movement each."""
        last = states[-1]
        steps = tuple(self._moved(states[n - 1] if n else None, s) for n, s in enumerate(states))
        matters = {name: value for c in witness.matters for name, value in self._named(c, last, witness)}
        matters |= steps[-1]
        return Case(states, evaluations, matters, steps, self._assumed(witness), timing=timing)

    def _named(self, control: Control, state: State, witness: Witness) -> list[tuple[str, Value]]:
        kind, name = control
        if kind == "switch":
            return [(name, state.positions[name])]
        if kind == "stick":
            return [(name, state.sticks[name])]
        if kind == "sensor":
            return [(name, state.readings[name])]
        if kind == "cell":
            heard = {n: r for n, r in state.readings.items() if isinstance(r, Fraction)}
            shared = [n for n in heard if self.reach.encoding.quantity_of(n)[0] == ""]
            shared.sort(key=lambda n: ("sensor", n) not in witness.matters)  # named anyhow, if there is one
            return [(n, heard[n]) for n in shared[:1]] or ([("cell", state.cell)] if state.cell is not None else [])
        return [(n, r) for n, r in state.readings.items() if r == "unheard"]

    def _moved(self, before: State | None, now: State) -> dict[str, Value]:
        rest = self.chooser.rest
        was = before or rest
        moved: dict[str, Value] = {n: p for n, p in now.positions.items() if was.positions[n] != p}
        moved |= {n: x for n, x in now.sticks.items() if was.sticks[n] != x}
        moved |= {f"{n}{TRIM}": x for n, x in now.trim.items() if was.trim.get(n, 0) != x}
        return moved | (self._heard(before, now) if before is not None else {})

    def _heard(self, before: State, now: State) -> dict[str, Value]:
        """What sensors read otherwise than before, or than at rest where the receiver has just come on. Of those of one pack the
        roundest tells what the others show; after power-up unheard is no rest."""
        first = "unheard" in before.readings.values()
        was = {n: self.chooser.rest.readings[n] if r == "unheard" else r for n, r in before.readings.items()}
        read = {n: x for n, x in now.readings.items() if was[n] != x}
        shared = [n for n in now.readings if self.reach.encoding.quantity_of(n)[0] == ""]
        known = {n: x for n in shared if n in read and isinstance(x := read[n], Fraction)}
        numbers = {n: x for n, x in known.items() if first or isinstance(was[n], Fraction)}
        told = min(numbers, key=lambda n: numbers[n].denominator, default="")
        # With one told all of the pack are heard as the receiver comes on, but for those that are said to be lost.
        lost = {n: "lost" for n in shared if first and told and now.readings[n] == "lost"}
        return {n: x for n, x in read.items() if n not in numbers or n == told} | lost

    def _assumed(self, witness: Witness, run: TimedRun | None = None) -> tuple[str, ...]:
        """Which of several possible meanings the case takes, where it hangs on that."""
        state, choices = witness.states[-1], witness.choices
        found = [f"{name} wins the tie on {channel}" for channel, name in state.ties.items() if channel in choices]
        found += [
            f"{curve} is smoothed as {kind}" for curve, kind in state.smoothing.items() if f"curve {curve}" in choices
        ]
        if run is not None:
            found.append(CAUGHT if run.is_patient else HASTE)
        return tuple(found)


def moved_state(state: State, movement: Movement) -> State:
    switch, position = movement
    return State(
        {**state.positions, switch: position},
        state.sticks,
        state.readings,
        state.cell,
        state.ties,
        state.smoothing,
        state.trim,
    )
