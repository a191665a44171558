"""Judges of rules about the failsafe: numbers are what the receiver puts out, after everything."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

import numpy as np

from tests.oracle.parts import Bound, number

from .aloft import directions
from .grid import Array, Choice
from .reach import Reach, Verdict
from .settled import Moment
from .states import Judged

STICKS = ("aileron", "elevator", "rudder")


def entry(reach: Reach, channel: str) -> Fraction | str | None:
    value = reach.world.data.get("failsafe", {}).get(channel)
    return value if value is None or isinstance(value, str) else number(value)


def numbers(reach: Reach, *drives: str) -> Iterator[tuple[str, Fraction]]:
    for name in reach.driving(*drives):
        value = entry(reach, name)
        if isinstance(value, Fraction):
            yield name, value


def missing(reach: Reach, *drives: str) -> Judged:
    """Of which channels; of the whole, where there is no failsafe."""
    found = frozenset(name for name in reach.driving(*drives) if entry(reach, name) is None)
    return found if reach.world.data.get("failsafe") or not found else frozenset({"failsafe"})


def failsafe_motor_missing(reach: Reach) -> Judged:
    return missing(reach, "motor")


def failsafe_missing(reach: Reach) -> Judged:
    return missing(reach, "collective", "aileron", "elevator", "rudder", "stabiliser")


def is_engine(reach: Reach) -> bool:
    craft, data = reach.world.craft, reach.world.data
    guess = "engine" if "rotor-free" in craft and not data.get("battery") and not data.get("packs") else "electric"
    return bool(craft.get("power", guess) == "engine")


def rotor_free(reach: Reach) -> Fraction | None:
    return number(reach.world.craft["rotor-free"]) if "rotor-free" in reach.world.craft else reach.world.motor_off


def failsafe_runs_motor(reach: Reach) -> Verdict:
    limit = rotor_free(reach) if is_engine(reach) else reach.world.motor_off
    for name in reach.driving("motor"):
        value = entry(reach, name)
        if value == "keep":
            return True
        if isinstance(value, Fraction):
            if limit is None:
                return None
            if value > limit:
                return True
    return False


def failsafe_not_level(reach: Reach) -> Verdict:
    level = reach.world.level
    if level is None:
        return False
    value = entry(reach, level.channel)
    if value is None or value == "unit":
        return False
    return not (isinstance(value, Fraction) and meets(level, value))


def meets(bound: Bound, value: Fraction) -> bool:
    if bound.value is not None:
        return abs(value - bound.value) <= 1
    least, most = bound.at_least, bound.at_most
    return (least is None or value >= least) and (most is None or value <= most)


def failsafe_wastes_rotor(reach: Reach) -> Verdict:
    free, motors = rotor_free(reach), dict(numbers(reach, "motor"))
    if (
        not motors
        or free is None
        or any(x > free for x in motors.values())
        or len(motors) < len(reach.driving("motor"))
    ):
        return False
    for name in reach.driving("collective"):
        value = entry(reach, name)
        if value == "keep":
            return True
        if isinstance(value, Fraction):
            pitches = [value * way for way in directions(reach, name)] or [value]
            if all(x > 5 or x < -30 for x in pitches):
                return True
    return False


def failsafe_held_over(reach: Reach) -> Judged:
    found = set()
    for stick in STICKS:
        for name, value in numbers(reach, stick):

            def near(moment: Moment, choice: Choice, name: str = name, value: Fraction = value) -> Array:
                return np.asarray(abs(moment.output(name, choice) - float(value)) <= 10)

            middle = dict.fromkeys(both_places(reach, stick), Fraction(0))
            if not reach.somewhere_after(near, middle) and not reach.anywhere(
                lambda m, c, n=near, s=stick: n(m, c) & at_middle(reach, m, s)  # type: ignore[misc]
            ):
                found.add(name)
    return frozenset(found)


def at_middle(reach: Reach, moment: Moment, stick: str) -> Array:
    found = reach.grid.constant(True)
    for name in both_places(reach, stick):
        found = found & moment.compare(name, ">=", Fraction(0)) & moment.compare(name, "<=", Fraction(0))
    return found


def both_places(reach: Reach, stick: str) -> list[str]:
    """The teacher's stick, and the pupil's where it can be lent."""
    return [stick, *(name for name in (reach.world.pupils.get(stick),) if name)]


def failsafe_keeps_controls(reach: Reach) -> Judged:
    return frozenset(n for n in reach.driving(*STICKS, "collective") if entry(reach, n) == "keep")


def failsafe_drops_gain(reach: Reach) -> Judged:
    low = frozenset(name for name, value in numbers(reach, "gyro-gain") if abs(value) <= 15)
    motors, off = dict(numbers(reach, "motor")), reach.world.motor_off
    if low and not reach.collective and motors and len(motors) == len(reach.driving("motor")):
        if off is None:
            return None
        if all(value <= off for value in motors.values()):
            return frozenset()
    return low


def failsafe_untested(reach: Reach) -> Verdict:
    return any(entry(reach, name) in ("unit", "none") for name in reach.driving("motor"))
