"""What a channel puts out in one state, exactly: terms, their sum, what is demanded, and the servo's settings (MEANING.md 5)."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction

from setuplint.fraction import fraction
from setuplint.plain.interpolation import expo, interpolate
from setuplint.plain.logic import Here
from setuplint.setup.model import ZERO, Channel, Line, Override, Term
from setuplint.setup.smoothings import possible

LEAST, MOST = fraction(-100), fraction(100)


def output(channel: Channel, demand: Fraction) -> Fraction:
    """What the receiver puts out for a demand, both in percent: reversed, scaled, trimmed, limited, rounded to 1e-6."""
    return round(unrounded_output(channel, demand), 6)


def unrounded_output(channel: Channel, demand: Fraction) -> Fraction:
    value = -demand if channel.reversed else demand
    value = value * (channel.down if value < 0 else channel.up) / 100 + channel.sub_trim
    return min(max(value, channel.low), channel.high)


def demanded(here: Here, channel: Channel, able: Sequence[Override | None]) -> Fraction | None:
    """In percent, None unless everyone who may decide demands the same."""
    values: set[Fraction | None] = set()
    for override in able:
        if override is not None and not override.limits:
            values.add(override.value)
            continue
        for mode in here.modes:
            values.add(within_limits(override, line_sum(here, channel.line(mode))))
    return values.pop() if len(values) == 1 else None


def within_limits(override: Override | None, demand: Fraction | None) -> Fraction | None:
    """A line's demand, kept between what an override lets through."""
    if override is None or demand is None:
        return demand
    if override.at_least is not None and demand < override.at_least:
        return override.at_least
    return override.at_most if override.at_most is not None and demand > override.at_most else demand


def line_sum(here: Here, line: Line) -> Fraction | None:
    if line.terms is None:
        return None
    return terms_sum(here, line.terms)


def terms_sum(here: Here, terms: Iterable[Term]) -> Fraction | None:
    """None where it is not known whether a pupil's stick is read."""
    values = [_term(here, term) for term in terms]
    known = [value for value in values if value is not None]
    return sum(known, ZERO) if len(known) == len(values) else None


def _term(here: Here, term: Term) -> Fraction | None:
    if isinstance(term.source, Fraction):
        return term.source
    if term.kind == "switch":
        return term.values[here.state.positions[term.source]]
    stick = stick_read(here, term)
    return None if stick is None else stick_term(here, term, stick, here.state.sticks[stick])


def stick_read(here: Here, term: Term) -> str | None:
    """The stick, or the pupil's place of it while that is lent; None where it is not known whether it is."""
    lent = False if term.lending is None else here.holds(term.lending.lent)
    if lent is None:
        return None
    return term.lending.stick if lent and term.lending is not None else str(term.source)


def stick_term(here: Here, term: Term, name: str, stick: Fraction) -> Fraction:
    x = (stick + here.state.trim.get(name, ZERO)) * here.amount(term.rate) / 100
    y = expo(min(max(x, LEAST), MOST), here.amount(term.expo))
    if term.curve is None:
        return y
    return interpolate(here.setup.curves[term.curve].points, _smoothing(here, term.curve), y)


def _smoothing(here: Here, curve: str) -> str:
    kind = here.setup.curves[curve].smoothing
    return here.state.smoothing.get(curve, possible(kind)[0]) if kind == "unknown" else kind
