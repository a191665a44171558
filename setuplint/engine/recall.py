"""What a search rests on is noted, and what was answered before of the same is not asked again."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from setuplint.budget import OutOfBudget
from setuplint.engine.answers import FOUND, NOT_DECIDED, Answer, Case, Delay
from setuplint.hints import TYPE_CHECKING
from setuplint.setup import formulas as f
from setuplint.setup.cone import Cone, Node
from setuplint.setup.reads import Reads
from setuplint.solver.reach import Reach

if TYPE_CHECKING:
    from setuplint.engine.kept import Known
    from setuplint.setup.contents import Cell


class Recall:
    """The part of a search that asks only what is not known."""

    reach: Reach
    reads: Reads
    noted: Reads | None  # the same, where anybody asks what was read
    known: Known | None  # answers to the same questions of the same text
    start_cells: frozenset[Cell]  # what the check at power-up rests on

    def note(self, formulas: Iterable[f.Formula], *nodes: Node) -> Cone:
        """The cone of formulas and parts: an answer about them rests on it, and on what is admitted at power-up."""
        cone = self.reach.cones.of(formulas)
        for node in nodes:
            cone.bits |= self.reach.cones.part(node)
        if self.noted is not None:
            self.reads.cells |= self.start_cells | cone.besides
            self.reads.cone(cone)
        return cone

    def recalled(self, question: object, cone: Cone, ask: Callable[[], Answer]) -> Answer:
        """The answer to a question about formulas of a cone. Of one that is known the case is asked for when it is looked at."""
        if self.known is None:
            return ask()
        key, found = self.known.answered(question, self.cells(cone))
        spent = self.reach.sat.file
        if found is None:
            before = spent.work
            answer = ask()
            if answer.verdict != NOT_DECIDED:
                self.known.keep(key, (answer.verdict, answer.because), spent.work - before)
            return answer
        spent.saved += found.work
        verdict, because = found.answer

        def shown() -> Case:
            answer = ask()
            if answer.case is None:
                raise OutOfBudget("; ".join(answer.because))
            return answer.case

        return Answer(verdict, shown, because, self.reads) if verdict == FOUND else Answer(verdict, because=because)

    def recalled_delay(self, question: object, formulas: Sequence[f.Formula], ask: Callable[[], Delay]) -> Delay:
        """How long something takes; known only where no run shows it. OutOfBudget."""
        cone = self.note(formulas)
        if self.known is None:
            return ask()
        key, found = self.known.answered(question, self.cells(cone))
        spent = self.reach.sat.file
        if found is not None:
            spent.saved += found.work
            delay: Delay = found.answer
            return delay
        before = spent.work
        delay = ask()
        if delay.case is None:
            self.known.keep(key, delay, spent.work - before)
        return delay

    def cells(self, cone: Cone) -> frozenset[Cell]:
        """All of the file that an answer about a cone rests on; on what is admitted at power-up too."""
        found = self.reach.cones.cells(cone.bits)
        return found.union(self.start_cells, cone.besides) if self.start_cells or cone.besides else found
