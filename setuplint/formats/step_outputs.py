"""The outputs after each step of a witness that needs memory, by the plain evaluator."""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import TYPE_CHECKING

from setuplint.dataclass import replace
from setuplint.findings import Finding, Report, Value
from setuplint.formats.case_text import assumed_smoothing, last_movement
from setuplint.formats.numbers import exact
from setuplint.plain.evaluate import evaluate
from setuplint.plain.settings import Impossible, after, first
from setuplint.plain.simulate import simulate
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
