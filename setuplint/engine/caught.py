"""The case of an answer that catches a delay: a timed run through its states that shows it, with its moments."""

from __future__ import annotations

from collections.abc import Callable
from itertools import groupby

from setuplint.dataclass import replace
from setuplint.engine.answers import Case
from setuplint.setup.model import Setup
from setuplint.solver.lags import TimedRun, runs
from setuplint.solver.witness import Witness

Check = Callable[[Case], bool]


def caught_case(
    setup: Setup, witness: Witness, case_of: Callable[[Witness, TimedRun], Case], check: Check | None
) -> Case | None:
    """None where no run shows it. That time passes is no step of a run."""
    witness = replace(witness, states=tuple(state for state, _ in groupby(witness.states)))
    for run in runs(setup, witness.states):
        case = case_of(witness, run)
        if check is None or check(case):
            return _shown_since(case, run, check)
    return None


def _shown_since(case: Case, run: TimedRun, check: Check | None) -> Case:
    """The case with the moment from which on it shows what was asked."""
    timing = case.timing
    assert timing is not None
    if check is None or case.movement is not None:
        return case
    since = timing.since
    for at, seen in reversed(run.tail):
        if not check(replace(case, evaluations=(*run.ends[:-1], seen))):
            break
        since = max(at, timing.at[-1])
    return replace(case, timing=replace(timing, since=since))
