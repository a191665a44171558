"""The engine as a card asks it: within the card's budget, and a case that cannot be shown is an answer, never an error."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from fractions import Fraction

from setuplint.bench.work import CardWork, setup_size
from setuplint.budget import OutOfBudget
from setuplint.dataclass import replace
from setuplint.engine.answers import NOT_DECIDED, Answer
from setuplint.engine.decider import Decider
from setuplint.engine.search import Disagreement
from setuplint.plain.state import State
from setuplint.setup import formulas as f
from setuplint.setup.model import Setup

UNREPLAYED = "what was found could not be replayed: a fault of setuplint, please report it"


class CardQuestions:
    """Questions about one setup. An answer that is found has its case."""

    def __init__(self, decider: Decider, work: CardWork) -> None:
        self._decider, self.work = decider, work
        self.setup: Setup = decider.setup
        self.rest: State = decider.rest
        self._size = setup_size(self.setup)

    @property
    def over(self) -> bool:
        """Whether nothing more is answered."""
        return self.work.spent or self._decider.over

    def find(self, formula: f.Formula, *, at_power_up: bool = False) -> Answer:
        return self._shown(lambda: self._decider.find(formula, at_power_up=at_power_up))

    def is_impossible(self, formula: f.Formula) -> bool:
        """Whether it is proved that no state has it."""
        return self.find(formula).impossible

    def find_movement(self, before: f.Formula, after: f.Formula) -> Answer:
        return self._shown(lambda: self._decider.find_movement(before, after))

    def movements(self, formulas: Iterable[f.Formula]) -> list[tuple[str, str]]:
        return self._decider.movements(formulas)

    def least_output(self, channel: str, given: f.Formula) -> Fraction | None:
        """None where it is not known, or not within the budget."""
        try:
            self.work.add(self._size)
            return self._decider.output_range(channel, given).least
        except (OutOfBudget, Disagreement):
            return None

    def without_start_check(self) -> CardQuestions:
        """The same setup, as if nothing were asked at power-up."""
        return self.of_variant(replace(self.setup, start=None))

    def of_variant(self, setup: Setup) -> CardQuestions:
        """Of another setup, within the same budget. OutOfBudget where that is spent."""
        self.work.add(self._size)
        return CardQuestions(self._decider.of_variant(setup), self.work)

    def _shown(self, ask: Callable[[], Answer]) -> Answer:
        try:
            self.work.add(self._size)
            answer = ask()
            answer.case  # noqa: B018  its case is worked out here
        except OutOfBudget as end:
            return Answer(NOT_DECIDED, because=(str(end),))
        except Disagreement:
            return Answer(NOT_DECIDED, because=(UNREPLAYED,))
        return answer
