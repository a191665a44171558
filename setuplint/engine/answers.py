"""What a decider answers, and what it is asked about moments."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from fractions import Fraction

from setuplint.dataclass import dataclass
from setuplint.fraction import fraction
from setuplint.plain.evaluate import Evaluation
from setuplint.plain.state import State
from setuplint.setup import formulas as f
from setuplint.setup.model import Path
from setuplint.setup.reads import Reads

FOUND = "found"
IMPOSSIBLE = "impossible"
NOT_JUDGED = "not-judged"
NOT_DECIDED = "not-decided"

Value = str | Fraction


@dataclass(frozen=True, slots=True)
class Timing:
    """A case in time: at which second each of its states begins, and from when until when (None: for good) the last of them
    shows what was asked. `waits` names the conditions that were late as that began, `stays` those that lingered."""

    at: tuple[Fraction, ...]
    since: Fraction
    until: Fraction | None
    waits: tuple[str, ...] = ()
    stays: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Case:
    """A state that can be tried on the bench.

    `states` lead from power-up to the last where memory matters; else there is the last alone. `matters` names the controls
    that matter in the last. `evaluations` are the plain evaluator's, one for each state; `after`, for questions about a
    movement, is the state that the movement leads to. With a `timing` it is a run of the timed simulator from power-up, one
    movement a state; `evaluations` are then how each state ends, and the last how the spell begins, outputs at their targets.
    """

    states: tuple[State, ...]
    evaluations: tuple[Evaluation, ...]
    matters: Mapping[str, Value]
    steps: tuple[Mapping[str, Value], ...] = ()  # what is moved in each state, where memory matters
    assumed: tuple[str, ...] = ()
    movement: tuple[str, str] | None = None
    after: State | None = None
    after_evaluation: Evaluation | None = None
    timing: Timing | None = None

    @property
    def state(self) -> State:
        return self.states[-1]

    @property
    def evaluation(self) -> Evaluation:
        return self.evaluations[-1]


@dataclass(frozen=True, slots=True)
class InTime:
    """A question about moments: can the formula hold for longer than `patience` seconds while no control moves?

    `aloft`: only while the hold is not called and none of its switches has moved for 5 s. `trim`: every trim anywhere in its
    range. `passing`: cases in which one of these holds, and did not when all was settled last (before power-up nothing did),
    are passed over. `at_start`: only from power-up until the first movement.
    """

    formula: f.Formula
    patience: Fraction
    aloft: bool = False
    trim: bool = False
    passing: tuple[f.Formula, ...] = ()
    at_start: bool = False


class Answer:
    """The answer to `find`: found (with a case), impossible (proved), not-judged (something is not described) or
    not-decided (a budget ran out, or only a lag that no run shows would do).

    The case is worked out, and replayed, when it is first looked at: many questions need the verdict alone.
    """

    __slots__ = ("_case", "_reads", "_show", "because", "verdict")

    def __init__(
        self,
        verdict: str,
        show: Callable[[], Case] | None = None,
        because: tuple[str, ...] = (),
        reads: Reads | None = None,
    ) -> None:
        """Who looks at the case reads `everything`: it is a state of the whole craft."""
        self.verdict, self.because, self._show, self._reads = verdict, because, show, reads
        self._case: Case | None = None

    @property
    def case(self) -> Case | None:
        if self._reads is not None:
            self._reads.everything = True
        if self._case is None and self._show is not None:
            self._case = self._show()
            self._show = None
        return self._case

    @property
    def waits(self) -> bool:
        """Whether its case is still to be worked out, by the solver that answered."""
        return self._show is not None

    @property
    def found(self) -> bool:
        return self.verdict == FOUND

    @property
    def impossible(self) -> bool:
        return self.verdict == IMPOSSIBLE

    def __repr__(self) -> str:
        return f"<Answer {self.verdict}{' ' + '; '.join(self.because) if self.because else ''}>"


@dataclass(frozen=True, slots=True)
class Range:
    """The least and greatest output of a channel in percent, each with its case; not found where nothing gives one."""

    verdict: str
    least: Fraction | None = None
    greatest: Fraction | None = None
    least_case: Case | None = None
    greatest_case: Case | None = None
    because: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Delay:
    """`bound` seconds are never exceeded; `shown` is the longest that a run of the timed simulator took, from `case`.

    `parts` are what the bound is the sum of: the keys of the file, ("conditions", "saving", "after"), and their seconds.
    """

    bound: Fraction
    shown: Fraction = fraction(0)
    case: Case | None = None
    parts: tuple[tuple[Path, Fraction], ...] = ()
