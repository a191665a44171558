"""What a set-up's curves do, ready to be drawn: every channel's lines over their stick, what is remarkable marked."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

from setuplint.budget import OutOfBudget
from setuplint.curves import bends, lines
from setuplint.curves.flown import Flown, limited, unlimited
from setuplint.curves.shape import FULL, Shape
from setuplint.formats.numbers import decimal, of_hundred, percent
from setuplint.pages.charts import Chart, Line, Mark, Point
from setuplint.setup.model import BySwitch, Channel, Curve, Mode, Setup, Term
from setuplint.setup.model import Line as Described
from setuplint.setup.problems import word_list
from setuplint.setup.smoothings import possible

Hover = tuple[Fraction, Fraction, Fraction]  # stick, output, slope
NEAR = Fraction(1, 100)
PART = 40  # pieces of a stretch that turns back
LEAST = bends.WOBBLE  # points: less is no dip and no overshoot


def channel_charts(setup: Setup) -> Iterator[tuple[Chart, tuple[str, ...]]]:
    """For each channel that a curve bends, what it does over that stick in every mode; and each curve that is left, by
    itself. With every chart the names of the curves that are in it."""
    told: set[str] = set()
    for channel in setup.channels.values():
        by_stick: dict[str, list[tuple[Line, str]]] = {}
        for mode in setup.modes or [None]:
            line = channel.line(mode)
            bent = [term for term in line.terms or () if term.curve is not None]
            if len(bent) == 1 and (drawn := _line(setup, channel, line, bent[0], mode)) is not None:
                by_stick.setdefault(str(bent[0].source), []).append((drawn, str(bent[0].curve)))
        for stick, found in by_stick.items():
            names = tuple(dict.fromkeys(curve for _, curve in found))
            told.update(names)
            yield _chart(setup, channel, stick, [line for line, _ in found]), names
    for name in setup.curves:
        if name not in told:
            yield curve_chart(setup, name), (name,)


def curve_chart(setup: Setup, name: str) -> Chart:
    """One curve by itself. KeyError where there is none of that name."""
    curve = setup.curves[name]
    users = [c.name for c in setup.channels.values() if name in _curves_of(c)]
    channel = Channel(name, None, "other", Described(()), {})
    kinds = possible(curve.smoothing)
    flown = [Flown(channel, Fraction(0), Shape.of(curve.points, kind, FULL, Fraction(0))) for kind in kinds]
    line = Line("", flown[0], curve.points, None, _marks("", flown, curve, kinds, valley=None), tuple(flown[1:]))
    used = f"by {', '.join(users)}" if users else "by no channel"
    said = (smoothing(curve), f"used {used}")
    return Chart(name, "stick", (line,), said=said)


def _curves_of(channel: Channel) -> set[str | None]:
    return {term.curve for line in (channel.own, *channel.lines.values()) for term in line.terms or ()}


def _chart(setup: Setup, channel: Channel, stick: str, found: list[Line]) -> Chart:
    merged: list[Line] = []
    for line in found:
        twin = next((n for n, each in enumerate(merged) if each.flown == line.flown), None)
        if twin is None:
            merged.append(line)
        else:
            merged[twin] = replace(
                merged[twin], name=f"{merged[twin].name}, {line.name}", marks=_milder(merged[twin], line)
            )
    motor = channel.drives == "motor"
    plain = Flown(channel, Fraction(0), Shape.of(None, None, FULL, Fraction(0)))
    straight = tuple((at, plain.output(at)) for at in (-FULL, Fraction(0), FULL))
    said = []
    rests = _at_rest(channel, stick)
    if rests:
        said.append(f"drawn with {', '.join(rests)} at rest")
    if any(line.others for line in merged):
        said.append(f"smoothing that is not known is drawn as {_drawn_kinds()}")
    off = setup.craft.motor_off if motor else None
    return Chart(f"{channel.name} over {stick}", stick, tuple(merged), straight, motor, off, tuple(said))


def _milder(one: Line, other: Line) -> tuple[Mark, ...]:
    """Of two modes that do the same: a V that is a fault in one is told as a fault."""
    return one.marks if any(mark.kind == "dip" for mark in one.marks) else other.marks


def _at_rest(channel: Channel, stick: str) -> list[str]:
    """The other controls that the lines read."""
    found: dict[str, None] = {}
    for line in channel.lines.values() or (channel.own,):
        for term in line.terms or ():
            if term.kind != "number" and term.source != stick:
                found[str(term.source)] = None
            found.update((by.switch, None) for by in (term.rate, term.expo) if isinstance(by, BySwitch))
    return list(found)


def smoothing(curve: Curve) -> str:
    return {
        "none": "straight between its points",
        "unknown": f"smoothed, it is not known how: drawn as {_drawn_kinds()}",
    }.get(curve.smoothing, f"{curve.smoothing} smoothing")


def _drawn_kinds() -> str:
    """What is drawn of a smoothing that is not known."""
    first, *others = possible("unknown")
    return f"{first}, thin as {word_list(others, 'and')}"


def _kind(curve: Curve) -> str:
    return {"none": "straight", "unknown": "smoothing not known"}.get(curve.smoothing, curve.smoothing)


def _line(setup: Setup, channel: Channel, line: Described, bent: Term, mode: str | None) -> Line | None:
    """The line with its other terms where they are at rest."""
    curve = setup.curves[bent.curve or ""]
    kinds = possible(curve.smoothing)
    flown = []
    for kind in kinds:
        shape = Shape.of(curve.points, kind, _first(bent.rate), _first(bent.expo))
        try:
            case = lines.cases(setup, line)[0]
        except OutOfBudget:
            return None
        others = (s.value(setup.sticks[name].rest) for name, s in case.shapes if name != bent.source)
        flat = shape.value(Fraction(0)) if shape.is_constant(-FULL, FULL) else Fraction(0)  # in the constant, then
        flown.append(Flown(channel, sum(others, case.constant) - flat, shape))
    points = tuple((x, flown[0].output(x)) for x in _reached(flown[0].shape, curve))
    valley = _may_be_valley(setup, channel, None if mode is None else setup.modes[mode])
    marks = _marks(mode or "", flown, curve, kinds, valley=valley)
    return Line(
        mode or "",
        flown[0],
        points,
        _hover(setup, channel, flown[0]),
        marks,
        tuple(flown[1:]),
        f"{curve.name}, {_kind(curve)}",
    )


def _first(amount: Fraction | BySwitch) -> Fraction:
    """Where it hangs on a switch, as that stands at rest."""
    return next(iter(amount.at.values())) if isinstance(amount, BySwitch) else amount


def _reached(shape: Shape, curve: Curve) -> list[Fraction]:
    """The stick at each of the curve's points, as far as rate and expo let it come there."""
    if not shape.rate:
        return []
    low, high = sorted(Fraction(*shape.bent(x.numerator, x.denominator)) for x in (-FULL, FULL))
    turned = 1 if shape.rate > 0 else -1
    ends = {low: -FULL * turned, high: FULL * turned}
    return sorted(ends[w] if w in ends else shape.place(w) for w, _ in curve.points if low <= w <= high)


def _hover(setup: Setup, channel: Channel, flown: Flown) -> Hover | None:
    """Where the craft hovers, and the slope there; for what carries it."""
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
    """Whether a V is in its place; None for what does not carry the craft: there it is marked only if smoothing makes it."""
    if channel.drives not in ("motor", "collective"):
        return None
    fits = channel.drives == "motor" and setup.craft.rotor == "collective"
    return fits and mode is not None and mode.idle_up


def _marks(
    name: str, flown: list[Flown], curve: Curve, kinds: tuple[str, ...], *, valley: bool | None
) -> tuple[Mark, ...]:
    """The furthest turn, and the furthest that smoothing goes beyond the points, of all that the smoothing may be."""
    pairs = list(zip(flown, kinds, strict=True))
    each_way = (
        [_turn(each, curve, kind, valley) for each, kind in pairs],
        [_beyond(each, curve, kind, 1) for each, kind in pairs],
        [_beyond(each, curve, kind, -1) for each, kind in pairs],
    )
    worst = (max(found, key=lambda pair: pair[0])[1] for found in each_way)
    return tuple(replace(mark, note=f"{name}: {mark.note}" if name else mark.note) for mark in worst if mark)


Found = tuple[Fraction, Mark | None]
NOTHING: Found = (Fraction(0), None)


def _turn(flown: Flown, curve: Curve, kind: str, valley: bool | None) -> Found:
    shape = flown.shape
    turn = bends.turns_against(shape)
    bare = Shape.of(curve.points, "none", shape.rate, shape.expo)
    if turn.amount <= LEAST or (valley is None and bends.turns_against(bare).amount > LEAST):
        return NOTHING
    if valley and bends.is_valley(shape):
        (low, _), (high, _) = shape.extremes(-FULL, FULL)
        bottom = min((low, high), key=lambda x: shape.value(x))
        return turn.amount, Mark(
            "valley", (_point(flown, bottom),), f"a V, lowest at {_at(flown, bottom)}{_if(curve, kind)}"
        )
    start, end = turn.x_from, turn.x_to
    note = (
        f"turns back by {decimal(turn.amount)} points, from {_at(flown, start)} to {_at(flown, end)}{_if(curve, kind)}"
    )
    between = [start + (end - start) * n / PART for n in range(PART + 1)]
    places = (_point(flown, start), _point(flown, end))
    return turn.amount, Mark("dip", places, note, along=tuple(_point(flown, x) for x in between))


def _beyond(flown: Flown, curve: Curve, kind: str, way: int) -> Found:
    """How far smoothing goes above the highest point, or below the lowest."""
    heights = [y for _, y in curve.points]
    x, y = flown.shape.extremes(-FULL, FULL)[way > 0]
    end = max(heights) if way > 0 else min(heights)
    amount = way * (y - end)
    if amount <= LEAST:
        return NOTHING
    side = "above its highest" if way > 0 else "below its lowest"
    note = f"smoothing goes {decimal(amount)} points {side} point: {_at(flown, x)}{_if(curve, kind)}"
    level = limited(flown.channel, unlimited(flown.channel, flown.constant + end))
    return amount, Mark("overshoot", (_point(flown, x),), note, level)


def _if(curve: Curve, kind: str) -> str:
    return f", if it is smoothed as {kind}" if curve.smoothing == "unknown" else ""


def _point(flown: Flown, at: Fraction) -> Point:
    return at, flown.output(at)


def _at(flown: Flown, at: Fraction) -> str:
    """`+22.66 % (61.33 of 100) with the stick at +14.4 %`."""
    output = flown.output(at)
    motor = f" ({of_hundred(round(output, 2))})" if flown.channel.drives == "motor" else ""
    return f"{percent(round(output, 2))}{motor} with the stick at {percent(round(at, 1))}"
