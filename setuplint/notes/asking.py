"""What a note is made of, and the questions behind it: each is kept, so that a sentence can be asked again."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from fractions import Fraction

from setuplint.budget import OutOfBudget, Spent
from setuplint.dataclass import dataclass
from setuplint.engine.answers import FOUND, IMPOSSIBLE, NOT_DECIDED, Answer
from setuplint.engine.decider import Decider
from setuplint.engine.search import Disagreement
from setuplint.formats.control_words import ControlWords
from setuplint.formats.numbers import percent, with_pulse
from setuplint.setup import formulas as f
from setuplint.setup.formula_text import formula_text
from setuplint.setup.formulas import FormulaError
from setuplint.setup.model import Setup
from setuplint.setup.problems import capitalised

MOST_QUESTIONS = 600  # of one setup
LONG = "that takes more words than a question may have"
MORE = "there is more to ask than notes may cost"
Movement = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Basis:
    """One question behind a note, in the words of claims, and its answer: `verdict` is found or impossible.

    `asked` is of a state that can be reached, with `at_power_up` of power-up alone. With a `movement` (switch, position) it is of
    the state after it, and `before` of that before it. With a `channel` it is of the `least` and `greatest` output there.
    """

    asked: str
    verdict: str
    at_power_up: bool = False
    before: str = ""
    movement: Movement | None = None
    channel: str = ""
    least: Fraction | None = None
    greatest: Fraction | None = None


@dataclass(frozen=True, slots=True)
class Note:
    """One sentence or two. `topic` is a key of TOPICS; where not `decided`, the text says what is open and why. `basis` is
    what was asked."""

    topic: str
    text: str
    decided: bool = True
    basis: tuple[Basis, ...] = ()


class Open(Exception):
    """A question that is not decided or not judged, and why."""


class Asker:
    """Asks one setup, within a count of questions. Every answer is kept until a note takes it."""

    def __init__(self, setup: Setup, values: Mapping[str, object], spent: Spent | None = None) -> None:
        self.decider = Decider(setup, spent)
        self.given, self.setup = setup, self.decider.setup  # the second starts, whatever the first asks
        self.words = ControlWords(values)
        self.asked = 0
        self._basis: list[Basis] = []

    def taken(self) -> list[Basis]:
        """What was asked since the last note, which goes into none of itself."""
        basis, self._basis = self._basis, []
        return basis

    def motor(self, output: Fraction) -> str:
        """A motor's output on both scales and as a pulse."""
        return with_pulse(output, self.setup.craft.pulse(output))

    def note(self, topic: str, text: str, basis: Iterable[Basis] = ()) -> Note:
        """A note on all that was asked since the last one, and on what is given."""
        return Note(topic, capitalised(text), basis=(*basis, *self.taken()))

    def open_note(self, topic: str, what: str, why: Open) -> Note:
        self.taken()
        return Note(topic, f"{capitalised(what)}: not decided ({why}).", decided=False)

    # -- questions, in the words of claims; Open where there is no answer

    def can_be(self, *parts: str, at_power_up: bool = False) -> bool:
        """Whether a state can be reached in which all parts hold."""
        asked = conjunction(parts)
        answer = self._answer(lambda: self.decider.find(asked, at_power_up=at_power_up))
        self._basis.append(Basis(asked, answer.verdict, at_power_up))
        return answer.found

    def never(self, *parts: str) -> bool:
        return not self.can_be(*parts)

    def can_move(self, before: str, movement: Movement, after: str) -> bool:
        """Whether the movement can lead from a state where `before` holds to one where `after` does."""
        answer = self._answer(lambda: self.decider.find_movement(before, after, [movement]))
        self._basis.append(Basis(after, answer.verdict, before=before, movement=movement))
        return answer.found

    def ends(self, channel: str, *parts: str) -> tuple[Fraction, Fraction]:
        """The least and the greatest output of a channel where all parts hold."""
        asked = conjunction(parts)
        self._count()
        try:
            found = self.decider.output_range(channel, asked)
        except FormulaError:
            raise Open(LONG) from None
        except (OutOfBudget, Disagreement) as end:
            raise Open(str(end)) from None
        if found.least is None or found.greatest is None:
            raise Open("; ".join(found.because) or f"what {channel} puts out is not known")
        self._basis.append(Basis(asked, FOUND, channel=channel, least=found.least, greatest=found.greatest))
        return found.least, found.greatest

    def seconds(self, formula: f.Formula, channels: Iterable[str]) -> Fraction:
        """How long it takes at most, from the movement that makes the formula true, until the channels have settled."""
        try:
            return max((self.decider.delay(formula, channel).bound for channel in channels), default=Fraction(0))
        except OutOfBudget as end:
            raise Open(str(end)) from None

    def hangs_on_sensors(self, channel: str) -> bool:
        """Whether anything that leads to what a channel puts out reads a sensor."""
        cone = self.decider.cone([f.OutputCompare(channel, ">", Fraction(0))])
        return any(("sensor", sensor) in cone for sensor in self.setup.sensors)

    def _answer(self, ask: Callable[[], Answer]) -> Answer:
        self._count()
        try:
            answer = ask()
        except FormulaError:
            raise Open(LONG) from None
        except (OutOfBudget, Disagreement) as end:
            answer = Answer(NOT_DECIDED, because=(str(end),))
        if answer.verdict not in (FOUND, IMPOSSIBLE):
            raise Open("; ".join(answer.because) or "a part of what it rests on is not known")
        return answer

    def _count(self) -> None:
        self.asked += 1
        if self.asked > MOST_QUESTIONS:
            raise Open(MORE)


def conjunction(parts: Iterable[str]) -> str:
    """All of them, in the words of claims."""
    return " and ".join(part for part in parts if part) or "throttle <= 100"


def written(formula: f.Formula) -> str:
    """A formula of the file as part of a question. Open where a part of it cannot be read."""
    text = formula_text(formula, 2)
    if text is None:
        raise Open("a part of what it rests on cannot be read")
    return text


def ends_text(ends: tuple[Fraction, Fraction], shown: Callable[[Fraction], str] = percent) -> str:
    """`+55 %`, `+45 % to +85 %`."""
    low, high = map(shown, ends)
    return low if low == high else f"{low} to {high}"
