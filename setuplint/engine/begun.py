"""What memory makes of the first instant: a settled power-up state, in which nothing comes late, need not be one that a run
comes to, where memory stands on what comes late. It is shown by a run, or the path is looked for that begins as runs do."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence

from setuplint.engine.answers import Case
from setuplint.plain.evaluate import Evaluation
from setuplint.setup.cone import Cone, names_of_kind
from setuplint.solver.frame import Frame
from setuplint.solver.lags import runs
from setuplint.solver.reach import Reach

UNBEGUN = "only a power-up at which nothing comes late would make it so, and no timed run shows it"


def late_under_memory(reach: Reach, cone: Cone) -> tuple[str, ...]:
    """The conditions that come late at power-up and that memory of the setup, no question's own, stands on."""
    cones, conditions = reach.cones, reach.setup.conditions
    under = 0
    for name in cones.in_order(cone.bits & reach.remembered, "condition"):
        under |= 0 if conditions[name].watches else cones.part(("condition", name))
    return tuple(name for name in cones.in_order(under, "condition") if conditions[name].after)


def is_run_to(reach: Reach, case: Case, cone: Cone) -> bool:
    """Whether a run through the states of a case, each left to settle, ends with what is on and remembered there."""
    conditions = reach.setup.conditions
    asked = {name for name in names_of_kind(cone, "condition") if not conditions[name].watches}
    run = next(runs(reach.setup, case.states, reach.sat.file), None)
    return run is not None and _remembered(run.ends[-1], asked) == _remembered(case.evaluation, asked)


def _remembered(evaluation: Evaluation, names: Collection[str]) -> tuple[object, ...]:
    memory, asked = evaluation.memory, frozenset(names)
    values = {name: value for name, value in evaluation.conditions.items() if name in asked}
    return values, memory.on & asked, memory.last & asked


def begun_as_runs(reach: Reach, question: Callable[[Frame], int], late: Sequence[str]) -> Callable[[Frame], int]:
    """The question of paths on which at power-up all that comes late is off; what was there then is one step, and that it has
    settled another."""
    first, conditions = reach.at(0), reach.setup.conditions

    def begun(frame: Frame) -> int:
        off = [-first.passing.delayed(conditions[name])[0] for name in late]
        settled = [-frame.truth(conditions[name].when)[0] for name in late if frame is first.settled]
        return frame.both((question(frame), *off, *settled))

    return begun
