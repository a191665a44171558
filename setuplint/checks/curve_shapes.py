"""Curves as they are flown: over the stick range that rate and expo give them, in the modes that can be flown."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction
from itertools import product

from setuplint.book.asking import Asking, both_scales, percent, plain
from setuplint.curves import bends
from setuplint.curves.shape import Shape
from setuplint.dataclass import dataclass
from setuplint.findings import Edit, Finding, Place
from setuplint.plain.channel_values import output
from setuplint.setup import formulas as f
from setuplint.setup.model import ZERO, BySwitch, Channel, Curve, Line, Mode, Path, Term
from setuplint.setup.predicates import reason_no_channel
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
    """The modes that some state flies while `given` holds; None where one has no mode."""
    modes = ask.setup.modes
    for mode in modes.values():
        if ask.may_be(ask.decider.find(f.both(f.ModeIs(mode.name), given)), mode.name):
            yield mode
    if not modes or ask.may_be(ask.decider.find(f.both(*(f.Not(f.ModeIs(name)) for name in modes), given))):
        yield None


def curve_uses(ask: Asking, channels: Iterable[Channel], modes: Iterable[Mode | None]) -> Iterator[CurveUse]:
    """Every use that the channels make of a stick or knob in these modes, under each smoothing that may be."""
    for channel, mode in product(channels, tuple(modes)):
        line = channel.line(mode.name if mode else None)
        if line.terms is None and ask.broken("channels", channel.name):
            ask.not_judged(f"channels.{channel.name} cannot be read")
        for number, term in enumerate(line.terms or ()):
            if term.kind != "stick":
                continue
            curve = ask.setup.curves[term.curve] if term.curve is not None else None
            smoothing = "none" if curve is None else curve.smoothing
            path = key_path(ask, channel, mode, number, "curve")
            for kind in possible(smoothing):
                for rate, expo in product(setting_values(term.rate), setting_values(term.expo)):
                    shape = Shape.of(curve.points if curve else None, kind, rate, expo)
                    yield CurveUse(channel, mode, line, term, curve, kind, shape, path)


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
    """The described channels that move the motor or the collective; a missing one is noted."""
    channels = [c for c in ask.setup.channels.values() if c.described]
    wanted = ["motor", "collective"] if ask.setup.craft.rotor == "collective" else ["motor"]
    for drives in wanted:
        broken = [c for c in ask.setup.driving(drives) if ask.unread("channels", c.name)]
        if not broken and not any(c.drives == drives for c in channels):
            ask.not_judged(reason_no_channel(ask.setup, drives))
    return [c for c in channels if c.drives in ("motor", "collective")]


def used_by(use: CurveUse) -> Place:
    where = f" in mode {use.mode.name}" if use.mode else ""
    return Place(use.path, f"{use.channel.name} uses it{where}")


def stick_words(x: Fraction) -> str:
    return f"{plain(round(x, 1)):+g} %" if round(x, 1) else "the middle"


def point_words(amount: Fraction) -> str:
    return f"{plain(round(amount, 2 if amount >= 1 else 3)):g} points" if amount >= Fraction(1, 2000) else "a hair"


# -- beyond the points


def curve_overshoot(ask: Asking) -> Iterator[Finding]:
    """Smoothing takes a curve beyond its points' range or full travel, or stops the motor between two points."""
    told: set[str] = set()
    found: dict[str, tuple[Fraction, CurveUse, str]] = {}
    channels = [c for c in ask.setup.channels.values() if c.described or ask.broken("channels", c.name)]
    for use in curve_uses(ask, channels, flown_modes(ask)):
        if use.curve is None or use.smoothing in ("none", "monotone") or use.curve.name in told:
            continue  # monotone smoothing stays between neighbouring points
        name = use.curve.name
        stop = stops_between(ask, use)
        if stop:
            told.add(name)
            found[name] = ZERO, use, stop
            continue
        amount, words = overshoot_finding(ask, use)
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


def overshoot_finding(ask: Asking, use: CurveUse) -> tuple[Fraction, str]:
    """How far it goes beyond its points where that is too far, and in words; nothing where it is not."""
    assert use.curve is not None
    heights = [y for _, y in use.curve.points]
    full = ask.limit("full")
    (x_low, low), (x_high, high) = bends.range_over(use.shape)
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


def stops_between(ask: Asking, use: CurveUse) -> str:
    """Words, where the motor stops between two neighbouring points that run it."""
    if use.channel.drives != "motor":
        return ""
    off = ask.setup.craft.motor_off
    if off is None:
        ask.missing("craft", "motor-off")
        return ""
    assert use.curve is not None
    rest = others_at_rest(ask, use)
    reached = sorted(Fraction(*use.shape.bent(x.numerator, x.denominator)) for x in (-FULL, FULL))
    for (w0, y0), (w1, y1) in zip(use.curve.points, use.curve.points[1:], strict=False):
        lo, hi = max(w0, reached[0]), min(w1, reached[1])
        if lo >= hi or min(output(use.channel, rest + y) for y in (y0, y1)) <= off:
            continue
        ends = bends.range_over(use.shape.curve, lo, hi)
        w, y = min(ends, key=lambda place: output(use.channel, rest + place[1]))
        given = output(use.channel, rest + y)
        if given <= off:
            x = use.shape.place(w) if -FULL < w < FULL else w
            shown = both_scales(round(given, 2))
            return (f"stops the motor between two points that run it: {use.channel.name} falls to {shown} with the stick at "
                    f"{stick_words(x)}, and motor-off is {both_scales(off)}")  # fmt: skip
    return ""


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
    key, stands = ask.setup.standing_limit
    if motors and stands is None:
        ask.missing("craft", key)
    told: set[str] = set()
    for use in curve_uses(ask, motors, modes):
        subject = use.channel.name if use.curve is None else use.curve.name
        if subject in told or use.term is not (use.line.terms or ())[0]:
            continue
        words = short_ends(ask, use)
        if words:
            told.add(subject)
            place: Path = use.path if use.curve is None else ("curves", subject, "points")
            what = f"curve {subject}" if use.curve else f"the throttle on {subject}, without a curve,"
            related = [used_by(use)] if use.curve else []
            edit = to_the_ends(ask, use) if use.curve else None
            yield ask.finding(subject, f"{what} {' and '.join(words)}", place, related=related, edit=edit)


def short_ends(ask: Asking, use: CurveUse) -> list[str]:
    full, (key, stands) = ask.limit("full"), ask.setup.standing_limit
    rest = others_at_rest(ask, use)
    turned = -1 if use.channel.reversed else 1

    def ends(x: Fraction) -> tuple[Fraction, Fraction]:
        """By the curve alone, and as the receiver puts it out."""
        demand = use.shape.value(x) + rest
        return turned * demand, output(use.channel, demand)

    bottom, top = ends(-FULL), ends(FULL)
    words = []
    if stands is not None and min(bottom) > stands:
        words.append(f"starts at {both_scales(bottom[0])} at low stick, above {key} ({both_scales(stands)})")
    if max(top) < full:
        words.append(f"ends at {both_scales(top[0])} at full stick, short of {both_scales(full)}")
    return words


def to_the_ends(ask: Asking, use: CurveUse) -> Edit | None:
    """The same points, but for an end that is short: that one at full travel; where an engine's clutch lets go, so that it
    idles on."""
    full, (key, stands) = ask.limit("full"), ask.setup.standing_limit
    assert use.curve is not None
    (x, y), *middle, (x2, y2) = use.curve.points
    if use.channel.reversed or (x, x2) != (-FULL, FULL):
        return None
    low = stands if stands is not None and key == "rotor-free" else -FULL
    ends = (x, low if stands is not None and y > stands else y), (x2, FULL if y2 < full else y2)
    pairs = ", ".join(f"[{plain(x):g}, {plain(y):g}]" for x, y in (ends[0], *middle, ends[1]))
    return Edit(("curves", use.curve.name, "points"), f"[{pairs}]")
