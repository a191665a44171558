"""Asking for one movement of one switch out of a reachable state."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from setuplint.budget import OutOfBudget
from setuplint.engine import unknowns
from setuplint.engine.answers import FOUND, NOT_JUDGED, Answer, Case
from setuplint.engine.search import Asked, Movement, Search
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

        answer, cone = asked(0, shown), self.cone(formulas)
        if not answer.impossible or self.is_described(cone, *formulas):
            return answer
        perhaps = asked(1)
        if perhaps.impossible:  # what cannot be read may be what is moved
            perhaps = self.ask(lambda frame: frame.both((-frame.truth(before)[1], -frame.truth(after)[1])), cone)
        if perhaps.verdict != FOUND:
            return perhaps
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
        options = self.movements([second])

        def question(frame: Frame) -> int:
            stays = [frame.truth(second)[1]]
            for switch, position in options:
                stays.append(frame.thrown(switch, position).truth(second)[1])
            return frame.sat.both((frame.truth(first)[0], *stays))

        return self.ask(question, self.cone([first, second]), lambda case: self.holds(first, case, False) is True)
