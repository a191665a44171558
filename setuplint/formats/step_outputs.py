"""The outputs after each step of a witness that needs memory, by the plain evaluator; and the moments of a
finding in time, by the timed simulator."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from typing import TYPE_CHECKING

from setuplint.dataclass import replace
from setuplint.findings import Finding, Report, Value
from setuplint.formats.case_text import LONG_ENOUGH, assumed_smoothing, last_movement, move_words
from setuplint.formats.control_words import ControlWords
from setuplint.formats.numbers import exact
from setuplint.formats.terminal import plain
from setuplint.named_tuple import NamedTuple
from setuplint.plain.evaluate import Evaluation, evaluate
from setuplint.plain.settings import Impossible, after, first
from setuplint.plain.simulate import Moment, simulate
from setuplint.plain.state import OFF, UNHEARD, Memory, State
from setuplint.setup import Setup, built_setup
from setuplint.setup.packs import of_pack

if TYPE_CHECKING:
    from setuplint.engine.answers import Timing


def outputs_on_the_way(report: Report, finding: Finding) -> list[Mapping[str, Fraction]]:
    """The outputs of the finding's channels after each step, and after its final movement. Where the steps do not settle in
    the finding's outputs, as when they are taken in haste, only the last is known."""
    last: Mapping[str, Fraction] = finding.outputs
    if finding.timing is not None:
        return _in_time(report, finding, finding.timing)
    steps = [*finding.steps, *last_movement(finding)]
    setup = of_pack(built_setup(report.texts).setup, finding.pack)
    given: list[Mapping[str, Fraction]] = []
    memory: Memory = OFF
    try:
        for state in states_after(setup, steps, assumed_smoothing(finding)):
            seen = evaluate(setup, state, memory)
            memory = seen.memory
            given.append({name: put for name, put in seen.outputs.items() if put is not None and name in last})
    except (Impossible, KeyError):
        given = []
    return given if given and given[-1] == last else [*({} for _ in steps[:-1]), last]


def _in_time(report: Report, finding: Finding, timing: Timing) -> list[Mapping[str, Fraction]]:
    """What the channels of a finding in time go to, at the end of each step and as the last one shows it."""
    moved = [finding.outputs for _ in last_movement(finding)]
    setup = of_pack(built_setup(report.texts).setup, finding.pack)
    try:
        states = states_after(setup, finding.steps, assumed_smoothing(finding))
    except (Impossible, KeyError):
        return [*({} for _ in finding.steps[: None if moved else -1]), finding.outputs]
    changes = list(zip(timing.at[1:], states[1:], strict=True))
    ends = [*timing.at[1:], timing.since]
    given: list[Mapping[str, Fraction]] = []
    for step, end in enumerate(ends):
        moments = simulate(setup, states[0], OFF, changes[:step], end, from_power_up=True, jump=True)
        put = deque(moments, maxlen=1)[0].target.outputs
        given.append({name: value for name in finding.outputs if (value := put[name]) is not None})
    if not moved and given[-1] != finding.outputs:
        return [*({} for _ in given[:-1]), finding.outputs]
    return [*given, *moved]


def states_after(setup: Setup, steps: Sequence[Mapping[str, Value]], smoothing: Mapping[str, str]) -> list[State]:
    """The state after each step, with curves of unknown smoothing taken so. At power-up every sensor is unheard; then the
    receiver is on."""
    found: list[State] = []
    for number, step in enumerate(steps):
        moved = {name: where if isinstance(where, str) else exact(where) for name, where in step.items()}
        if number == 0:
            moved = {name: where for name, where in moved.items() if where != UNHEARD}
            found.append(replace(first(setup, moved, heard=False), smoothing=smoothing))
        else:
            found.append(after(setup, found[-1], moved))
    return found


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
