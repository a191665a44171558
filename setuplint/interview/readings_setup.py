"""The text of a setup that gives what was read, with what stays open named in it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from setuplint.formats.toml import toml_value
from setuplint.interview.data import interview
from setuplint.interview.readings_lines import FittedLine, Points
from setuplint.interview.readings_parts import HeldChannel, Parts, formula_words
from setuplint.interview.terms import decimal_text

HEAD = """\
# A setup from readings: it gives what was read, at every place that was read, and nothing else of it is known.
# Straight lines stand for what lies between. Open, in the order of what it may hide:
"""


def open_points(parts: Parts) -> list[str]:
    """What the readings cannot tell, in words."""
    found = list(interview().open.values())
    unread = parts.unread()
    if unread:
        some = "; ".join(formula_words(pair) for pair in unread[:6])
        more = f", and {len(unread) - 6} more" if len(unread) > 6 else ""
        found.insert(0, f"switches that were not read together: {some}{more}")
    mixed = [name for name in parts.readings.channels if parts.own_line(name).added]
    if mixed:
        found.append(
            f"what other sticks add to {', '.join(mixed)} was read with all switches at rest, and taken to stay so"
        )
    return found


def readings_text(parts: Parts, missing: Sequence[str] = ()) -> str:
    """The whole file; `missing` is more that is open."""
    readings = parts.readings
    lines = [
        HEAD.rstrip("\n"),
        *(f"# TODO {each}" for each in (*missing, *open_points(parts))),
        "format = 1",
        "",
        "[craft]",
    ]
    lines += [f"{key} = {toml_value(value)}" for key, value in readings.craft.items()]
    for switch in readings.switches.values():
        lines += [
            "",
            f"[switches.{switch.name}]",
            f"kind = {toml_value(switch.kind)}",
            f"positions = {toml_value(switch.positions)}",
        ]
    curves: dict[str, Points] = {}
    channels = list(_channels(parts, curves))
    for mode in [*parts.extra, *parts.modes]:
        lines += ["", f"[modes.{mode.name}]", f"when = {toml_value(formula_words(mode.when))}"]
    if parts.extra and not parts.modes:
        lines += ["", "[modes.otherwise]"]
    for name, points in curves.items():
        lines += ["", f"[curves.{name}]", f"points = {_points_text(points)}"]
    lines += [*channels, *_overrides(parts), *_intent(parts)]
    return "\n".join(lines) + "\n"


def _points_text(points: Points) -> str:
    return f"[{', '.join(f'[{decimal_text(x)}, {decimal_text(y)}]' for x, y in points)}]"


def _channels(parts: Parts, curves: dict[str, Points]) -> Iterator[str]:
    for name, (drives, number) in parts.readings.channels.items():
        yield from ("", f"[channels.{name}]")
        yield from ([f"number = {number}"] if number is not None else [])
        yield f"drives = {toml_value(drives)}"
        rate = parts.rates.get(name)
        own = parts.own_line(name)
        if rate is not None:
            at = ", ".join(f"{position} = {decimal_text(value)}" for position, value in rate.at.items())
            yield from (f'from = "{own.main}"', f"rate = {{ switch = {toml_value(rate.switch)}, at = {{ {at} }} }}")
        elif name in parts.lines[()]:
            yield from _line_keys(own, name, "", curves)
        for mode in [*parts.extra, *parts.modes]:
            if name in mode.lines:
                keys = ", ".join(_line_keys(mode.lines[name], name, mode.name, curves, whole=bool(own.added or rate)))
                yield f"in.{mode.name} = {{ {keys} }}"


def _line_keys(
    line: FittedLine, channel: str, mode: str, curves: dict[str, Points], *, whole: bool = False
) -> Iterator[str]:
    """The keys of a line. `whole`: a mix or a rate that the channel's own line has must not stay."""
    if not line.points:
        yield f"from = {decimal_text(line.constant)}"
        if whole:
            yield "mix = []"
        return
    yield f"from = {toml_value(line.main)}"
    yield f"curve = {toml_value(_curve(f'{channel}-{mode}' if mode else channel, line.points, curves))}"
    mixes = []
    for stick, points in line.added:
        curve = _curve(f"{channel}-by-{stick}{f'-{mode}' if mode else ''}", points, curves)
        mixes.append(f"{{ from = {toml_value(stick)}, curve = {toml_value(curve)} }}")
    if whole:
        yield "rate = 100"
    if mixes or whole:
        yield f"mix = [{', '.join(mixes)}]"


def _curve(name: str, points: Points, curves: dict[str, Points]) -> str:
    """The name of a curve with these points: one that is there, or a new one."""
    points = points if len(points) > 1 else ((Fraction(-100), points[0][1]), (Fraction(100), points[0][1]))
    if all(x == y for x, y in points) and {x for x, _ in points} >= {Fraction(-100), Fraction(100)}:
        return "straight"
    there = next((each for each, others in curves.items() if others == points), None)
    if there is not None:
        return there
    while name in curves:
        name += "-too"
    curves[name] = points
    return name


def _overrides(parts: Parts) -> Iterator[str]:
    names: set[str] = set()
    for held in (each for some in parts.held.values() for each in some):
        few = {name for name, switch in parts.readings.switches.items() if len(switch.positions) == 2}
        name = "-".join([*(name if name in few else f"{name}-{at}" for name, at in held.when), held.channel])
        while name in names:
            name += "-too"
        names.add(name)
        yield from ("", f"[overrides.{name}]", f"channel = {toml_value(held.channel)}")
        yield f"value = {decimal_text(held.value)}"
        yield f"when = {toml_value(formula_words(held.when, held.but))}"
        yield f"priority = {held.priority}"


def _intent(parts: Parts) -> Iterator[str]:
    yield from ("", "[intent]")
    for use in ("hold", "stop", "rescue"):
        called = [
            f"{switch.name} is {switch.calls}" for switch in parts.readings.switches.values() if switch.use == use
        ]
        if called:
            yield f"{use} = {toml_value(' or '.join(called))}"
    level = _rescued(parts, "stabiliser")
    if level is not None:
        yield f"level = {{ channel = {toml_value(level.channel)}, value = {decimal_text(level.value)} }}"
    lift = _rescued(parts, "collective")
    if lift is not None:
        line = parts.own_line(lift.channel)
        middle = dict(line.points).get(Fraction(0), line.constant)
        way = "at-least" if lift.value >= middle else "at-most"
        yield f"lift = {{ channel = {toml_value(lift.channel)}, {way} = {decimal_text(lift.value)} }}"


def _rescued(parts: Parts, drives: str) -> HeldChannel | None:
    """What the rescue alone holds a channel of that kind at."""
    calls = {(switch.name, switch.calls) for switch in parts.readings.switches.values() if switch.use == "rescue"}
    channels = parts.readings.channels
    held = (each for channel, some in parts.held.items() if channels[channel][0] == drives for each in some)
    return next((each for each in held if len(each.when) == 1 and set(each.when) <= calls), None)
