"""A finding in time as its run: every moment in which a control moves or a condition changes, by the timed simulator."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction

from setuplint.findings import Finding, Value
from setuplint.formats.case_text import LONG_ENOUGH, assumed_smoothing, move_words
from setuplint.formats.control_words import ControlWords
from setuplint.formats.step_outputs import states_after
from setuplint.formats.terminal import plain
from setuplint.named_tuple import NamedTuple
from setuplint.plain.evaluate import Evaluation
from setuplint.plain.settings import Impossible
from setuplint.plain.simulate import Moment, simulate
from setuplint.plain.state import OFF, State
from setuplint.setup.model import Setup
from setuplint.setup.packs import of_pack

MOST_MOMENTS = 60  # of one run


class RunMoment(NamedTuple):
    """What happens at a second: a control moves (`is_step`), or a condition changes by itself. Outputs have followed."""

    at: Fraction
    is_step: bool
    words: str
    state: State
    seen: Evaluation


def run_moments(setup: Setup, finding: Finding, values: Mapping[str, object]) -> list[RunMoment]:
    """From power-up until the hazard is over, or has lasted for a while. Empty where the finding is not in time."""
    timing = finding.timing
    if timing is None:
        return []
    setup = of_pack(setup, finding.pack)
    try:
        states = states_after(setup, finding.steps, assumed_smoothing(finding))
    except (Impossible, KeyError):
        return []
    end = timing.since + LONG_ENOUGH if timing.until is None else timing.until
    changes = list(zip(timing.at[1:], states[1:], strict=True))
    moments = simulate(setup, states[0], OFF, changes, end, from_power_up=True, jump=True)
    return list(_told_moments(moments, timing.at, states, finding.steps, ControlWords(values, finding.pack)))


def _told_moments(
    moments: Iterator[Moment],
    at: tuple[Fraction, ...],
    states: list[State],
    steps: tuple[Mapping[str, Value], ...],
    controls: ControlWords,
) -> Iterator[RunMoment]:
    before: Mapping[str, bool | None] = {}
    step = told = 0
    for moment in moments:
        conditions = moment.target.conditions
        is_step = step < len(at) and moment.at >= at[step]
        changed = [
            f"{plain(n)} goes {'on' if on else 'off'}" for n, on in conditions.items() if before.get(n, on) != on
        ]
        if (is_step or changed) and told < MOST_MOMENTS:
            moved = [move_words(steps[step], controls, first=step == 0)] if is_step else []
            step, told = step + is_step, told + 1
            yield RunMoment(moment.at, is_step, "; ".join([*moved, *changed]), states[step - 1], moment.target)
        before = conditions
