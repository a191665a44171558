"""A curve that the craft hovers on, made softer there: for code actions."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import NamedTuple

from setuplint.curves.flown import Flown, demand_for
from setuplint.curves.shape import FULL
from setuplint.curves.soften import softened
from setuplint.findings import Edit
from setuplint.formats.numbers import decimal
from setuplint.pages.curve_charts import channel_charts
from setuplint.setup.model import Channel, Setup

SLOPES = tuple(Fraction(tenths, 10) for tenths in (8, 7, 6, 5, 4))  # output points a stick point; a straight line has 1
NEAR = Fraction(1, 1000)  # of the stick: a slope is taken this near to a place
LEAST = Fraction(1, 100)  # of slope: less is no change
ENTERED = 2  # decimals of the points
POINTS = 5


class Softer(NamedTuple):
    """One way to soften a curve: what it comes to, and the edit."""

    title: str
    edit: Edit


class Hovering(NamedTuple):
    """A channel that hovers on a curve: its output there, the curve's value for that, the channel's slope at mid-stick for a
    curve's slope of 1, and how steep it is at the hover now (None: it never gives that output)."""

    channel: str
    output: Fraction
    demand: Fraction
    gain: Fraction
    slope: Fraction | None


def softer(setup: Setup, name: str) -> Iterator[Softer]:
    """What makes a curve softer than it is where the craft hovers on it, the hover at mid-stick, the ends kept; nothing where
    no channel hovers on it, or it is not known where."""
    curve = setup.curves[name]
    found = list(dict.fromkeys(_hovering(setup, name)))
    ends = curve.points[0][1], curve.points[-1][1]
    for hovering in found:
        for slope in SLOPES:
            if hovering.slope is not None and slope > hovering.slope - LEAST:
                continue
            try:
                points = softened(hovering.demand, slope / hovering.gain, ends, curve.smoothing)
            except ValueError:
                continue
            pairs = [f"[{decimal(x, ENTERED)}, {decimal(y, ENTERED)}]" for x, y in points]
            of = f" of {hovering.channel}" if len(found) > 1 else ""
            title = f"soften {name}: slope {decimal(slope)} at the hover of {decimal(hovering.output)} %{of}"
            if len(curve.points) != POINTS:
                title += f", {POINTS} points in place of {len(curve.points)}"
            yield Softer(title, Edit(("curves", name, "points"), f"[{', '.join(pairs)}]"))


def _hovering(setup: Setup, name: str) -> Iterator[Hovering]:
    """Every channel that hovers on a curve, in the modes that are not aerobatic."""
    craft = setup.craft
    for chart, curves in channel_charts(setup):
        for line in chart.lines if name in curves else ():
            flown = line.flown
            channel = flown.channel
            modes = [each for each in line.name.split(", ") if each]
            calm = not modes or any(not setup.modes[each].aerobatic for each in modes)
            output = {"motor": craft.hover_throttle, "collective": craft.hover_collective}.get(channel.drives)
            if channel.drives == "motor" and craft.rotor == "collective" and craft.governed_above is not None:
                continue  # the governor has the throttle
            if not calm or output is None or not through(channel, line.name, name):
                continue
            demand, gain = demand_for(channel, output), _gain(flown, output)
            if demand is None or not gain:
                continue
            now = None
            if line.hover is not None:
                at = line.hover[0]
                stretch = max(at - NEAR, -FULL), min(at + NEAR, FULL)
                now = max(each.slopes(*stretch)[1][1] for each in (flown, *line.others))
            yield Hovering(channel.name, output, demand - flown.constant, gain, now)


def through(channel: Channel, modes: str, curve: str) -> bool:
    """Whether a channel goes through a curve in the first of some modes."""
    first = modes.split(", ")[0]
    return any(term.curve == curve for term in channel.line(first or None).terms or ())


def _gain(flown: Flown, output: Fraction) -> Fraction:
    """Points of output a stick point, at mid-stick, where the curve has a slope of 1 and the channel gives this output."""
    channel, shape = flown.channel, flown.shape
    if not channel.low < output < channel.high:
        return Fraction(0)
    travel = channel.down if output < channel.sub_trim else channel.up
    return abs(travel * shape.rate * (100 - shape.expo)) / 1_000_000
