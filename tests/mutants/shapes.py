"""Judges of rules about curves and lines, by sampling scipy's own interpolators densely, and of plain values.

A figure within a hundredth of its limit is too near for sampling: then nothing is judged."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from fractions import Fraction
from functools import lru_cache
from typing import Any

import numpy as np
from scipy.interpolate import CubicHermiteSpline, CubicSpline, PchipInterpolator

from tests.oracle.formula import Compare, leaves
from tests.oracle.parts import Channel, number

from .failsafe import is_engine, rotor_free
from .grid import Array, Choice, Floats, all_formulas
from .hovering import hover_out_of_reach
from .reach import Reach, Verdict
from .settled import Moment
from .states import Judged

Points = tuple[tuple[float, float], ...]
KINDS = ("monotone", "cardinal", "natural")
STICK = np.linspace(-100, 100, 8001)


class TooNear(Exception):
    """A sampled figure is too close to its limit to be told from it."""


def over(value: float, limit: float, slack: float = 0.01) -> bool:
    if abs(value - limit) < slack * max(1.0, abs(limit)):
        raise TooNear
    return value > limit


def floats(points: Iterable[tuple[Any, Any]]) -> Points:
    return tuple((float(x), float(y)) for x, y in points)


def curve(points: Points, kind: str, at: Floats) -> Floats:
    """The curve at these places, its ends kept outside its points."""
    x, y = np.array(points).T
    inside = np.clip(at, x[0], x[-1])
    if kind == "none" or len(x) == 2:
        return np.asarray(np.interp(inside, x, y))
    if kind == "monotone":
        return np.asarray(PchipInterpolator(x, y)(inside))
    if kind == "natural":
        return np.asarray(CubicSpline(x, y, bc_type="natural")(inside))
    middle = (y[2:] - y[:-2]) / (x[2:] - x[:-2])
    ends = (y[1] - y[0]) / (x[1] - x[0]), (y[-1] - y[-2]) / (x[-1] - x[-2])
    return np.asarray(CubicHermiteSpline(x, y, [ends[0], *middle, ends[1]])(inside))


def kinds(table: Mapping[str, Any]) -> tuple[str, ...]:
    written = table.get("smoothing", "none")
    return KINDS if written == "unknown" else (written,)


def term(reach: Reach, table: Mapping[str, Any], kind: str) -> Floats | None:
    """curve(expo(rate × stick)) along the stick; None where a switch turns rate or expo."""
    rate, bend = table.get("rate", 100), table.get("expo", 0)
    if isinstance(rate, dict) or isinstance(bend, dict):
        return None
    name = table.get("curve", "straight")
    points = () if name == "straight" else reach.world.data["curves"][name]["points"]
    return along_stick(float(rate), float(bend) / 100, floats(points), kind)


@lru_cache(100)
def along_stick(rate: float, expo: float, points: Points, kind: str) -> Floats:
    """Along the whole stick, finely; of a straight line without points."""
    u = np.clip(STICK * rate / 100, -100, 100) / 100
    value = 100 * ((1 - expo) * u + expo * u**3)
    found = curve(points, kind, value) if points else value
    found.flags.writeable = False  # it is everybody's
    return found


def lines(reach: Reach, *drives: str, uncalled: bool = False) -> Iterator[tuple[str, str | None, Mapping[str, Any]]]:
    """Channel, flown mode and the table of its line there, own keys replaced by the mode's. `uncalled`: modes flown with
    neither hold nor stop nor rescue called."""
    modes = reach.flown(uncalled)
    for name in reach.driving(*drives):
        table = reach.world.data["channels"][name]
        for mode in [m for m in (*reach.world.modes, None) if m in modes]:
            yield name, mode, {**table, **(table.get("in", {}).get(mode, {}) if mode else {})}


def used_kinds(reach: Reach, table: Mapping[str, Any]) -> tuple[str, ...]:
    name = table.get("curve", "straight")
    return ("none",) if name == "straight" else kinds(reach.world.data["curves"][name])


def on_stick(reach: Reach, table: Mapping[str, Any]) -> bool:
    return table.get("from") in reach.world.analogs


def flown(reach: Reach, channel: str, table: Mapping[str, Any], kind: str) -> Floats | None:
    """The output along the stick, where one stick alone moves it and no switch does."""
    if not on_stick(reach, table) or table.get("mix"):
        return None
    demand = term(reach, table, kind)
    if demand is None or np.ptp(demand) < 1e-9:  # no stick flies it: a dead control has rules of its own
        return None
    return put_out(reach.world.channels[channel], demand)


def put_out(servo: Channel, demand: Floats) -> Floats:
    value = -demand if servo.reversed else demand
    value = value * np.where(value < 0, float(servo.travel[0]), float(servo.travel[1])) / 100 + float(servo.sub_trim)
    return np.asarray(np.clip(value, float(servo.low), float(servo.high)))


def hardest_turn(y: Floats) -> float:
    """How far it turns against the direction of its ends; with equal ends, its rise or fall."""
    back = float(np.max(np.maximum.accumulate(y) - y))
    up = float(np.max(y - np.minimum.accumulate(y)))
    return back if y[-1] > y[0] + 1e-9 else up if y[-1] < y[0] - 1e-9 else max(back, up)


def v_shape(y: Floats) -> bool:
    """Falls to one bottom and rises from it."""
    low = int(np.argmin(y))
    return bool(np.all(np.diff(y[: low + 1]) <= 1e-9) and np.all(np.diff(y[low:]) >= -1e-9))


def curve_not_monotonic(reach: Reach) -> Judged:
    """By curve."""
    found = set()
    for channel, mode, table in lines(reach, "motor", "collective"):
        name = table.get("curve", "straight")
        if name == "straight" or not on_stick(reach, table):
            continue
        motor = reach.world.channels[channel].drives == "motor"
        for kind in used_kinds(reach, table):
            y = term(reach, table, kind)
            if y is not None and not table.get("mix"):
                y = put_out(reach.world.channels[channel], y)
            if y is None or not over(hardest_turn(y), 0.01):
                continue
            if motor and reach.collective and mode and reach.idle_up(mode) and v_shape(y):
                continue
            found.add(name)
    return frozenset(found)


def curve_overshoot(reach: Reach) -> Judged:
    """By curve: 2 points over its points' range, or over ±100; on a motor, between points that run it, to its stop."""
    found = set()
    motors: dict[str, list[str]] = {}
    used = {c for _, _, t in lines(reach, *{c.drives for c in reach.world.channels.values()}) for c in [t.get("curve")]}
    for channel, _, table in lines(reach, "motor"):
        motors.setdefault(table.get("curve", "straight"), []).append(channel)
    for name, table in reach.world.data.get("curves", {}).items():
        points = floats(table["points"])
        x, y = np.array(points).T
        for kind in kinds(table):
            if kind == "none" or name not in used:
                continue
            out = curve(points, kind, np.linspace(x[0], x[-1], 8001))
            past = max(out.max() - y.max(), y.min() - out.min())
            if over(past, 2) or (
                past > 1e-9 and (over(out.max(), max(100, y.max()), 0) or over(-out.min(), max(100, -y.min()), 0))
            ):
                found.add(name)
            if name in motors and reach.world.motor_off is not None:
                off = float(reach.world.motor_off)
                for a, b, ya, yb in zip(x, x[1:], y, y[1:], strict=False):
                    between = curve(points, kind, np.linspace(a, b, 2001))
                    if min(ya, yb) > off and between.min() <= off:
                        found.add(name)
    return frozenset(found)


def curve_short_of_full(reach: Reach) -> Verdict:
    """A fixed pitch, a mode that is not aerobatic: the motor ends below +90 or starts above motor-off; an engine's, above
    rotor-free, under which it may idle."""
    if reach.collective:
        return False
    off = rotor_free(reach) if is_engine(reach) else reach.world.motor_off
    if off is None:
        return None
    for channel, mode, table in lines(reach, "motor", uncalled=True):
        if mode and reach.aerobatic(mode):
            continue
        for kind in used_kinds(reach, table):
            y = term(reach, table, kind) if on_stick(reach, table) else None
            if y is None:
                continue
            y = -y if reach.world.channels[channel].reversed else y  # travel that cuts it is no fault of the curve
            if y[-1] < 90 or y[0] > float(off):
                return True
    return False


def hover_lines(reach: Reach) -> Iterator[tuple[Floats, float]]:
    """The subject's output along the stick, and where it hovers: that place is the nearest to the middle. Nothing of a channel
    that gives the hover nowhere."""
    drives = "collective" if reach.collective else "motor"
    hover = reach.craft("hover-collective" if reach.collective else "hover-throttle")
    if hover is None:
        raise TooNear
    said = hover_out_of_reach(reach)
    for channel, mode, table in lines(reach, drives, uncalled=True):
        if channel in said or (mode and reach.aerobatic(mode)):
            continue
        for kind in used_kinds(reach, table):
            y = flown(reach, channel, table, kind)
            if y is None:
                continue
            off = y - float(hover)
            cross = np.flatnonzero((off[:-1] <= 0) & (off[1:] >= 0) | (off[:-1] >= 0) & (off[1:] <= 0))
            if len(cross) == 0:
                continue
            places = []
            for k in cross:
                step = off[k + 1] - off[k]
                places.append(STICK[k] + (0.025 * -off[k] / step if step else 0.0))
            yield y, min(places, key=abs)


def slopes(y: Floats) -> Floats:
    """Points a point of stick, up or down."""
    return np.asarray(abs(np.diff(y) / np.diff(STICK)))


def around(y: Floats, at: float, near: float) -> Floats:
    """The slopes within so much stick of a place."""
    left, right = STICK[:-1], STICK[1:]
    return slopes(y)[(right > at - near + 0.03) & (left < at + near - 0.03)]


def hover_too_sharp(reach: Reach) -> Verdict:
    return any(tuple(over(float(np.max(around(y, at, 20))), 1.0, 0.003) for y, at in hover_lines(reach)))


def curve_flat_at_hover(reach: Reach) -> Verdict:
    return any(tuple(over(0.2, float(np.min(around(y, at, 10))), 0.003) for y, at in hover_lines(reach)))


def hover_off_centre(reach: Reach) -> Verdict:
    return any(tuple(over(abs(at), 30.0, 0.001) for _, at in hover_lines(reach)))


def curve_steep_outside(reach: Reach) -> Verdict:
    return any(tuple(over(float(np.max(slopes(y))), 3.0, 0.003) for y in hover_curves(reach)))


def hover_curves(reach: Reach) -> Iterator[Floats]:
    for channel, mode, table in lines(reach, "collective" if reach.collective else "motor", uncalled=True):
        if not (mode and reach.aerobatic(mode)):
            for kind in used_kinds(reach, table):
                y = flown(reach, channel, table, kind)
                if y is not None:
                    yield y


def expo_harsh(reach: Reach) -> Judged:
    """By channel, written anywhere in it for a stick or knob."""
    found = set()
    for name, table in reach.world.data.get("channels", {}).items():
        for one in (table, *table.get("in", {}).values(), *table.get("mix", [])):
            bend = one.get("expo", 0)
            values = bend["at"].values() if isinstance(bend, dict) else [bend]
            if any(number(x) > 60 or number(x) < -15 for x in values):
                found.add(name)
    return frozenset(found)


def output_clipped(reach: Reach) -> Judged:
    """By channel: the sum of a flown line's terms, at some places of its sticks, is beyond low, high or what is left."""
    found = set()
    for name, channel in reach.world.channels.items():
        for moment, where in reach.later:
            for choice in reach.choices:
                demand = moment.line(name, choice)
                value = -demand if channel.reversed else demand
                value = value * np.where(value < 0, float(channel.travel[0]), float(channel.travel[1])) / 100
                value = value + float(channel.sub_trim)
                beyond = (value > float(channel.high) + 1e-6) | (value < float(channel.low) - 1e-6)
                sticks = any(t.kind == "analog" for x in channel.lines.values() for t in x.terms or ())
                if (sticks and (beyond & where).any()) or (over_full(channel, moment, choice) & where).any():
                    found.add(name)
    return frozenset(found)


def over_full(channel: Channel, moment: Moment, choice: Choice) -> Array:
    """A rate beyond 100 is flown."""
    found = moment.grid.constant(False)
    for mode, k in [*moment.modes.items(), (None, -1)]:
        here = (moment.mode == k) & ~moment.taken(channel.name, choice)
        for term in channel.lines[mode].terms or ():
            for word, rate in term.rate.at.items() if term.kind == "analog" else ():
                if abs(rate) > 100:
                    found = found | (here & moment.is_at(term.rate.switch, word) if term.rate.switch else here)
    return found


def value_out_of_range(reach: Reach) -> Verdict:
    """A number that a stick, knob or sensor never has."""
    for leaf in (x for formula in all_formulas(reach.written) for x in leaves(formula)):
        if isinstance(leaf, Compare):
            sensor = leaf.name in reach.world.sensors
            low, high = reach.world.range_of(leaf.name) if sensor else (Fraction(-100), Fraction(100))
            if not low <= leaf.number <= high:
                return True
    return False


def channel_clash(reach: Reach) -> Verdict:
    numbers = [t["number"] for t in reach.world.data.get("channels", {}).values() if "number" in t]
    return len(numbers) != len(set(numbers))


def part_unused(reach: Reach) -> Judged:
    data = reach.world.data
    text = " ".join(_strings(data)).replace("(", " ").replace(")", " ").split()
    curves = {t for c in data.get("channels", {}).values() for t in _curves(c)}
    found = {name for name in data.get("curves", {}) if name not in curves}
    found |= {name for name in data.get("conditions", {}) if name not in text}
    return frozenset(found | {n for n, t in data.get("sensors", {}).items() if n not in text and not t.get("shown")})


def _strings(value: Any) -> Iterator[str]:
    if isinstance(value, dict):
        for key, one in value.items():
            if isinstance(one, str):
                yield from (
                    [one]
                    if key in ("when", "until", "runs", "requires", "hold", "stop", "rescue", "never", "always")
                    else []
                )
            else:
                yield from _strings(one)
    elif isinstance(value, list):
        for one in value:
            yield from _strings(one)


def _curves(table: Mapping[str, Any]) -> Iterator[str]:
    yield table.get("curve", "straight")
    for one in (*table.get("in", {}).values(), *table.get("mix", [])):
        yield from _curves(one)
