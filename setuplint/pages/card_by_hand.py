"""The boxes of a card in which something is looked at or measured, not read off a list of channels."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from setuplint.bench.card_model import CardStep, Reading
from setuplint.formats.numbers import decimal, percent
from setuplint.pages.card_power import BLADES, ROTORS, power_of
from setuplint.pages.card_words import HOVERS, CardWords
from setuplint.plain.resting import rest_doubt
from setuplint.setup.formula_text import formula_text
from setuplint.setup.problems import capitalised

READ_BACK = (
    "The transmitter is on the memory of {craft}, every number of the sheet has been read back, and it is off again."
)
MOTOR, ENGINE = "motor", "engine"
OBSERVATIONS = {
    "leads": (
        "With the flight pack out and the transmitter off: the motor's leads back in, the {rotors} off, the craft held fast.",
        "The receiver has what it flies with: a supply for the bench is out again.",
    ),
    "connected": ("Hold on, stick down: nothing turns, however long you wait.",),
    "turns": (
        "Hold off; raise the throttle stick slowly until the motor just turns, then lower it until it just stands still, and "
        "read its channel there. Stick down, hold on.",
        "It must not be below what the file gives as the stop. If it is, the file's motor-off is wrong: measure again.",
    ),
    "cuts": ("Hold off, stick up a little until the motor turns, hold on: it stops at once. Stick down.",),
    "stops": (
        "Hold off, stick up a little until the motor turns, stop it by the switch of the stop: it stops at once.",
    ),
    "range": ("Hold on, stick down: at the manual's distance every channel still answers all the way.",),
    "blades": (
        "With the flight pack out and the transmitter off: the {rotors} on, and tight as their maker says. Then hold on, stick "
        "down, the transmitter on, everyone clear, the flight pack in.",
        "After the hover: hold on, wait until everything stands still, the flight pack out, then the transmitter off.",
    ),
    "hover": (
        "Not alone: the pilot's eyes stay on the craft, and a helper behind the pilot reads the {what} channel off the screen.",
        "In a steady hover {full}, write the number into the file: {subject}.",
    ),
}
ENGINE_OBSERVATIONS = {
    "shut": (
        "The engine stopped, fuel and ignition off, the receiver on: look into the carburettor, hold off, and bring the throttle "
        "down by stick and stop until it is just shut. Read its channel there.",
    ),
    "connected": (
        "Hold on, stick down, the rotor head held: fuel and ignition on, and start the engine as its maker says. It idles, and "
        "the rotor head stands still when it is let go of.",
    ),
    "turns": (
        "Hold off; raise the throttle stick slowly, only until the clutch begins to take the rotor head along; lower it "
        "until the head just runs free, and read the channel there. Stick down, hold on: no more throttle on the bench.",
        "It must not be below what the file gives as rotor-free. If it is, that is wrong: measure again.",
    ),
    "cuts": (
        "Hold off, stick up until the clutch just takes, hold on: the engine idles at once, and the head runs down.",
    ),
    "stops": ("The engine idling, so that {stop}: it stops at once.",),
    "blades": (
        "With the engine stopped: the {rotors} tight as their maker says. Then hold on, stick down, the transmitter on, the "
        "receiver on, the rotor head held, and the engine started. Let go of the head at idle only, and stand back.",
        "After the hover: hold on, stop the engine, wait until everything stands still, the receiver off, the transmitter off.",
    ),
}
HANDS = {  # what the unit and the gyro do against a hand that moves the craft
    "tip": (
        "Tip the nose down by hand: the swash plate leans back, against it, at once. Tip the tail down: it leans forward.",
        "Tip the nose down by hand: on the unit's screen the front motors get more. Tip the tail down: the rear ones do.",
    ),
    "lean": (
        "Lean the craft to the right by hand: the swash plate leans left, against it. To the left: it leans right.",
        "Lean the craft to the right by hand: on the unit's screen the right motors get more. To the left: the left ones do.",
    ),
    "swing": (
        "Swing the nose to the left by hand: the tail's servo or motor goes the way that the rudder stick to the right sends it. "
        "Swing it to the right: the other way.",
        "Swing the nose to the left by hand: on the unit's screen the motors change as the rudder stick to the right changes "
        "them. Swing it to the right: the other way.",
    ),
}
AT_THE_HEAD = {  # each stick as seen from behind
    "aileron": "Seen from behind: with the stick to the right the swash plate leans right, to the left it leans left.",
    "elevator": "With the stick forward the swash plate leans forward, with the stick back it leans back.",
    "rudder": "With the stick to the right the tail's blades push the tail to the left, so that the nose goes right; and back.",
}
ON_THE_SCREEN = "On the unit's screen the craft is asked to go the way of the {stick} stick, both ways."
DRIVEN = {  # what a look at the craft shows of a control, by what its channel drives
    "steered": "What the {stick} stick moves goes at once, the way it asks for, as in its other boxes, and as far either way.",
    "collective": "The blades' pitch goes up with the stick, at once, as in every other mode.",
    "gyro-gain": "Turn the craft by hand: what the gyro moves goes against it, as in every other mode.",
    "stabiliser": "On the set-up screen of the craft's unit each stick moves one bar alone; at rest all stand in the middle.",
}


def preparations(words: CardWords, step: CardStep) -> Iterator[str]:
    """What to do before the box."""
    craft = words.setup.craft
    if step.key == "ready":
        yield power_of(words.setup).apart
        yield f"The craft held fast; no one in the plane of the {BLADES[craft.kind]}."
        yield READ_BACK.format(craft=craft.name)
    if step.key == "receiver" and words.base is not None and words.base.state.readings:
        readings = (f"{name} {words.reading(name, value)}" for name, value in words.base.state.readings.items())
        yield f"The card assumes that the sensors read about: {', '.join(readings)}."
        if doubt := rest_doubt(words.setup):
            yield f"{capitalised(doubt)}."


def controls_seen(words: CardWords, step: CardStep) -> Iterator[str]:
    """What to look at on the craft, where a control goes with its stick."""
    drives = {channel.drives for channel in words.setup.channels.values()}
    if step.key == "ends" and step.subject in drives:
        seen = AT_THE_HEAD if words.setup.craft.kind == "helicopter" else {}
        yield seen.get(step.subject, ON_THE_SCREEN.format(stick=step.subject))
        yield DRIVEN["steered"].format(stick=step.subject)
    if step.key == "ends" and words.setup.sticks[step.subject].pupil_of is not None:
        yield "While the pupil has the craft your own stick moves nothing of this; given back, it does at once."
    if step.key == "head":
        yield "Stick up: the swash plate moves and stays level, and the blades' leading edges rise, which is more pitch."
    if step.key == "mode":
        yield from (DRIVEN[kind] for kind in ("collective", "gyro-gain") if kind in drives)
    if step.key == "receiver" and words.setup.stabilised:
        yield DRIVEN["stabiliser"]


def observations(words: CardWords, step: CardStep) -> Iterator[str]:
    """What to look at in the box."""
    setup, craft = words.setup, words.setup.craft
    yield from controls_seen(words, step)
    if step.key in HANDS:
        yield HANDS[step.key][craft.kind == "multirotor"]
    own = ENGINE_OBSERVATIONS if setup.is_engine else {}
    stop = formula_text(setup.intent.stop) if setup.intent.stop is not None else None
    full = "with the tank full" if setup.is_engine else "at full charge"
    for text in own.get(step.key, OBSERVATIONS.get(step.key, ())):
        given = {"what": HOVERS.get(step.subject), "subject": step.subject, "rotors": ROTORS[craft.kind]}
        yield text.format(**given, full=full, stop=stop or "the stop is called")
    if step.key == "stop" and craft.motor_off is not None:
        stands = "The engine is stopped" if setup.is_engine else "The motor stays stopped"
        yield f"{_file_value(words, craft.motor_off, f'{stands} at or below')}."
    if step.key == "stop" and craft.rotor_free is not None:
        yield f"{_file_value(words, craft.rotor_free, 'The rotor is not driven at or below')}."
    if step.key == "cuts" and craft.soft_start:
        yield "From a stop it takes 2 s or more to full speed, as the file says: time one start."


def measurements(words: CardWords, step: CardStep) -> Iterator[tuple[str, str, str]]:
    """The places to write a number, each with what it is, what the file says, and what a record calls it."""
    craft = words.setup.craft
    if step.key == "turns" and words.setup.is_engine:
        yield (
            "the head just runs free at",
            _file_value(words, craft.rotor_free, "the file's rotor-free is"),
            "craft.rotor-free",
        )
    elif step.key == "turns":
        yield "just stands still at", _file_value(words, craft.motor_off, "the file's motor-off is"), "craft.motor-off"
    if step.key == "shut":
        yield "just shut at", _file_value(words, craft.motor_off, "the file's motor-off is"), "craft.motor-off"
    if step.key == "hover":
        value = craft.hover_throttle if step.subject == "hover-throttle" else craft.hover_collective
        yield HOVERS[step.subject], _file_value(words, value, "the file says"), f"craft.{step.subject}"


def _file_value(words: CardWords, value: Fraction | None, lead: str) -> str:
    if value is None:
        return "the file does not say"
    _, _, pulse = words.cell(Reading((value,)))
    return f"{lead} {percent(value)} ({decimal((value + 100) / 2)} of 100, {pulse})"
