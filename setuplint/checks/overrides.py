"""Overrides: which one decides, and whether any ever does."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from setuplint.book.asking import Asking, percent
from setuplint.checks.claims import stops_motor
from setuplint.checks.structure import is_said_elsewhere
from setuplint.findings import Finding, Place
from setuplint.setup import formulas as f
from setuplint.setup.model import Override


def readable(ask: Asking) -> list[Override]:
    """The overrides that could be read whole."""
    return [o for o in ask.setup.overrides.values() if o.value is not None and o.priority is not None]


def equals(ask: Asking) -> Iterator[tuple[Override, Override]]:
    """Overrides of one channel and one priority with different values, each with each that comes after it."""
    groups: dict[tuple[str, Fraction | None], list[Override]] = {}
    for override in readable(ask):
        groups.setdefault((override.channel, override.priority), []).append(override)
    for one in readable(ask):
        rest = groups[one.channel, one.priority]
        rest.pop(0)
        yield from ((one, other) for other in tuple(rest) if other.value != one.value)


def override_conflict(ask: Asking) -> Iterator[Finding]:
    """Two overrides of one channel active together, both of the highest priority, with different values."""
    for one, other in equals(ask):
        higher = [o.name for o in ask.setup.overrides.values()
                  if o.channel == one.channel and (o.priority is None or o.priority > (one.priority or 0))]  # fmt: skip
        together = f.both(f.Active(one.name), f.Active(other.name), *(f.Not(f.Active(o)) for o in higher))
        case = ask.find(together, f"{one.name}, {other.name}")
        if case is None:
            continue
        assert one.value is not None
        assert other.value is not None
        yield ask.finding(
            f"{one.name}, {other.name}",
            f"overrides {one.name} ({percent(one.value)}) and {other.name} ({percent(other.value)}) claim channel "
            f"{one.channel} at the same time with the same priority, and nothing says which wins",
            Place(("overrides", other.name, "priority"), "the same priority"),
            case,
            related=[Place(("overrides", one.name, "priority"), "the same priority")],
            channels=[one.channel],
        )


def override_shadowed(ask: Asking) -> Iterator[Finding]:
    """In no state does it decide; one that stops the motor is belt and braces."""
    motors = [c.name for c in ask.motors]
    for override in readable(ask):
        if override.channel in motors and stops_motor(ask, override.channel, override.value):
            continue
        if ask.possible(f.Decides(override.channel, override.name), override.name):
            continue
        if not ask.never(f.Decides(override.channel, override.name)):
            continue
        never = ask.never(f.Active(override.name))
        decides = f.Decides(override.channel, override.name)
        if never and is_said_elsewhere(ask, override.when, ("overrides", override.name, "when"), decides):
            continue
        why = "its `when` never holds" if never else "whenever it is active, one of higher priority is too"
        yield ask.finding(
            override.name,
            f"override {override.name} never decides channel {override.channel}: {why}",
            ("overrides", override.name),
        )


def override_stuck(ask: Asking) -> Iterator[Finding]:
    """Its `when` holds in every state."""
    for override in ask.setup.overrides.values():
        released = f.Not(f.Active(override.name))
        if ask.possible(released, override.name) or not ask.never(released):
            continue
        if is_said_elsewhere(ask, override.when, ("overrides", override.name, "when"), released):
            continue
        yield ask.finding(
            override.name,
            f"override {override.name} is always active: channel {override.channel} is never anybody else's",
            ("overrides", override.name, "when"),
        )
