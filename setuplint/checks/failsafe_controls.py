"""What the controls do when the link is gone: numbers that were taught with the sticks held over, and places that are kept."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from setuplint.book.asking import Asking, percent, plain
from setuplint.checks.failsafe import channel_entries, entry_path, toml_number
from setuplint.checks.moves import MIDDLE, held_at, with_pupils
from setuplint.engine import ranges
from setuplint.engine.answers import FOUND
from setuplint.findings import LINK_GONE, Edit, Finding, Place
from setuplint.setup import formulas as f
from setuplint.setup.model import Channel
from setuplint.setup.predicates import runs_at

CYCLIC = ("aileron", "elevator", "rudder")  # also the names of their sticks


def failsafe_held_over(ask: Asking) -> Iterator[Finding]:
    """A number that the channel gives in no state with its own stick in the middle, by more than the limit."""
    most = ask.limit("off-centre")
    for stick in CYCLIC:
        for channel, value in channel_entries(ask, stick):
            if not isinstance(value, Fraction):
                continue
            near = [
                f.OutputCompare(channel.name, ">=", value - most),
                f.OutputCompare(channel.name, "<=", value + most),
            ]
            answer = ask.decider.find(f.both(middle(ask, stick), *near))
            ask.note(answer, channel.name)
            if answer.impossible:
                yield held_over(ask, channel, stick, value)


def held_over(ask: Asking, channel: Channel, stick: str, value: Fraction) -> Finding:
    verdict, least, most = ranges.bounds(ask.decider, channel.name, middle(ask, stick))
    gives = "what it gives"
    if verdict == FOUND and least is not None and most is not None:
        gives = f"the {percent(least)}" if least == most else f"the {percent(least)} to {percent(most)}"
    return ask.finding(
        channel.name,
        f"with the link gone the receiver puts {channel.name} at {percent(value)}, far from {gives} that belongs to "
        f"the {stick} stick in the middle: it was taught with the stick held over",
        entry_path(channel.name),
        related=[Place(("channels", channel.name), "what it gives")],
        outputs={channel.name: value},
        then=LINK_GONE,
        edit=middle_edit(ask, channel, stick),
    )


def failsafe_keeps_controls(ask: Asking) -> Iterator[Finding]:
    """The aileron, elevator, rudder or collective keeps its last place."""
    for drives in (*CYCLIC, "collective"):
        for channel, value in channel_entries(ask, drives):
            if value == "keep":
                yield ask.finding(
                    channel.name,
                    f"with the link gone {channel.name} keeps its last place: whatever the {drives} was doing goes on",
                    entry_path(channel.name),
                    edit=middle_edit(ask, channel, drives) if drives in CYCLIC else Edit(entry_path(channel.name), "0"),
                )


def failsafe_drops_gain(ask: Asking) -> Iterator[Finding]:
    """The gyro gain's number is near zero; not where the failsafe stops the motor of a fixed-pitch craft."""
    most = ask.limit("least")
    low = [(channel, value) for channel, value in channel_entries(ask, "gyro-gain")
           if isinstance(value, Fraction) and abs(value) <= most]  # fmt: skip
    for channel, value in low:
        if stops_fixed_pitch(ask):
            return
        gain = usual_gain(ask, channel, most)
        yield ask.finding(
            channel.name,
            f"with the link gone the receiver puts {channel.name}, the gyro's gain, at {percent(value)}: within "
            f"{plain(most):g} points of zero a gyro holds the tail weakly, or not at all",
            entry_path(channel.name),
            outputs={channel.name: value},
            then=LINK_GONE,
            edit=None if gain is None else Edit(entry_path(channel.name), toml_number(gain)),
        )


def usual_gain(ask: Asking, channel: Channel, most: Fraction) -> Fraction | None:
    """A gain that it gives, all else at rest, if it gives one that holds the tail."""
    held = f.either(f.OutputCompare(channel.name, ">", most), f.OutputCompare(channel.name, "<", -most))
    case = ask.decider.find(held).case
    return None if case is None else case.evaluation.outputs[channel.name]


def stops_fixed_pitch(ask: Asking) -> bool:
    """Whether it stops every motor of a fixed-pitch craft, which falls then, whatever its gyro does; where that is not known, it
    is noted, and counts as a stop."""
    if ask.setup.craft.rotor != "fixed" or not ask.motors:
        return False
    off, found = ask.setup.craft.motor_off, {c.name: value for c, value in channel_entries(ask, "motor")}
    runs = []
    for channel in ask.motors:
        value = found.get(channel.name)
        runs.append(runs_at(ask.setup, value, off) if isinstance(value, Fraction) else True)
    if True not in runs and None in runs:
        ask.missing("craft", "motor-off")
    return True not in runs


def middle(ask: Asking, stick: str) -> f.Formula:
    """The stick in the middle, the pupil's too."""
    return held_at(with_pupils(ask.setup, {stick: MIDDLE}))


def middle_edit(ask: Asking, channel: Channel, stick: str) -> Edit | None:
    """What the channel gives with its stick in the middle, all else at rest."""
    case = ask.decider.find(f.both(middle(ask, stick), f.OutputCompare(channel.name, ">=", Fraction(-1000)))).case
    value = None if case is None else case.evaluation.outputs[channel.name]
    return None if value is None else Edit(entry_path(channel.name), toml_number(value))
