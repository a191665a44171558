"""Curves as they are flown: over the stick range that rate and expo give them, in the modes that can be flown."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from itertools import pairwise, product

from setuplint.book.asking import Asking, both_scales, percent, plain
from setuplint.checks.corners import mode_is
from setuplint.checks.spans import flying_stick, is_flown_at, read_spans
from setuplint.curves import bends
from setuplint.curves.flown import Span
from setuplint.curves.shape import Extreme, Point, Shape
from setuplint.dataclass import dataclass, replace
from setuplint.findings import Edit, Finding, Place
from setuplint.plain.channel_values import output
from setuplint.setup import formulas as f
from setuplint.setup.model import ZERO, BySwitch, Channel, Curve, Line, Mode, Path, Term
from setuplint.setup.predicates import reason_no_channel, runs_at
from setuplint.setup.smoothings import possible

FULL = Fraction(100)
UNCALLED = f.both(*(f.Not(f.Predicate(f"{intent} called")) for intent in ("hold", "stop", "rescue")))


@dataclass(frozen=True, slots=True)
class CurveUse:
    """A stick's or knob's term as a channel reads it in one mode: with this curve (None: straight) and smoothing."""

    channel: Channel
    mode: Mode | None
    line: Line
    term: Term
    curve: Curve | None
    smoothing: str
    shape: Shape
    path: Path  # the key that gives the channel this curve
    free: f.Formula  # what else holds

    def spans(self, ask: Asking) -> tuple[Span, ...]:
        """What of the stick's travel some state flies so."""
        given = f.both(mode_is(ask, self.mode.name if self.mode else None), self.free)
        return read_spans(ask, self.channel, self.term, given)

    def flying_stick(self, ask: Asking) -> str | None:
        """The stick or knob that flies the line."""
        return flying_stick(ask.setup, (str(term.source) for term in self.line.terms or () if term.kind == "stick"))

    @property
    def stick(self) -> str:
        return str(self.term.source)

    def shown(self, value: Fraction) -> str:
        """What the curve gives; of a motor on both scales, where it is what the motor gets."""
        value = round(value, 2)
        return both_scales(value) if self.channel.drives == "motor" and not self.channel.reversed else percent(value)

    @property
    def unknown(self) -> bool:
        return self.curve is not None and self.curve.smoothing == "unknown"

    @property
    def smoothed(self) -> str:
        return f"if it is smoothed as {self.smoothing}" if self.unknown else f"smoothed as {self.smoothing}"


# -- what is flown


def flown_modes(ask: Asking, given: f.Formula = f.TRUE) -> Iterator[Mode | None]:
    """The modes that some state flies while `given` holds; None where one has no mode. Where it is not known that is noted."""
    ask.unread("modes")
    modes = ask.setup.modes
    yield from (mode for mode in modes.values() if ask.is_flown(mode.name, given))
    if not modes or ask.is_flown(None, given):
        yield None


def curve_uses(
    ask: Asking, channels: Iterable[Channel], modes: Iterable[Mode | None], free: f.Formula = f.TRUE
) -> Iterator[CurveUse]:
    """Every use that the channels make of a stick or knob in these modes while `free` holds, under each smoothing that may
    be."""
    for channel, mode in product(channels, tuple(modes)):
        line = channel.line(mode.name if mode else None)
        if line.terms is None:
            ask.unread_line(channel)
        for number, term in enumerate(line.terms or ()):
            if term.kind != "stick":
                continue
            curve = ask.setup.curves[term.curve] if term.curve is not None else None
            smoothing = "none" if curve is None else curve.smoothing
            path = key_path(ask, channel, mode, number, "curve")
            for kind in possible(smoothing):
                for rate, expo in product(setting_values(term.rate), setting_values(term.expo)):
                    shape = Shape.of(curve.points if curve else None, kind, rate, expo)
                    yield CurveUse(channel, mode, line, term, curve, kind, shape, path, free)


def bent_uses(ask: Asking, channels: Iterable[Channel]) -> Iterator[CurveUse]:
    """The uses in the modes that are flown, of the channels with a curve, or with what may be one and cannot be read."""
    may_give = ask.may_give("curve")
    found = [c for c in channels if c.name in may_give and (ask.unread_line(c) or any(term.curve for term in c.terms))]
    return curve_uses(ask, found, flown_modes(ask) if found else ())


def setting_values(value: Fraction | BySwitch) -> list[Fraction]:
    return list(dict.fromkeys(value.at.values())) if isinstance(value, BySwitch) else [value]


def key_path(ask: Asking, channel: Channel, mode: Mode | None, place: int, key: str) -> Path:
    """Where the file gives a key of this term in this mode; else the channel."""
    ways = [("channels", channel.name, "in", mode.name)] if mode else []
    within: Path = ("mix", place - 1, key) if place else (key,)
    for way in (*ways, ("channels", channel.name)):
        if (*way, *within) in ask.setup.declared:
            return (*way, *within)
        if place and (*way, "mix") in ask.setup.declared:
            return (*way, *within)
    return ("channels", channel.name)


def lifts_craft(ask: Asking) -> list[Channel]:
    """The channels that move the motor or the collective; one that is missing, or cannot be read, is noted."""
    for drives in ["motor", "collective"] if ask.setup.craft.rotor == "collective" else ["motor"]:
        found = ask.driving(drives)
        unread = [c for c in found if ask.unread_line(c)]
        if not unread and not any(c.described for c in found):
            ask.not_judged(reason_no_channel(ask.setup, drives))
    return ask.setup.driving("motor", "collective")


def used_by(use: CurveUse) -> Place:
    where = f" in mode {use.mode.name}" if use.mode else ""
    return Place(use.path, f"{use.channel.name} uses it{where}")


def stick_words(x: Fraction) -> str:
    return f"{plain(round(x, 1)):+g} %" if round(x, 1) else "the middle"


def point_words(amount: Fraction) -> str:
    if amount < Fraction(1, 2000):
        return "a hair"
    shown = f"{plain(round(amount, 2 if amount >= 1 else 3)):g}"
    return f"{shown} point{'' if shown == '1' else 's'}"


# -- beyond the points


def curve_overshoot(ask: Asking) -> Iterator[Finding]:
    """Smoothing takes a curve beyond its points' range or full travel, or stops the motor between two points."""
    told: set[str] = set()
    found: dict[str, tuple[Fraction, CurveUse, str]] = {}
    for use in bent_uses(ask, ask.channels):
        if use.curve is None or use.smoothing in ("none", "monotone") or use.curve.name in told:
            continue  # monotone smoothing stays between neighbouring points
        name, spans = use.curve.name, use.spans(ask)
        stop = stops_between(ask, use, spans)
        if stop:
            told.add(name)
            found[name] = ZERO, use, stop
            continue
        amount, words = overshoot_finding(ask, use, spans)
        if words and amount > found.get(name, (ZERO,))[0]:
            found[name] = amount, use, words
    for name, (_, use, words) in found.items():
        edit = None if use.unknown else Edit(("curves", name, "smoothing"), '"monotone"')
        yield ask.finding(
            name,
            f"curve {name}, {use.smoothed}, {words}",
            ("curves", name, "smoothing"),
            related=[used_by(use)],
            edit=edit,
        )


def overshoot_finding(ask: Asking, use: CurveUse, spans: tuple[Span, ...]) -> tuple[Fraction, str]:
    """How far it goes beyond its points where that is too far, and in words; nothing where it is not."""
    assert use.curve is not None
    heights = [y for _, y in use.curve.points]
    full = ask.limit("full")
    if not spans:
        return ZERO, ""
    ranges = [bends.range_over(use.shape, *span) for span in spans]
    x_low, low = min((least for least, _ in ranges), key=lambda place: place[1])
    x_high, high = max((greatest for _, greatest in ranges), key=lambda place: place[1])
    best = (ZERO, "")
    for x, y, end, sign, word in ((x_high, high, max(heights), 1, "above"), (x_low, low, min(heights), -1, "below")):
        amount = sign * (y - end)
        past = amount > 0 and sign * y > full >= sign * end
        if (amount > ask.limit("beyond-points") or past) and amount > best[0]:
            highest = "highest" if sign > 0 else "lowest"
            more = f" and past {percent(sign * full)}" if past else ""
            best = amount, (f"reaches {use.shown(y)} with the stick at {stick_words(x)}: {point_words(amount)} {word} its "
                            f"{highest} point{more}")  # fmt: skip
    return best


def stops_between(ask: Asking, use: CurveUse, spans: tuple[Span, ...]) -> str:
    """Words, where the motor stops between two neighbouring points that run it."""
    drives = ("channels", use.channel.name, "drives")
    if drives in ask.setup.broken:
        ask.missing(*drives)
    if use.channel.drives != "motor":
        return ""
    off, rest = ask.setup.craft.motor_off, others_at_rest(ask, use)
    for w0, w1, ends in between_points(use, spans):
        w, y = min(ends, key=lambda place: output(use.channel, rest + place[1]))
        given = output(use.channel, rest + y)
        runs = [runs_at(ask.setup, output(use.channel, rest + height), off) for height in (w0[1], w1[1])]
        stops = runs_at(ask.setup, given, off)
        if stops is False and all(runs):
            x = use.shape.place(w) if -FULL < w < FULL else w
            where = "where none runs" if off is None else f"and motor-off is {both_scales(off)}"
            return (f"stops the motor between two points that run it: {use.channel.name} falls to {both_scales(round(given, 2))} "
                    f"with the stick at {stick_words(x)}, {where}")  # fmt: skip
        if not stops and False not in runs:
            ask.missing("craft", "motor-off")
    return ""


def between_points(use: CurveUse, spans: tuple[Span, ...]) -> Iterator[tuple[Point, Point, tuple[Extreme, Extreme]]]:
    """Two neighbouring points of a curve, and its least and greatest between them, as far as its stick goes there."""
    assert use.curve is not None
    for span in spans:
        reached = sorted(Fraction(*use.shape.bent(x.numerator, x.denominator)) for x in span)
        for one, two in pairwise(use.curve.points):
            lo, hi = max(one[0], reached[0]), min(two[0], reached[1])
            if lo < hi:
                yield one, two, bends.range_over(use.shape.curve, lo, hi)


def others_at_rest(ask: Asking, use: CurveUse) -> Fraction:
    """What the line's other terms add with their controls at rest."""
    total = ZERO
    for term in use.line.terms or ():
        if term is use.term:
            continue
        if isinstance(term.source, Fraction):
            total += term.source
        elif term.kind == "switch":
            total += term.values[ask.setup.switches[term.source].positions[0]]
        else:
            curve = ask.setup.curves[term.curve] if term.curve is not None else None
            kind = "none" if curve is None else curve.smoothing
            shape = Shape.of(curve.points if curve else None, possible(kind)[0],
                             setting_values(term.rate)[0], setting_values(term.expo)[0])  # fmt: skip
            total += shape.value(ask.setup.sticks[term.source].rest)
    return total


# -- short of the ends


def curve_short_of_full(ask: Asking) -> Iterator[Finding]:
    """Fixed pitch: the motor's curve, in a mode that is not aerobatic, nothing called, ends short or starts where the craft
    cannot stand: above motor-off; an engine's, whose idle is right under the clutch, above rotor-free.

    Travel and limits that make up for the curve count, those that cut it do not: that is no fault of the curve.
    """
    if ask.setup.craft.rotor != "fixed" or ask.unread("craft", "power"):
        return
    motors = [c for c in lifts_craft(ask) if c.drives == "motor"]
    modes = [m for m in flown_modes(ask, UNCALLED) if m is None or not m.aerobatic]
    told: set[tuple[bool, str]] = set()
    for use in curve_uses(ask, motors, modes, UNCALLED):
        subject = use.channel.name if use.curve is None else use.curve.name
        cause = use.curve is None, subject
        if cause in told or use.stick != use.flying_stick(ask):
            continue
        spans = use.spans(ask)
        words = short_ends(ask, use, spans)
        if words:
            told.add(cause)
            edit = to_the_ends(ask, use, spans)
            place: Path = use.path if use.curve is None else ("curves", subject, "points")
            what = f"curve {subject}" if use.curve else f"the {use.stick} on {subject}, without a curve,"
            related = [used_by(use)] if use.curve else []
            where = place if edit is None else edit.path
            yield ask.finding(subject, f"{what} {' and '.join(words)}", where, related=related, edit=edit)


def short_ends(ask: Asking, use: CurveUse, spans: tuple[Span, ...]) -> list[str]:
    full, (key, stands) = ask.limit("full"), ask.setup.standing_limit
    rest = others_at_rest(ask, use)
    turned = -1 if use.channel.reversed else 1

    def ends(x: Fraction) -> tuple[Fraction, Fraction]:
        """By the curve alone, and as the receiver puts it out."""
        demand = use.shape.value(x) + rest
        return turned * demand, output(use.channel, demand)

    bottom, top = ends(-FULL), ends(FULL)
    runs = [runs_at(ask.setup, value, stands) for value in bottom] if is_flown_at(spans, -FULL) else [False]
    words = []
    if all(runs):
        above = "where a motor surely runs" if stands is None else f"above {key} ({both_scales(stands)})"
        words.append(f"starts at {both_scales(bottom[0])} at low stick, {above}")
    elif False not in runs:
        ask.missing("craft", key)
    if max(top) < full and is_flown_at(spans, FULL):
        words.append(f"ends at {both_scales(top[0])} at full stick, short of {both_scales(full)}")
    return words


def to_the_ends(ask: Asking, use: CurveUse, spans: tuple[Span, ...]) -> Edit | None:
    """The same points, but for an end that is short; else the whole rate. None where neither mends it by itself."""
    for points, rate, edit in (*full_points(ask, use), *full_rate(ask, use)):
        shape = Shape.of(points, use.smoothing, rate, use.shape.expo)
        if not short_ends(ask, replace(use, shape=shape), spans):
            return edit
    return None


Remedy = tuple[Sequence[Point] | None, Fraction, Edit]  # the points and the rate with it


def full_points(ask: Asking, use: CurveUse) -> Iterator[Remedy]:
    """A short end at full travel; an engine's lower one where its clutch lets go, so that it idles on."""
    full, (key, stands) = ask.limit("full"), ask.setup.standing_limit
    if use.curve is None or use.channel.reversed:
        return
    (x, y), *middle, (x2, y2) = use.curve.points
    if (x, x2) != (-FULL, FULL):
        return
    low = stands if stands is not None and key == "rotor-free" else -FULL
    starts = (x, low if runs_at(ask.setup, y, stands) else y)
    points = [starts, *middle, (x2, FULL if y2 < full else y2)]
    pairs = ", ".join(f"[{plain(x):g}, {plain(y):g}]" for x, y in points)
    if tuple(points) != use.curve.points:
        yield points, use.shape.rate, Edit(("curves", use.curve.name, "points"), f"[{pairs}]")


def full_rate(ask: Asking, use: CurveUse) -> Iterator[Remedy]:
    if not isinstance(use.term.rate, BySwitch) and 0 < use.term.rate < FULL:
        place = next(n for n, term in enumerate(use.line.terms or ()) if term is use.term)
        points = use.curve.points if use.curve else None
        yield points, FULL, Edit(key_path(ask, use.channel, use.mode, place, "rate"), f"{plain(FULL):g}")
