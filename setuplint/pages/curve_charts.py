"""Charts of a set-up's curves: every channel's lines over their stick, with dips, overshoots and the hover marked."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction
from functools import partial
from itertools import islice

from setuplint.budget import OutOfBudget
from setuplint.curves import bends, lines
from setuplint.curves.flown import Flown
from setuplint.curves.servo import unrounded
from setuplint.curves.shape import FULL, Shape
from setuplint.dataclass import replace
from setuplint.formats.numbers import decimal, of_hundred, percent
from setuplint.pages.charts import Chart, ChartLine, ChartMark, Point
from setuplint.setup.model import BySwitch, Channel, Curve, Line, Mode, Setup, Term
from setuplint.setup.problems import word_list
from setuplint.setup.smoothings import possible

HoverPoint = tuple[Fraction, Fraction, Fraction]  # stick, output, slope
MOST_DRAWN = 100  # drawings of a page: nobody looks through more, and each takes a while
NEAR = Fraction(1, 100)
MOST_MODES = 100  # of which a chart has lines
PIECES = 40  # of a stretch that turns back
LEAST = bends.WOBBLE  # points; less is no dip and no overshoot


def channel_charts(setup: Setup) -> Iterator[tuple[Chart, tuple[str, ...]]]:
    """The charts of all channels; then one for each curve that no channel shows. With every chart go the names of the curves in
    it."""
    shown: set[str] = set()
    for chart, names in charts_of(setup, setup.channels.values()):
        shown.update(names)
        yield chart, names
    for name in setup.curves:
        if name not in shown:
            yield curve_chart(setup, name), (name,)


def charts_of(setup: Setup, channels: Iterable[Channel]) -> Iterator[tuple[Chart, tuple[str, ...]]]:
    """A chart for each of these channels and each stick that a curve bends, with a line for each mode."""
    modes: list[str | None] = [*islice(setup.modes, MOST_MODES)] or [None]
    for channel in channels:
        by_stick: dict[str, list[tuple[ChartLine, str]]] = {}
        for mode in modes:
            line = channel.line(mode)
            bent = [term for term in line.terms or () if term.curve is not None]
            if len(bent) == 1 and (drawn := _chart_line(setup, channel, line, bent[0], mode)) is not None:
                by_stick.setdefault(str(bent[0].source), []).append((drawn, str(bent[0].curve)))
        for stick, found in by_stick.items():
            names = tuple(dict.fromkeys(curve for _, curve in found))
            yield _channel_chart(setup, channel, stick, [line for line, _ in found]), names


def curve_users(setup: Setup) -> dict[str, list[Channel]]:
    """The channels that use each curve: in thousands of both, not looked for curve by curve."""
    found: dict[str, list[Channel]] = {name: [] for name in setup.curves}
    for channel in setup.channels.values():
        for name in {term.curve for term in channel.terms if term.curve is not None}:
            found[name].append(channel)
    return found


def curve_chart(setup: Setup, name: str) -> Chart:
    """One curve by itself. KeyError where there is none of that name."""
    curve = setup.curves[name]
    users = [channel.name for channel in curve_users(setup)[name]]
    channel = Channel(name, None, "other", Line(()), {})
    kinds = possible(curve.smoothing)
    flown = [Flown(channel, Fraction(0), Shape.of(curve.points, kind, FULL, Fraction(0))) for kind in kinds]
    line = ChartLine(
        "", flown[0], curve.points, None, _line_marks("", flown, curve, kinds, valley=None), tuple(flown[1:])
    )
    used = f"by {', '.join(users)}" if users else "by no channel"
    return Chart(name, "stick", (line,), remarks=(smoothing_words(curve), f"used {used}"))


def _channel_chart(setup: Setup, channel: Channel, stick: str, found: list[ChartLine]) -> Chart:
    merged: list[ChartLine] = []
    for line in found:
        twin = next((n for n, each in enumerate(merged) if each.flown == line.flown), None)
        if twin is None:
            merged.append(line)
        else:
            merged[twin] = replace(
                merged[twin], name=f"{merged[twin].name}, {line.name}", marks=_merged_marks(merged[twin], line)
            )
    motor = channel.drives == "motor"
    plain = Flown(channel, Fraction(0), Shape.of(None, None, FULL, Fraction(0)))
    straight = tuple((at, plain.output(at)) for at in (-FULL, Fraction(0), FULL))
    remarks = []
    rests = _controls_at_rest(channel, stick)
    if rests:
        remarks.append(f"drawn with {', '.join(rests)} at rest")
    if len(setup.modes) > MOST_MODES:
        remarks.append(f"drawn for the first {MOST_MODES} modes")
    if any(line.others for line in merged):
        remarks.append(f"smoothing that is not known is drawn as {_drawn_kinds()}")
    off = setup.craft.motor_off if motor else None
    return Chart(f"{channel.name} over {stick}", stick, tuple(merged), straight, motor, off, tuple(remarks))


def _merged_marks(one: ChartLine, other: ChartLine) -> tuple[ChartMark, ...]:
    """The marks of two modes that do the same: a V that is a fault in one of them stays a fault."""
    return one.marks if any(mark.kind == "dip" for mark in one.marks) else other.marks


def _controls_at_rest(channel: Channel, stick: str) -> list[str]:
    """The other controls that the lines read, which stand at rest in the chart."""
    found: dict[str, None] = {}
    for line in channel.lines.values() or (channel.own,):
        for term in line.terms or ():
            if term.kind != "number" and term.source != stick:
                found[str(term.source)] = None
            found.update((by.switch, None) for by in (term.rate, term.expo) if isinstance(by, BySwitch))
    return list(found)


def smoothing_words(curve: Curve) -> str:
    return {
        "none": "straight between its points",
        "unknown": f"smoothed, it is not known how: drawn as {_drawn_kinds()}",
    }.get(curve.smoothing, f"{curve.smoothing} smoothing")


def _drawn_kinds() -> str:
    """What is drawn of a smoothing that is not known."""
    first, *others = possible("unknown")
    return f"{first}, thin as {word_list(others, 'and')}"


def _smoothing_word(curve: Curve) -> str:
    return {"none": "straight", "unknown": "smoothing not known"}.get(curve.smoothing, curve.smoothing)


def _chart_line(setup: Setup, channel: Channel, line: Line, bent: Term, mode: str | None) -> ChartLine | None:
    """The line with its other terms at rest; None where there is too much to work out."""
    curve = setup.curves[bent.curve or ""]
    kinds = possible(curve.smoothing)
    flown = []
    for kind in kinds:
        shape = Shape.of(curve.points, kind, _resting_amount(bent.rate), _resting_amount(bent.expo))
        try:
            case = lines.cases(setup, line)[0]
        except OutOfBudget:
            return None
        others = (s.value(setup.sticks[name].rest) for name, s in case.shapes if name != bent.source)
        flat = shape.value(Fraction(0)) if shape.is_constant(-FULL, FULL) else Fraction(0)  # in the constant, then
        flown.append(Flown(channel, sum(others, case.constant) - flat, shape))
    points = tuple((x, flown[0].output(x)) for x in _reached_points(flown[0].shape, curve))
    valley = _may_be_valley(setup, channel, None if mode is None else setup.modes[mode])
    marks = _line_marks(mode or "", flown, curve, kinds, valley=valley)
    return ChartLine(
        mode or "",
        flown[0],
        points,
        _hover_point(setup, channel, flown[0]),
        marks,
        tuple(flown[1:]),
        f"{curve.name}, {_smoothing_word(curve)}",
    )


def _resting_amount(amount: Fraction | BySwitch) -> Fraction:
    """The amount; where a switch selects it, the one at rest."""
    return next(iter(amount.at.values())) if isinstance(amount, BySwitch) else amount


def _reached_points(shape: Shape, curve: Curve) -> list[Fraction]:
    """The stick at each of the curve's points that rate and expo let it reach."""
    if not shape.rate:
        return []
    low, high = sorted(Fraction(*shape.bent(x.numerator, x.denominator)) for x in (-FULL, FULL))
    turned = 1 if shape.rate > 0 else -1
    ends = {low: -FULL * turned, high: FULL * turned}
    return sorted(ends[w] if w in ends else shape.place(w) for w, _ in curve.points if low <= w <= high)


def _hover_point(setup: Setup, channel: Channel, flown: Flown) -> HoverPoint | None:
    """Where the craft hovers and the slope there, for the channel that lifts it."""
    craft = setup.craft
    value = {"motor": craft.hover_throttle, "collective": craft.hover_collective}.get(channel.drives)
    if channel.drives == "motor" and (craft.rotor == "collective" and craft.governed_above is not None):
        return None
    at = None if value is None else flown.stick_for(value)
    if at is None or value is None:
        return None
    low, high = max(at - NEAR, -FULL), min(at + NEAR, FULL)
    return at, value, (flown.output(high) - flown.output(low)) / (high - low)


def _may_be_valley(setup: Setup, channel: Channel, mode: Mode | None) -> bool | None:
    """Whether a V is intended. None for a channel that does not lift: there a V is marked only if smoothing makes it."""
    if channel.drives not in ("motor", "collective"):
        return None
    fits = channel.drives == "motor" and setup.craft.rotor == "collective"
    return fits and mode is not None and mode.idle_up


def _line_marks(
    name: str, flown: list[Flown], curve: Curve, kinds: tuple[str, ...], *, valley: bool | None
) -> tuple[ChartMark, ...]:
    """The largest dip and the largest overshoots, over every smoothing that is possible."""
    marks = []
    for find in (partial(_turn_mark, valley=valley), partial(_overshoot_mark, way=1), partial(_overshoot_mark, way=-1)):
        found = [(find(each, curve), kind) for each, kind in zip(flown, kinds, strict=True)]
        (_, mark), kind = max(found, key=lambda item: item[0][0])
        if mark is not None:
            only_if = f", if it is smoothed as {kind}" if curve.smoothing == "unknown" else ""
            marks.append(replace(mark, note=f"{f'{name}: ' if name else ''}{mark.note}{only_if}"))
    return tuple(marks)


Remarked = tuple[Fraction, ChartMark | None]
NOTHING: Remarked = (Fraction(0), None)


def _turn_mark(flown: Flown, curve: Curve, *, valley: bool | None) -> Remarked:
    shape = flown.shape
    turn = flown.turn
    bare = Shape.of(curve.points, "none", shape.rate, shape.expo)
    if turn.amount <= LEAST or (valley is None and bends.turns_against(bare).amount > LEAST):
        return NOTHING
    if valley and flown.is_valley:
        (low, _), (high, _) = shape.extremes(-FULL, FULL)
        bottom = min((low, high), key=flown.output)
        note = f"a V, lowest at {_point_words(flown, bottom)}"
        return turn.amount, ChartMark("valley", (_point_at(flown, bottom),), note)
    start, end = turn.x_from, turn.x_to
    note = (
        f"turns back by {decimal(turn.amount)} points, from {_point_words(flown, start)} to {_point_words(flown, end)}"
    )
    between = [start + (end - start) * n / PIECES for n in range(PIECES + 1)]
    places = (_point_at(flown, start), _point_at(flown, end))
    return turn.amount, ChartMark("dip", places, note, along=tuple(_point_at(flown, x) for x in between))


def _overshoot_mark(flown: Flown, curve: Curve, *, way: int) -> Remarked:
    """How far smoothing goes above the highest point (`way` 1) or below the lowest (-1)."""
    heights = [y for _, y in curve.points]
    x, y = flown.shape.extremes(-FULL, FULL)[way > 0]
    end = max(heights) if way > 0 else min(heights)
    amount = way * (y - end)
    if amount <= LEAST:
        return NOTHING
    side = "above its highest" if way > 0 else "below its lowest"
    note = f"smoothing goes {decimal(amount)} points {side} point: {_point_words(flown, x)}"
    level = unrounded(flown.channel, flown.constant + end)
    return amount, ChartMark("overshoot", (_point_at(flown, x),), note, level)


def _point_at(flown: Flown, at: Fraction) -> Point:
    return at, flown.output(at)


def _point_words(flown: Flown, at: Fraction) -> str:
    """`+22.66 % (61.33 of 100) with the stick at +14.4 %`."""
    output = flown.output(at)
    motor = f" ({of_hundred(round(output, 2))})" if flown.channel.drives == "motor" else ""
    return f"{percent(round(output, 2))}{motor} with the stick at {percent(round(at, 1))}"
