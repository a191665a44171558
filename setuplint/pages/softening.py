"""A curve that the craft hovers on, made softer there."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction

from setuplint.curves.flown import Flown
from setuplint.curves.servo import demand_for
from setuplint.curves.shape import FULL
from setuplint.curves.soften import softened
from setuplint.findings import Edit
from setuplint.formats.numbers import decimal
from setuplint.named_tuple import NamedTuple
from setuplint.pages.curve_charts import charts_of, curve_users
from setuplint.setup.model import Channel, Setup

SLOPES = tuple(Fraction(tenths, 10) for tenths in (8, 7, 6, 5, 4))  # output points a stick point; a straight line has 1
NEAR = Fraction(1, 1000)  # percent of the stick: a slope is measured over this
LEAST_CHANGE = Fraction(1, 100)  # of slope
DECIMALS = 2  # of the points
POINTS = 5


class SofterCurve(NamedTuple):
    """One way to soften a curve: its result in words, and the edit."""

    title: str
    edit: Edit


class HoverPoint(NamedTuple):
    """Where a channel hovers on a curve: its output there and the curve's value for that, both in percent, the channel's slope
    at mid-stick for a curve's slope of 1, and its slope at the hover now (None: it never gives that output)."""

    channel: str
    output: Fraction
    demand: Fraction
    gain: Fraction
    slope: Fraction | None


def softer_curves(setup: Setup, name: str) -> Iterator[SofterCurve]:
    """Edits that make a curve softer where the craft hovers on it: the hover moves to mid-stick, the ends are kept. None where
    no channel hovers on it, or it is not known where."""
    curve = setup.curves[name]
    found = list(dict.fromkeys(hover_points(setup, name)))
    ends = curve.points[0][1], curve.points[-1][1]
    for hover in found:
        for slope in SLOPES:
            if hover.slope is not None and slope > hover.slope - LEAST_CHANGE:
                continue
            try:
                points = softened(hover.demand, slope / hover.gain, ends, curve.smoothing)
            except ValueError:
                continue
            of = f" of {hover.channel}" if len(found) > 1 else ""
            title = f"soften {name}: slope {decimal(slope)} at the hover of {decimal(hover.output)} %{of}"
            if len(curve.points) != POINTS:
                title += f", {POINTS} points in place of {len(curve.points)}"
            yield SofterCurve(title, Edit(("curves", name, "points"), points_text(points)))


def points_text(points: Iterable[tuple[Fraction, Fraction]]) -> str:
    """Points as a file has them."""
    return f"[{', '.join(f'[{decimal(x, DECIMALS)}, {decimal(y, DECIMALS)}]' for x, y in points)}]"


def hover_points(setup: Setup, name: str) -> Iterator[HoverPoint]:
    """Where channels hover on a curve, in the modes that are not aerobatic."""
    craft = setup.craft
    for chart, curves in charts_of(setup, curve_users(setup).get(name, ())):
        for line in chart.lines if name in curves else ():
            flown = line.flown
            channel = flown.channel
            modes = [each for each in line.name.split(", ") if each]
            calm = not modes or any(not setup.modes[each].aerobatic for each in modes)
            output = {"motor": craft.hover_throttle, "collective": craft.hover_collective}.get(channel.drives)
            if channel.drives == "motor" and craft.rotor == "collective" and craft.governed_above is not None:
                continue  # the governor sets the throttle
            if not calm or output is None or not uses_curve(channel, line.name, name):
                continue
            demand, gain = demand_for(channel, output), _gain(flown, output)
            if demand is None or not gain:
                continue
            now = None
            if line.hover is not None:
                at = line.hover[0]
                stretch = max(at - NEAR, -FULL), min(at + NEAR, FULL)
                now = max(each.slopes(*stretch)[1][1] for each in (flown, *line.others))
            yield HoverPoint(channel.name, output, demand - flown.constant, gain, now)


def uses_curve(channel: Channel, modes: str, curve: str) -> bool:
    """Whether a channel uses a curve in the first of some modes, given as "normal, idle-up"."""
    first = modes.split(", ")[0]
    return any(term.curve == curve for term in channel.line(first or None).terms or ())


def _gain(flown: Flown, output: Fraction) -> Fraction:
    """The channel's slope at mid-stick for a curve with slope 1, where it gives this output; 0 at a limit."""
    channel, shape = flown.channel, flown.shape
    if not channel.low < output < channel.high:
        return Fraction(0)
    travel = channel.down if output < channel.sub_trim else channel.up
    return abs(travel * shape.rate * (100 - shape.expo)) / 1_000_000
