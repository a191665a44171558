"""The case of an answer that catches a delay: a timed run through its states that shows it, with its moments."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from itertools import groupby

from setuplint.budget import Spent
from setuplint.dataclass import replace
from setuplint.engine.answers import Case
from setuplint.setup.model import Setup
from setuplint.solver.lags import TimedRun, runs
from setuplint.solver.witness import Witness

Check = Callable[[Case], bool]


def caught_case(
    setup: Setup, witness: Witness, case_of: Callable[[Witness, TimedRun], Case], check: Check | None, spent: Spent
) -> Case | None:
    """None where no run shows it. That time passes is no step of a run. OutOfBudget."""
    witness = replace(witness, states=tuple(state for state, _ in groupby(witness.states)))
    for run in runs(setup, witness.states, spent):
        case = case_of(witness, run)
        if check is None or check(case):
            return _shown_since(setup, case, run, check, spent)
    return None


def _shown_since(setup: Setup, case: Case, run: TimedRun, check: Check | None, spent: Spent) -> Case:
    """The case with the moment from which on it shows what was asked."""
    timing = case.timing
    assert timing is not None
    if check is None or case.movement is not None:
        return case
    since: Fraction | None = None
    for at, seen in run.last_moments(setup, case.states, spent):
        is_shown = check(replace(case, evaluations=(*run.ends[:-1], seen)))
        since = None if not is_shown else at if since is None else since
    return case if since is None else replace(case, timing=replace(timing, since=since))
