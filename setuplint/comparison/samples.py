"""Places of the sticks that may tell two outputs apart: where a servo bends what it is asked for, and thresholds of formulas;
and stretches in which the outputs differ."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import product

from setuplint.comparison.joined import Joined
from setuplint.curves import servo
from setuplint.curves.shape import FULL, Shape
from setuplint.engine.literals import Frame
from setuplint.named_tuple import NamedTuple
from setuplint.setup import formulas as f
from setuplint.setup.model import Channel

Sticks = Mapping[str, Fraction]


def vectors(axes: Sequence[Sequence[Fraction]]) -> Iterator[tuple[Fraction, ...]]:
    """One place for each stick: first with all but one at their first, then all of them together."""
    base = [axis[0] for axis in axes]
    yield tuple(base)
    for n, axis in enumerate(axes):
        for value in axis[1:]:
            yield (*base[:n], value, *base[n + 1 :])
    yield from product(*axes)


def kinks(channel: Channel, shape: Shape, constant: Fraction, limits: Iterable[Fraction] = ()) -> Iterator[Fraction]:
    """Where on the stick the servo bends what it is asked for: at zero, and where it comes to a limit (or one of an override)."""
    demands = [Fraction(0), *(servo.moving_demands(channel) or ()), *limits]
    for demand in demands:
        yield from (cut.at for cut in shape.crossings(demand - constant, -FULL, FULL))


def thresholds(joined: Joined) -> dict[str, list[Fraction]]:
    """What every stick, knob and sensor is compared with in the formulas of both setups."""
    setup = joined.setup
    formulas: list[f.Formula] = [o.when for o in setup.overrides.values()]
    formulas += [m.when for m in setup.modes.values() if m.when is not None]
    for condition in setup.conditions.values():
        formulas += [condition.when] if condition.until is None else [condition.when, condition.until]
    for side in (joined.old, joined.new):
        own, intent = side.setup, side.setup.intent
        asked = [a.when for a in own.alarms.values()] + [t.runs for t in own.timers.values()]
        asked += [intent.hold, intent.stop, intent.rescue, own.start, own.trainer.lent if own.trainer else None]
        formulas += [side.formula(formula) for formula in asked if formula is not None]
    found: dict[str, set[Fraction]] = {}
    for formula in formulas:
        for atom in f.atoms(formula):
            if isinstance(atom, f.Compare):
                found.setdefault(atom.name, set()).add(atom.number)
    return {name: sorted(numbers) for name, numbers in found.items()}


class StickStretch(NamedTuple):
    """A part of a stick's travel in which two outputs differ (but for single places), and a round place at which they do."""

    stick: str
    lo: Fraction
    hi: Fraction
    at: Fraction


def coalesced(stretches: Sequence[tuple[Fraction, Fraction]]) -> Iterator[tuple[Fraction, Fraction]]:
    low, high = stretches[0]
    for lo, hi in stretches[1:]:
        if lo <= high:
            high = max(high, hi)
        else:
            yield low, high
            low, high = lo, hi
    yield low, high


def within_stretches(frame: Frame, stretches: Sequence[StickStretch]) -> int:
    """That a stick is in one of the stretches, anywhere."""
    parts = []
    for name, lo, hi, _ in stretches:
        ops = ("<=", ">=") if lo == hi else ("<", ">")
        stick = frame.controls.sticks[name]
        parts.append(frame.both((stick.compare(ops[0], hi), stick.compare(ops[1], lo))))
    return frame.either(parts)


def at_places(frame: Frame, places: Sequence[Sticks]) -> int:
    """That the sticks are at one of these places."""
    sticks = frame.controls.sticks
    return frame.either(
        frame.both(sticks[stick].compare(op, at) for stick, at in place.items() for op in ("<=", ">="))
        for place in places
    )
