"""What happens when the link goes, and when telemetry falls silent."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from setuplint.formats.control_words import and_joined
from setuplint.formats.numbers import percent
from setuplint.notes.asking import Asker, Note, Open, ends_text, written
from setuplint.notes.hearing import sound_words
from setuplint.setup.model import Bound, Channel

LINK, SILENCE = "link", "silence"
RADIO = ("link-quality", "signal-strength")


def link_notes(ask: Asker) -> Iterator[Note]:
    """What the receiver puts out by itself."""
    setup = ask.setup
    if not setup.failsafe:
        yield ask.note(LINK, "what the craft does when the link goes is not described: the file has no failsafe.")
        return
    for channel in setup.driving("motor"):
        try:
            yield ask.note(LINK, f"when the link goes, {_motor_without_link(ask, channel)}.")
        except Open as why:
            yield ask.open_note(LINK, f"what {channel.name} does when the link goes", why)
    others = [_place_words(ask, channel) for channel in setup.channels.values() if channel.drives != "motor"]
    taught = [words for words in others if words]
    if taught:
        yield ask.note(LINK, f"the receiver then puts {and_joined(taught)}.")
    untaught = [c.name for c in setup.channels.values() if c.name not in setup.failsafe]
    if untaught:
        yield ask.note(LINK, f"what then becomes of {and_joined(untaught)} is not described.")


def _motor_without_link(ask: Asker, channel: Channel) -> str:
    entry = (ask.setup.failsafe or {}).get(channel.name)
    if entry is None:
        return f"what becomes of {channel.name} is not described"
    if isinstance(entry, Fraction):
        return f"{channel.name} goes to {ask.motor(entry)}{_meaning(ask, entry)}"
    if entry == "keep":
        most = ask.ends(channel.name, "not hold called")[1]
        return f"{channel.name} stays as it was, which can be {ask.motor(most)}"
    return f"{channel.name} " + ("has no pulses" if entry == "none" else "is the stabiliser's")


def _meaning(ask: Asker, entry: Fraction) -> str:
    """Whether that stops the motor, by what was measured."""
    craft = ask.setup.craft
    what = "engine" if ask.setup.is_engine else "motor"
    if craft.motor_off is not None and entry <= craft.motor_off:
        return f": the {what} stops"
    if craft.rotor_free is not None and entry <= craft.rotor_free:
        return ": the engine idles, and the rotor runs free"
    if craft.motor_off is not None:
        return ": the rotor is driven on"
    return ": whether that stops it is not known, for motor-off is not given"


def _place_words(ask: Asker, channel: Channel) -> str:
    entry = (ask.setup.failsafe or {}).get(channel.name)
    if entry is None:
        return ""
    if isinstance(entry, Fraction):
        return f"{channel.name} at {percent(entry)}{_levelled(ask, channel.name, entry)}"
    words = {"keep": "where it was", "none": "on no pulses", "unit": "into the stabiliser's hands"}
    return f"{channel.name} {words[entry]}"


def _levelled(ask: Asker, channel: str, entry: Fraction) -> str:
    level = ask.setup.intent.level
    if level is None or level.channel != channel:
        return ""
    return " (which levels the craft)" if _meets(level, entry) else " (which does not level the craft)"


def _meets(bound: Bound, output: Fraction) -> bool:
    if bound.value is not None and abs(output - bound.value) > 1:
        return False
    return (bound.at_least is None or output >= bound.at_least) and (bound.at_most is None or output <= bound.at_most)


def silence_notes(ask: Asker) -> Iterator[Note]:
    """All telemetry is lost, and the link up is not."""
    setup = ask.setup
    if not setup.sensors:
        return
    lost = " and ".join(f"{sensor} is lost" for sensor in setup.sensors)
    try:
        heard = [
            sound_words(alarm)
            for alarm in setup.alarms.values()
            if alarm.audible and ask.never(lost, f"not {written(alarm.when)}")
        ]
        what = f"this is heard: {'; '.join(heard)}" if heard else "nothing is sure to be heard"
        yield ask.note(SILENCE, f"when all telemetry falls silent, {what}.")
    except Open as why:
        yield ask.open_note(SILENCE, "what is heard when telemetry falls silent", why)
    hanging = [channel for channel in setup.channels.values() if ask.hangs_on_sensors(channel.name)]
    if not hanging:
        yield ask.note(SILENCE, "no output hangs on telemetry: the craft goes on as the sticks and switches say.")
    for channel in hanging:
        try:
            yield _in_silence(ask, channel, lost)
        except Open as why:
            yield ask.open_note(SILENCE, f"what {channel.name} does when telemetry falls silent", why)


def _in_silence(ask: Asker, channel: Channel, lost: str) -> Note:
    shown = ask.motor if channel.drives == "motor" else percent
    silent, before = ask.ends(channel.name, lost, "not hold called"), ask.ends(channel.name, "not hold called")
    text = f"what {channel.name} gives hangs on telemetry: without it, {ends_text(silent, shown)} with the hold off"
    return ask.note(SILENCE, f"{text}, of {ends_text(before, shown)} in all.")
