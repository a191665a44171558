"""Whether the hover that the file gives can be flown at all: the rules about hovering rest on it."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from setuplint.book import thin_air
from setuplint.book.asking import Asking, both_scales, percent
from setuplint.checks.corners import line_goes_on
from setuplint.checks.moves import MIDDLE, held_at, with_pupils
from setuplint.checks.spans import flying_stick
from setuplint.checks.travels import controls, in_flight
from setuplint.findings import Finding, Place
from setuplint.setup import formulas as f
from setuplint.setup.model import Channel, Path


def hover_out_of_reach(ask: Asking) -> Iterator[Finding]:
    """No mode that is flown and not aerobatic gives the hover's output: at any place of the motor's stick, or near the middle of
    the collective's."""
    craft = ask.setup.craft
    if craft.governed_above is None and not ask.broken("craft", "governed-above"):
        value = ask.hover_throttle
        if value is None and ask.motors:
            ask.no_hover_throttle()
        yield from unreached(ask, controls(ask, "motor"), ("craft", "hover-throttle"), value, Fraction(100))
    if craft.rotor == "collective":
        channels = controls(ask, "collective")
        if craft.hover_collective is None and channels:
            ask.missing("craft", "hover-collective")
        yield from unreached(
            ask, channels, ("craft", "hover-collective"), craft.hover_collective, ask.limit("off-centre")
        )


def unreached(
    ask: Asking, channels: list[Channel], key: Path, value: Fraction | None, around: Fraction
) -> Iterator[Finding]:
    """One finding, where none of the channels gives the value."""
    calm = [f.ModeIs(m.name) for m in ask.setup.modes.values() if not m.aerobatic]
    given = in_flight(ask, f.either(*calm) if ask.setup.modes else f.TRUE)
    if value is None or not channels or not ask.possible(given):
        return
    ways = [flown_near(ask, channel, around) for channel in channels]
    near = [given_value(ask, channel, value) for channel in channels]
    found = [f.both(given, way, hover) for way, hover in zip(ways, near, strict=True)]
    if not any(ask.possible(hover, channels[0].name) for hover in found) and all(map(ask.proved_impossible, found)):
        yield unreached_finding(ask, channels[0], key, value, f.both(given, ways[0]))


def flown_near(ask: Asking, channel: Channel, around: Fraction) -> f.Formula:
    """Its own line goes on, its stick is so near to the middle, the others that it reads are in the middle, knobs anywhere."""
    sticks = [stick for stick in channel.sticks if not ask.setup.sticks[stick].knob]
    own = flying_stick(ask.setup, sticks) or "throttle"
    near = [
        f.Compare(s, op, end)
        for s in with_pupils(ask.setup, {own: around})
        for op, end in ((">=", -around), ("<=", around))
    ]
    others = with_pupils(ask.setup, {s: MIDDLE for s in sticks if s != own})
    return f.both(line_goes_on(ask, channel.name), *near, held_at(others))


def given_value(ask: Asking, channel: Channel, value: Fraction) -> f.Formula:
    near = ask.limit("near")
    return f.both(f.OutputCompare(channel.name, ">=", value - near), f.OutputCompare(channel.name, "<=", value + near))


def unreached_finding(ask: Asking, channel: Channel, key: Path, value: Fraction, given: f.Formula) -> Finding:
    """With the output nearest to it, from below or from above."""
    words = both_scales if channel.drives == "motor" else percent
    reach = ask.decider.output_range(channel.name, given)
    ends = [(reach.least, reach.least_case), (reach.greatest, reach.greatest_case)]
    known = [(end, case) for end, case in ends if end is not None]
    near, case = min(known, key=lambda item: abs(item[0] - value), default=(None, None))
    shift = ask.shift if channel.drives == "motor" else None
    reckoned = f" ({shift.words})" if shift else ""
    outside = near is not None and (value < known[0][0] or value > known[-1][0])
    to = f"comes no nearer than {words(round(near, 2))}" if outside and near is not None else "leaves it out"
    return ask.finding(
        channel.name,
        f"{'.'.join(map(str, key))} is {words(value)}{reckoned}, and {channel.name} gives it nowhere: it {to} in the modes that "
        "are not aerobatic",
        key,
        case,
        related=[Place(("channels", channel.name), "what should give it"), *thin_air.places(shift)],
        channels=[channel.name],
    )
