"""What the receiver puts out when the link is gone. Numbers are outputs: after reversal, travel and sub-trim."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from fractions import Fraction

from setuplint.book.asking import Asking, both_scales, percent, plain
from setuplint.checks.aloft import throttle_ways
from setuplint.checks.corners import mode_is
from setuplint.findings import LINK_GONE, Edit, Finding, Place
from setuplint.setup import formulas as f
from setuplint.setup.model import Bound, Channel, Path
from setuplint.setup.predicates import no_rotor_free, runs_at

MOTOR = ("motor",)
OTHERS = ("collective", "aileron", "elevator", "rudder", "stabiliser")
FULL = Fraction(100)
Entry = Fraction | str | None


def entry_value(ask: Asking, channel: str) -> Entry:
    return (ask.setup.failsafe or {}).get(channel)


def is_readable(ask: Asking, channel: str) -> bool:
    """Whether what the file says of a channel's failsafe can be read; else it is noted."""
    return not (ask.unread("failsafe") or ask.unread("failsafe", channel))


def channel_entries(ask: Asking, drives: str) -> Iterator[tuple[Channel, Fraction | str]]:
    """The channels that drive something and have a readable failsafe; what may drive it too is noted."""
    ask.unread("channels")
    for channel in ask.unread_drives:
        if entry_value(ask, channel.name) is not None:
            ask.missing("channels", channel.name, "drives")
    for channel in ask.setup.driving(drives):
        value = entry_value(ask, channel.name)
        if is_readable(ask, channel.name) and value is not None:
            yield channel, value


def entry_path(channel: str) -> Path:
    return ("failsafe", channel)


def channels_without(ask: Asking, drives: Collection[str]) -> list[Channel]:
    """The channels of these kinds that say what they read, be it not to be understood, and have no failsafe."""
    found = []
    for channel in ask.setup.driving(*drives):
        if entry_value(ask, channel.name) is None and is_readable(ask, channel.name):
            if channel.described or ask.setup.unread_lines(channel.name):
                found.append(channel)
            else:
                ask.unread("channels", channel.name)
    return found


def failsafe_motor_missing(ask: Asking) -> Iterator[Finding]:
    """A described motor has no entry; without `[failsafe]` one finding names all."""
    yield from missing_findings(ask, MOTOR)


def failsafe_missing(ask: Asking) -> Iterator[Finding]:
    """Another described channel that matters has no entry; without `[failsafe]` one finding names all."""
    yield from missing_findings(ask, OTHERS)


def missing_findings(ask: Asking, drives: Collection[str]) -> Iterator[Finding]:
    found = channels_without(ask, drives)
    ask.unread("channels")
    for channel in ask.unread_drives:
        if entry_value(ask, channel.name) is None and is_readable(ask, channel.name):
            ask.missing("channels", channel.name, "drives")
    if ask.setup.failsafe is None and found:
        do = "does" if len(found) == 1 else "do"
        names = ", ".join(c.name if c.name == c.drives else f"{c.name} ({c.drives})" for c in found)
        yield ask.finding(
            "failsafe",
            f"there is no [failsafe]: what {names} {do} when the link is gone is not known",
            Place(("failsafe",) if ("failsafe",) in ask.setup.declared else ("channels", found[0].name)),
            related=[Place(("channels", c.name), "has no failsafe") for c in found[1:]],
        )
        return
    for channel in found:
        yield ask.finding(
            channel.name,
            f"channel {channel.name} drives the {channel.drives} and has no failsafe: what it does when the link is "
            "gone is not known",
            Place(("channels", channel.name)),
            related=[Place(("failsafe",), "the others have theirs here")],
        )


def failsafe_runs_motor(ask: Asking) -> Iterator[Finding]:
    """The motor's is "keep", or a number above motor-off; an engine's above rotor-free, where its idle may be."""
    key, limit = ask.setup.standing_limit
    for channel, value in channel_entries(ask, "motor"):
        if value == "keep":
            message = f"with the link gone {channel.name} keeps whatever throttle there was: the craft flies away"
        elif isinstance(value, str):
            continue
        else:
            runs = runs_at(ask.setup, value, limit)
            if runs is None:
                ask.missing("craft", key, subject=channel.name)
            if not runs:
                if runs_at(ask.setup, value, ask.setup.craft.motor_off) is not False:
                    ask.unread("craft", "power", subject=channel.name)  # an engine may idle there, a motor must not
                continue
            above = f"above {key} ({percent(limit)})" if limit is not None else "where any motor runs"
            then = "drives the rotor" if ask.setup.is_engine else "starts the motor"
            message = (
                f"with the link gone the receiver puts {channel.name} at {both_scales(value)}, {above}: switching the "
                f"transmitter off {then}, throttle hold or not"
            )
        stopped = None if limit is None else toml_number(min(-FULL, limit))
        yield ask.finding(
            channel.name,
            message,
            entry_path(channel.name),
            related=[Place(("craft", key), LIMITS[key])] if limit is not None else [],
            outputs={channel.name: value} if isinstance(value, Fraction) else None,
            then=LINK_GONE if isinstance(value, Fraction) else "",
            edit=Edit(entry_path(channel.name), stopped) if stopped else None,
        )


LIMITS = {"motor-off": "the motor is stopped at or below", "rotor-free": "the rotor is not driven at or below"}


def failsafe_not_level(ask: Asking) -> Iterator[Finding]:
    """A level intent, and the level channel's is neither levelling nor "unit"."""
    level = ask.setup.intent.level
    if level is None:
        ask.unread("intent", "level")
        return
    value = entry_value(ask, level.channel)
    if (
        value == "unit"
        or not is_readable(ask, level.channel)
        or (isinstance(value, Fraction) and is_levelling(level, value))
    ):
        return
    if value is None:
        if not any(
            channel.name == level.channel for channel in channels_without(ask, (*MOTOR, *OTHERS))
        ):  # else failsafe-missing speaks
            ask.missing("failsafe", level.channel)
        return
    puts = f"puts {level.channel} at {percent(value)}" if isinstance(value, Fraction) else KEPT[value]
    yield ask.finding(
        level.channel,
        f"with the link gone the receiver {puts.format(level.channel)}, and the craft is level only {bound_words(level)}",
        entry_path(level.channel),
        related=[Place(("intent", "level"), "what levels the craft")],
        outputs={level.channel: value} if isinstance(value, Fraction) else None,
        then=LINK_GONE if isinstance(value, Fraction) else "",
        edit=Edit(entry_path(level.channel), toml_number(levelling_value(level))),
    )


KEPT = {"keep": "keeps {} where it was", "none": "gives {} no pulses"}


def is_levelling(level: Bound, value: Fraction) -> bool:
    if level.value is not None:
        return abs(value - level.value) <= 1
    over = level.at_least is None or value >= level.at_least
    return over and (level.at_most is None or value <= level.at_most)


def levelling_value(level: Bound) -> Fraction:
    """An output that levels: the end of the travel where only one side is asked for."""
    if level.value is not None:
        return level.value
    if level.at_least is not None:
        return max(level.at_least, FULL) if level.at_most is None else level.at_least
    return min(level.at_most if level.at_most is not None else -FULL, -FULL)


def bound_words(level: Bound) -> str:
    """At +80 % or more, between -60 % and -50 %, at 0 %."""
    if level.value is not None:
        return f"at {percent(level.value)}"
    if level.at_least is not None and level.at_most is not None:
        return f"between {percent(level.at_least)} and {percent(level.at_most)}"
    if level.at_least is not None:
        return f"at {percent(level.at_least)} or more"
    return f"at {percent(level.at_most or Fraction(0))} or less"


def failsafe_wastes_rotor(ask: Asking) -> Iterator[Finding]:
    """The motor's does not drive the rotor, and the collective's brakes it, either way, or is "keep"."""
    most, least = ask.limit("collective"), ask.limit("negative")
    high = [
        (c, v, words) for c, v in channel_entries(ask, "collective") if (words := braking_words(ask, c, v, least, most))
    ]
    if not high:
        return
    motors = [(channel, value) for channel, value in channel_entries(ask, "motor") if isinstance(value, Fraction)]
    if not motors:
        return
    driven = [(channel, runs_at(ask.setup, value, ask.setup.craft.rotor_free)) for channel, value in motors]
    if any(drives is None for _, drives in driven):
        ask.not_judged(no_rotor_free(ask.setup))
        return
    stopped = [channel for channel, drives in driven if not drives]
    if len(stopped) < len(ask.motors):
        return
    for channel, value, words in high:
        yield ask.finding(
            channel.name,
            f"with the link gone nothing drives the rotor and {channel.name} {words}: the blades brake it",
            entry_path(channel.name),
            related=[Place(entry_path(motor.name), "does not drive the rotor") for motor in stopped],
            outputs={c.name: v for c, v in [*motors, (channel, value)] if isinstance(v, Fraction)},
            then=LINK_GONE,
            edit=Edit(entry_path(channel.name), "0"),
        )


def braking_words(ask: Asking, channel: Channel, value: Fraction | str, least: Fraction, most: Fraction) -> str:
    """How a collective's failsafe brakes a rotor that nothing drives; empty where it does not, or not in every direction that
    the channel has."""
    if value == "keep":
        return "keeps whatever pitch there was"
    if not isinstance(value, Fraction):
        return ""
    pitches = {value * way for way in pitch_directions(ask, channel)}
    if any(least <= pitch <= most for pitch in pitches):
        return ""
    turned = " (this channel is the other way round)" if pitches == {-value} else ""
    beyond = f"over {percent(most)}" if max(pitches) > most else f"under {percent(least)}"
    return f"is at {percent(value)}, {beyond} of pitch{turned}"


def pitch_directions(ask: Asking, channel: Channel) -> set[int]:
    """Which ways its output goes as the throttle stick rises, in the modes that are flown: 1 up, -1 down; up where none does, and
    either where it cannot be read, which is noted."""
    if ask.unread_line(channel, channel.name):
        return {1, -1}
    called = f.either(f.Predicate("hold called"), f.Predicate("rescue called"))
    found = set()
    for mode in [*ask.setup.modes, None]:
        if not ask.proved_impossible(f.both(mode_is(ask, mode), f.Not(called))):
            found |= throttle_ways(ask, channel, mode)
    return found or {1}


def failsafe_untested(ask: Asking) -> Iterator[Finding]:
    """ "unit" or "none" on the motor: only the bench can prove it."""
    for channel, value in channel_entries(ask, "motor"):
        if value in ("unit", "none"):
            what = "leaves it to the stabiliser" if value == "unit" else "gives the speed controller no pulses"
            yield ask.finding(
                channel.name,
                f'with the link gone {channel.name} is "{value}", which {what}: whether the motor then stops, only the '
                "bench can show",
                entry_path(channel.name),
            )


def toml_number(value: Fraction) -> str:
    return str(plain(value))
