"""Asking for one movement of one switch out of a reachable state."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from setuplint.budget import OutOfBudget
from setuplint.engine import unknowns
from setuplint.engine.answers import FOUND, NOT_JUDGED, Answer, Case
from setuplint.engine.search import Asked, Movement, Search, moved_state
from setuplint.plain.evaluate import evaluate, truth
from setuplint.setup import formulas as f
from setuplint.solver.frame import Frame
from setuplint.solver.sat import FALSE

UNTOLD = "which movement it is could not be told within the budget"


class MovementSearch(Search):
    """Questions about the states before and after a movement."""

    def possible_movements(self, formulas: Sequence[f.Formula], *, whole: bool = False) -> list[Movement]:
        """Every movement of a switch that formulas rest on; where they name what is not described, of every switch: it may be
        any. Where they are the `whole` question one of those that they do not name stands for all."""
        named = self.movements(formulas)
        if self.is_described(self.cone(formulas), *formulas):
            return named
        inside = {switch for switch, _ in named}
        others = [switch for switch in self.setup.switches if switch not in inside]
        inside.update(others[:1] if whole else others)
        return [
            (s.name, position) for s in self.setup.switches.values() if s.name in inside for position in s.positions
        ]

    def find_movement(
        self, before: Asked, after: Asked, movements: Sequence[Movement] | None = None, *, at_power_up: bool = False
    ) -> Answer:
        """A reachable settled state where `before` holds and one movement out of it after which `after` holds."""
        first, second = self.formula(before), self.formula(after)
        options = list(movements) if movements is not None else self.possible_movements([first, second], whole=True)
        key = ("movement", first, second, tuple(options), at_power_up)
        cone = self.note([first, second])
        return self.recalled(key, cone, lambda: self._found_movement(first, second, options, at_power_up))

    def _found_movement(
        self, before: f.Formula, after: f.Formula, options: Sequence[Movement], at_power_up: bool
    ) -> Answer:
        formulas = [before, after]

        def shown(case: Case) -> bool:
            return self.holds(before, case, False) is True and self.holds(after, case, True) is True

        def asked(side: int, check: Callable[[Case], bool] | None = None) -> Answer:
            """Whether it is so (side 0), or is not known not to be (1)."""
            return self.ask_movement(
                lambda frame: frame.holds(before) if not side else -frame.truth(before)[1],
                lambda _, moved: moved.holds(after) if not side else -moved.truth(after)[1],
                options, formulas, check, at_power_up=at_power_up,
            )  # fmt: skip

        def perhaps() -> Answer:
            found = asked(1)
            if not found.impossible:
                return found  # else what cannot be read may be what is moved
            return self.ask(
                lambda frame: frame.both((-frame.truth(before)[1], -frame.truth(after)[1])), self.cone(formulas)
            )

        return self._judged(asked(0, shown), perhaps, formulas)

    def _judged(self, answer: Answer, perhaps: Callable[[], Answer], formulas: Sequence[f.Formula]) -> Answer:
        """What is surely found or not; where what is not described may make it so, not judged."""
        cone = self.cone(formulas)
        if not answer.impossible or self.is_described(cone, *formulas):
            return answer
        unsure = perhaps()
        if unsure.verdict != FOUND:
            return unsure
        return Answer(NOT_JUDGED, because=unknowns.reasons(self.setup, f.And(tuple(formulas)), cone, self.unknowns))

    def ask_movement(
        self,
        before: Callable[[Frame], int],
        after: Callable[[Frame, Frame], int],
        movements: Sequence[Movement],
        formulas: Sequence[f.Formula],
        check: Callable[[Case], bool] | None = None,
        *,
        at_power_up: bool = False,
    ) -> Answer:
        """Like `find_movement`, with literals: `after` is given the frames before and after the movement."""
        frames: dict[tuple[int, Movement], tuple[int, Frame]] = {}

        def moves(frame: Frame, movement: Movement) -> tuple[int, Frame]:
            key = (id(frame), movement)
            if key not in frames:
                switch, position = movement
                moved = frame.thrown(switch, position)
                elsewhere = -frame.controls.positions[switch][position]
                frames[key] = frame.sat.both((elsewhere, after(frame, moved))), moved
            return frames[key]

        def question(frame: Frame) -> int:
            started = before(frame)
            return frame.sat.both(
                (started, frame.sat.either(moves(frame, m)[0] for m in movements if started != FALSE))
            )

        def movement_of(last: Frame) -> tuple[Movement, Frame]:
            found = next((m for m in movements if self.chooser.fix(moves(last, m)[0])), None)
            if found is None:
                raise OutOfBudget(UNTOLD)
            return found, moves(last, found)[1]

        cone = self.cone(formulas) | {("switch", switch) for switch, _ in movements}
        return self.ask(question, cone, check, movement_of, at_power_up=at_power_up)

    def find_no_movement(self, before: Asked, after: Asked) -> Answer:
        """A reachable settled state where `before` holds and out of which no one movement makes `after` hold."""
        first, second = self.formula(before), self.formula(after)
        options = self.possible_movements([second])

        def asked(side: int, check: Callable[[Case], bool] | None = None) -> Answer:
            """Whether it is so (side 0), or is not known not to be (1)."""

            def question(frame: Frame) -> int:
                places = [frame.truth(second), *(frame.thrown(s, p).truth(second) for s, p in options)]
                start, stays = frame.truth(first), [place[1] if not side else -place[0] for place in places]
                return frame.sat.both((start[0] if not side else -start[1], *stays))

            return self.ask(question, self.cone([first, second]), check)

        def shown(case: Case) -> bool:
            moved = [moved_state(case.state, movement) for movement in options]
            ends = [(state, evaluate(self.setup, state, case.evaluation.memory)) for state in moved]
            stays = all(truth(self.setup, second, *end) is False for end in ends)
            return stays and self.holds(first, case, False) is True

        return self._judged(asked(0, shown), lambda: asked(1), [first, second])
