"""The height that a rescue needs to stop a descent: arithmetic on estimates, told beside findings and on rules' pages."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from math import ceil

from setuplint.book.asking import Asking, both_scales
from setuplint.book.rotor import DESCENT, REACTION, height, lift
from setuplint.setup.model import Channel

RULES = ("rescue-incomplete", "rescue-slow", "rescue-too-strong", "rescue-too-weak")  # whose pages have the table
ASSUMED = (Fraction(3, 2), Fraction(2))  # lift over weight of a collective rotor: the file does not say it
FAR = 100  # metres: beyond that the number says nothing
HOVER = Fraction(16)  # of the worked table, as in the reference setup
RESCUES = tuple(map(Fraction, (16, 26, 32, 55, 90)))  # the hover, 10 and 16 points over it, a strong one, the most
SPEED = f"a descent of {float(DESCENT):g} m/s"
PILOT = "one second before the pilot acts (14 CFR 29.143(e) for full-size helicopters, by analogy)"
SQUARE = "rotor speed going with the output on the scale from 0 to 100, and lift with its square"

TABLE_HEAD = ("motor in the rescue", "lift/weight", "to stop", "and 1 s before")
TABLE_WORDS = f"""\
Metres lost until {SPEED} is stopped, rounded up: v t + v^2 / (2 (n - 1) g), n the lift over the weight, t {PILOT}. At \
fixed pitch n is the square of the motor's output over the hover's, {SQUARE}. What a collective rotor can lift is not in the \
file, so n is assumed. Worked out for a hover at {both_scales(HOVER)}. Arithmetic on estimates: advice."""


def height_words(ask: Asking, channel: Channel, output: Fraction | None, delay: Fraction = Fraction(0)) -> str:
    """What a rescue costs in height with this output of a motor or lifting channel, `delay` seconds late; empty where that
    cannot be said."""
    when = f"is stopped, {PILOT}{f' and {second_words(delay)}' if delay else ''} included"
    if ask.setup.craft.rotor == "collective":
        least, most = (metre_words(height(n, delay=REACTION + delay)) for n in (max(ASSUMED), min(ASSUMED)))
        return (
            f"Were it to lift {float(max(ASSUMED)):g} times the weight, about {least} would be lost until {SPEED} {when}; at "
            f"{float(min(ASSUMED)):g} times about {most}. What this rotor lifts is not in the file, so both are assumed."
        )
    ratio = over_weight(ask, channel, output)
    if ratio is None or output is None:
        return ""
    lifts = f"{both_scales(round(output, 2))} lifts {ratio_words(ratio)}, {SQUARE}"
    if ratio <= 1:
        return f"{lifts}: no height is enough to stop a descent."
    return f"About {metre_words(height(ratio, delay=REACTION + delay))} are lost until {SPEED} {when}: {lifts}."


def of_the_wait(delay: Fraction) -> str:
    """The height that a wait costs by itself."""
    return f"In {SPEED} {second_words(delay)} alone cost {float(round(DESCENT * delay, 1)):g} m."


def in_reserve(ask: Asking, channel: Channel, output: Fraction, enough: Fraction) -> str:
    """What more power than `enough` saves in height, at fixed pitch."""
    found = [over_weight(ask, channel, value) for value in (enough, output)]
    heights = [height(ratio, delay=REACTION) for ratio in found if ratio is not None]
    if len(heights) < 2 or heights[0] is None or heights[1] is None:
        return ""
    saved = round(heights[0] - heights[1], 1)
    return (
        f"At {both_scales(enough)} about {metre_words(heights[0])} are lost until {SPEED} is stopped, {PILOT} included; "
        f"{both_scales(round(output, 2))} saves {f'{float(saved):g} m' if saved else 'nothing'} of them, {SQUARE}."
    )


def over_weight(ask: Asking, channel: Channel, output: Fraction | None) -> Fraction | None:
    """Lift over weight where the channel is the motor of a fixed-pitch craft, and its hover is known."""
    hover = ask.hover_throttle
    if ask.setup.craft.rotor != "fixed" or channel.drives != "motor" or output is None or hover is None:
        return None
    return lift(output, hover)


def worked_rows() -> Iterator[tuple[str, str, str, str]]:
    """The rows of the table: a hover of +16 % at fixed pitch, and two assumptions for a collective rotor."""
    for output in RESCUES:
        over = lift(output, HOVER)
        assert over is not None
        yield both_scales(output), *table_row(over)
    for over in ASSUMED:
        yield "collective, assumed", *table_row(over)


def table_row(over: Fraction) -> tuple[str, str, str]:
    stop, late = (metre_words(height(over, delay=delay)) for delay in (Fraction(0), REACTION))
    return f"{float(round(over, 2)):g}", stop, late


def ratio_words(ratio: Fraction) -> str:
    """1.27 times the weight; 0.6 of the weight."""
    if ratio == 0:
        return "nothing"
    shown = f"{float(round(ratio, 2)):g}"
    if shown == "1":
        return "hardly more than the weight" if ratio > 1 else "no more than the weight"
    return f"{shown} times the weight" if ratio > 1 else f"{shown} of the weight"


def metre_words(value: Fraction | None) -> str:
    """Whole metres, rounded up."""
    if value is None:
        return "cannot"
    return f"over {FAR} m" if value > FAR else f"{ceil(value)} m"


def second_words(time: Fraction) -> str:
    return f"{float(round(time, 3)):g} s of delay"
