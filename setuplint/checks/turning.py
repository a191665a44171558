"""Curves of the motor and the collective that turn back, as they are flown: reversal, travel and limits included."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from setuplint.book.asking import Asking, both_scales, percent, plain
from setuplint.checks.curve_shapes import (
    FULL,
    CurveUse,
    bent_uses,
    lifts_craft,
    others_at_rest,
    point_words,
    setting_values,
    stick_words,
    used_by,
)
from setuplint.curves import bends
from setuplint.curves.flown import Flown, Span
from setuplint.curves.servo import demand_for
from setuplint.curves.shape import Shape
from setuplint.dataclass import dataclass
from setuplint.findings import Edit, Finding, Place
from setuplint.setup.model import ZERO, Term
from setuplint.setup.smoothings import possible


@dataclass(frozen=True, slots=True)
class TurningUse:
    """How a use of a curve turns back, in what the receiver puts out."""

    use: CurveUse
    flown: Flown
    amount: Fraction  # points of output
    spans: tuple[Span, ...]  # what of its stick's travel is flown so
    at_rest: bool  # the other controls of its line are at rest

    def value(self, x: Fraction) -> str:
        value = round(self.flown.output(x), 2)
        return both_scales(value) if self.use.channel.drives == "motor" else percent(value)


def curve_not_monotonic(ask: Asking) -> Iterator[Finding]:
    """A curve for the motor or the collective, as flown, goes against the direction of its ends."""
    limit = ask.limit("turn")
    worst: dict[str, TurningUse] = {}
    for use in bent_uses(ask, lifts_craft(ask)):
        if use.curve is None or not bends.turns_against(use.shape).amount:
            continue  # what never turns back does not after a servo either
        spans = use.spans(ask)
        if not spans:
            continue
        turning = turning_use(ask, use, spans, limit)
        least = max(limit, worst[use.curve.name].amount if use.curve.name in worst else ZERO)
        if turning.amount > least and not right_valley(ask, turning):
            worst[use.curve.name] = turning
    for name, turning in worst.items():
        yield turning_finding(ask, name, turning, limit)


def turning_use(ask: Asking, use: CurveUse, spans: tuple[Span, ...], limit: Fraction) -> TurningUse:
    """With the other controls of its line at rest, if it turns back there; else where they let most of it through."""
    rest = others_at_rest(ask, use)
    flown = Flown(use.channel, rest, use.shape)
    amount = flown.turn_in(spans).amount
    least, greatest = others_between(ask, use)
    if amount > limit or least == greatest:
        return TurningUse(use, flown, amount, spans, at_rest=True)
    # How far it turns goes with what the others add in straight stretches, from one kink of the servo at a bend to the next.
    kinks = {d for end in (use.channel.low, use.channel.high) if (d := demand_for(use.channel, end)) is not None} | {
        ZERO
    }
    places = {kink - bend.value for kink in kinks for bend in use.shape.bends(-FULL, FULL)}
    others = sorted({least, greatest, *(min(max(place, least), greatest) for place in places)})
    flown = max((Flown(use.channel, other, use.shape) for other in others), key=lambda each: each.turn_in(spans).amount)
    return TurningUse(use, flown, flown.turn_in(spans).amount, spans, at_rest=False)


def others_between(ask: Asking, use: CurveUse) -> tuple[Fraction, Fraction]:
    """The least and the most that the line's other terms can add."""
    ends = [term_between(ask, term) for term in use.line.terms or () if term is not use.term]
    return sum((low for low, _ in ends), ZERO), sum((high for _, high in ends), ZERO)


def term_between(ask: Asking, term: Term) -> tuple[Fraction, Fraction]:
    if isinstance(term.source, Fraction):
        return term.source, term.source
    if term.kind == "switch":
        return min(term.values.values()), max(term.values.values())
    curve = ask.setup.curves[term.curve] if term.curve is not None else None
    heights = [
        y
        for kind in possible("none" if curve is None else curve.smoothing)
        for rate in setting_values(term.rate)
        for expo in setting_values(term.expo)
        for _, y in Shape.of(curve.points if curve else None, kind, rate, expo).extremes(-FULL, FULL)
    ]
    return min(heights), max(heights)


def right_valley(ask: Asking, turning: TurningUse) -> bool:
    """A V with one bottom, for the motor of a collective craft in an idle-up mode."""
    use = turning.use
    fits = use.channel.drives == "motor" and ask.setup.craft.rotor == "collective"
    return fits and use.mode is not None and use.mode.idle_up and turning.flown.is_valley


# -- saying


def turning_finding(ask: Asking, name: str, turning: TurningUse, limit: Fraction) -> Finding:
    use, flown, curve = turning.use, turning.flown, turning.use.curve
    assert curve is not None
    turn = flown.turn_in(turning.spans)
    falls = flown.output(turn.x_from) > flown.output(turn.x_to)
    bare = Flown(use.channel, flown.constant, Shape.of(curve.points, "none", use.shape.rate, use.shape.expo))
    by_points = bare.turn_in(turning.spans).amount > limit
    beside = "" if turning.at_rest else f" with {plain(round(flown.constant, 2)):+g} from the rest of its line"
    message = (
        f"curve {name} turns back: while the stick goes up from {stick_words(turn.x_from)} to {stick_words(turn.x_to)}, "
        f"{use.channel.name} {'falls' if falls else 'rises'} from {turning.value(turn.x_from)} to {turning.value(turn.x_to)}"
        f"{beside}, by {point_words(turn.amount)}, {'by its points' if by_points else 'only once it is ' + smoothing_words(use)}"
    )
    if use.channel.drives == "motor" and flown.is_valley:
        message += valley_words(ask, turning)
    edit = None
    if not by_points and not use.unknown:
        edit = Edit(("curves", name, "smoothing"), '"monotone"')
    place = ("curves", name, "points" if by_points else "smoothing")
    return ask.finding(name, message, Place(place), related=[used_by(use)], edit=edit)


def smoothing_words(use: CurveUse) -> str:
    return f"smoothed: under {use.smoothing}, which it may be" if use.unknown else f"smoothed ({use.smoothing})"


def valley_words(ask: Asking, turning: TurningUse) -> str:
    if ask.setup.craft.rotor == "fixed":
        return f"; it gives {turning.value(-FULL)} at low stick, and on a fixed-pitch craft power alone is lift"
    return f"; it gives {turning.value(-FULL)} at low stick, and a V belongs in an idle-up mode"
