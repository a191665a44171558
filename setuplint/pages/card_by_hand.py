"""The boxes of a card in which something is looked at or measured, not read off a list of channels."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from setuplint.bench.card_model import CardStep, Reading
from setuplint.formats.numbers import decimal, percent
from setuplint.pages.card_words import HOVERS, CardWords

BLADES = {"helicopter": "blades", "multirotor": "propellers"}
PREPARATIONS = {
    "ready": (
        "Motor leads out, or {blades} off; the craft held fast; no one in the plane of the {blades}.",
        "The transmitter is on the memory of {craft}, and every number of the sheet has been read back.",
    ),
    "starts": ("The receiver has no power.",),
    "receiver": ("A supply of its own for the receiver: the motor's leads stay out.",),
}
OBSERVATIONS = {
    "turns": (
        "Hold off; raise the throttle stick slowly until the motor just turns, and read its channel. Stick down, hold on.",
        "It must be above what the file gives as the stop. If it is not, the file's motor-off is wrong: measure again.",
    ),
    "cuts": ("Hold off, stick up a little until the motor turns, hold on: it stops at once. Stick down.",),
    "range": (
        "As the transmitter's manual says, hold on, the motor's leads out again: every channel answers all the way.",
    ),
    "hover": ("In a steady hover at full charge, read the {what} channel, and write it into the file: {subject}.",),
}


def preparations(words: CardWords, step: CardStep) -> Iterator[str]:
    """What to do before the box."""
    craft = words.setup.craft
    for text in PREPARATIONS.get(step.key, ()):
        yield text.format(blades=BLADES[craft.kind], craft=craft.name)
    if step.key == "receiver" and words.base is not None and words.base.state.readings:
        readings = (f"{name} {words.reading(name, value)}" for name, value in words.base.state.readings.items())
        yield f"The card assumes that the sensors read about: {', '.join(readings)}."


DRIVEN = {  # what a look at the craft shows of a control, by what its channel drives
    "steered": "What the {stick} stick moves goes at once, the way it asks for, as in its other boxes, and as far either way.",
    "collective": "The blades' pitch goes up with the stick, at once, as in every other mode.",
    "gyro-gain": "Turn the craft by hand: what the gyro moves goes against it, as in every other mode.",
    "stabiliser": "On the set-up screen of the craft's unit each stick moves one bar alone; at rest all stand in the middle.",
}


def controls_seen(words: CardWords, step: CardStep) -> Iterator[str]:
    """What to look at on the craft, where a control goes with its stick."""
    drives = {channel.drives for channel in words.setup.channels.values()}
    if step.key == "ends" and step.subject in drives:
        yield DRIVEN["steered"].format(stick=step.subject)
    if step.key == "mode":
        yield from (DRIVEN[kind] for kind in ("collective", "gyro-gain") if kind in drives)
    if step.key == "receiver" and words.setup.stabilised:
        yield DRIVEN["stabiliser"]


def observations(words: CardWords, step: CardStep) -> Iterator[str]:
    """What to look at in the box."""
    craft = words.setup.craft
    yield from controls_seen(words, step)
    for text in OBSERVATIONS.get(step.key, ()):
        yield text.format(what=HOVERS.get(step.subject), subject=step.subject)
    if step.key == "stop" and craft.motor_off is not None:
        yield f"{_file_value(words, craft.motor_off, 'The motor stays stopped at or below')}."
    if step.key == "cuts" and craft.soft_start:
        yield "From a stop it takes 2 s or more to full speed, as the file says: time one start."


def measurements(words: CardWords, step: CardStep) -> Iterator[tuple[str, str, str]]:
    """The places to write a number, each with what it is, what the file says, and what a record calls it."""
    craft = words.setup.craft
    if step.key == "turns":
        yield "last stopped at", _file_value(words, craft.motor_off, "the file's motor-off is"), "craft.motor-off"
    if step.key == "hover":
        value = craft.hover_throttle if step.subject == "hover-throttle" else craft.hover_collective
        yield HOVERS[step.subject], _file_value(words, value, "the file says"), f"craft.{step.subject}"


def _file_value(words: CardWords, value: Fraction | None, lead: str) -> str:
    if value is None:
        return "the file does not say"
    _, _, pulse = words.cell(Reading((value,)))
    return f"{lead} {percent(value)} ({decimal((value + 100) / 2)} of 100, {pulse})"
