"""Movements of one switch out of a reachable settled state, as literals, and as cases to try on the bench."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from fractions import Fraction

from setuplint.budget import OutOfBudget
from setuplint.dataclass import dataclass
from setuplint.engine.answers import FOUND, IMPOSSIBLE, NOT_DECIDED, Answer, Case
from setuplint.hints import TYPE_CHECKING
from setuplint.plain.evaluate import truth
from setuplint.setup import formulas as f
from setuplint.setup.cone import names_of_kind
from setuplint.setup.model import Channel
from setuplint.solver import demands
from setuplint.solver.frame import Frame
from setuplint.solver.sat import Rails

if TYPE_CHECKING:
    from setuplint.engine.movement_search import MovementSearch
    from setuplint.solver.witness import Movement


@dataclass(frozen=True, slots=True)
class Moving:
    """A state before a movement, and the movement."""

    frame: Frame
    movement: Movement
    moved: Frame
    stepped: int  # literal: the movement is one, and what is asked of before and after holds


class Movements:
    """Those that make `formula` true, with `given` before and `then` once all has settled after; what they do to a channel."""

    def __init__(
        self, search: MovementSearch, formula: f.Formula, channel: Channel, given: f.Formula, then: f.Formula
    ) -> None:
        self.search, self.setup, self.reach, self.sat = search, search.setup, search.reach, search.reach.sat
        self.formula, self.channel, self.given, self.then = formula, channel, given, then
        self.movements = search.possible_movements([formula])
        switches = [("switch", switch) for switch, _ in self.movements]
        self.cone = search.cone([formula, given, then, f.Decides(channel.name, None)]) | switches
        self.movings: dict[int, list[Moving]] = {}

    @property
    def modes(self) -> list[str | None]:
        return [*self.setup.modes, None]

    @property
    def deciders(self) -> list[str | None]:
        """Who may decide the channel: its own line, or one of its overrides."""
        return [None, *(o.name for o in self.setup.overrides.values() if o.channel == self.channel.name)]

    def demand(self, frame: Frame, op: str, number: Fraction) -> Rails:
        return demands.demand(frame, self.channel, op, number)

    def passes(self, m: Moving, op: str, number: Fraction) -> int:
        """The literal that the demand may stand so before the movement."""
        return -self.demand(m.frame, op, number)[1]

    def in_mode(self, m: Moving, mode: str | None) -> int:
        """The literal that the mode may be flown after the movement."""
        return -m.moved.mode(mode)[1]

    def waits_for(self, m: Moving) -> int:
        """The literal that the movement is one after which the channel may take time."""
        return m.stepped

    def hangs_on(self, m: Moving, condition: str) -> int:
        """The literal that this condition's lagging may send the output elsewhere."""
        return m.stepped

    def moves(self, frame: Frame) -> list[Moving]:
        """Every movement out of a frame."""
        found = self.movings.get(id(frame))
        if found is None:
            found = []
            first = self.sat.both((frame.truth(self.given)[0], frame.truth(self.formula)[1]))
            for switch, position in self.movements:
                moved = frame.thrown(switch, position)
                elsewhere = -frame.controls.positions[switch][position]
                second = (moved.truth(self.formula)[0], moved.truth(self.then)[0])
                found.append(Moving(frame, (switch, position), moved, self.sat.both((first, elsewhere, *second))))
            self.movings[id(frame)] = found
        return found

    def exists(self, literal: Callable[[Moving], int]) -> bool:
        """Whether some movement out of a reachable settled state makes the literal hold."""
        found = self.reach.ask(lambda frame: self.sat.either(literal(m) for m in self.moves(frame)), self.cone)
        return found is not None

    def find(self, literal: Callable[[Moving], int]) -> Answer:
        """A movement that makes it hold, to be tried on the bench."""

        def question(frame: Frame) -> int:
            return self.sat.either(literal(m) for m in self.moves(frame))

        def movement_of(last: Frame) -> tuple[Movement, Frame]:
            found = next((m for m in self.moves(last) if self.search.chooser.fix(literal(m))), None)
            if found is None:
                raise OutOfBudget("which movement it is could not be told within the budget")
            return found.movement, found.moved

        return self.search.ask(question, self.cone, self.shows, movement_of)

    def shows(self, case: Case) -> bool:
        before, after, setup = case.evaluation, case.after_evaluation, self.setup
        assert case.after is not None
        assert after is not None
        return (
            truth(setup, self.given, case.state, before) is True
            and truth(setup, self.formula, case.state, before) is False
            and truth(setup, f.both(self.formula, self.then), case.after, after) is True
        )


def verdicts(
    search: MovementSearch, before: f.Formula, after: f.Formula, given: Mapping[str, f.Formula]
) -> Iterator[tuple[Movement, str]]:
    """For each movement that `after` rests on the verdict of `find_movement`, out of a state with `before` and what is `given`
    of its switch. All are literals of one settled state; only through memory is each asked for by itself."""
    reach, base = search.reach, search.settled
    sat = reach.sat
    options = search.movements([after])
    cone = search.note([before, after, *[given[switch] for switch in dict(options)]])
    channels, remembers = names_of_kind(cone, "channel"), reach.remembers(cone)
    for switch, position in options:
        try:
            sat.new_question()
            rest = given[switch]
            there = -base.controls.positions[switch][position], base.thrown(switch, position).holds(after)
            literal = sat.both((base.holds(before), base.holds(rest), *there))
            verdict = FOUND if reach.solve([literal], [base], channels) is not None else IMPOSSIBLE
            if verdict == FOUND and remembers:
                verdict = search.find_movement(f.both(before, rest), after, [(switch, position)]).verdict
        except OutOfBudget:
            verdict = NOT_DECIDED
        yield (switch, position), verdict
