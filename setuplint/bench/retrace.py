"""The ten steps to repeat after any change: what stops the motor, what saves the craft, what must not start."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from setuplint.bench.card_model import CardStep, Item, Stage
from setuplint.bench.walk import hold_switches
from setuplint.dataclass import replace
from setuplint.setup.model import Setup

TEN = 10
# The gravest first: one step for each kind of item, then more of the same kinds in this order.
KINDS = ("hold-against", "hold", "refused", "gone", "stop", "rescue-in", "mode", "sounds", "receiver", "starts")


def marked_stages(stages: Sequence[Stage], setup: Setup) -> tuple[Stage, ...]:
    """The stages, with the ten steps marked."""
    chosen = {step.number for step in _ten_steps([step for stage in stages for step in stage.steps], setup)}
    return tuple(
        replace(stage, steps=tuple(replace(step, again=step.number in chosen) for step in stage.steps))
        for stage in stages
    )


def _ten_steps(steps: list[CardStep], setup: Setup) -> list[CardStep]:
    chosen: list[CardStep] = []
    hold = hold_switches(setup)
    by_kind = {kind: list(_steps_showing(kind, steps, setup, hold)) for kind in KINDS}
    for turn in range(len(steps)):
        for kind in KINDS:
            found = by_kind[kind][turn : turn + 1]
            chosen += [step for step in found if step not in chosen]
            if len(chosen) >= TEN:
                return chosen[:TEN]
    return chosen


def _steps_showing(kind: str, steps: list[CardStep], setup: Setup, hold: frozenset[str]) -> Iterator[CardStep]:
    """The steps with an item of that kind, the grave ones first."""
    found = [(step, item) for step in steps for item in step.shows if item.kind == kind]
    found.sort(key=lambda each: not _is_grave(each[1], setup, hold))
    seen: set[int] = set()
    for step, _ in found:
        if step.number not in seen:
            seen.add(step.number)
            yield step


def _is_grave(item: Item, setup: Setup, hold: frozenset[str]) -> bool:
    """Hold or stick not where they must be, the link lost with the hold off, or a low pack."""
    sensor = setup.sensors.get(item.detail.split(" ")[0])
    if sensor is not None:
        return sensor.reads.endswith("-voltage")
    return item.subject in ("free", "throttle") or item.subject in hold
