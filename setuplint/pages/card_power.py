"""What is connected in each stage of a bench card, in the words of the craft: its pack and leads, or its engine."""

from __future__ import annotations

from collections.abc import Mapping

from setuplint.bench import card_model
from setuplint.bench.ways import leads_come_out
from setuplint.named_tuple import NamedTuple
from setuplint.setup.model import Setup
from setuplint.setup.problems import capitalised

BLADES = {"helicopter": "blades", "multirotor": "propellers"}  # in short
ROTORS = {"helicopter": "main and tail blades", "multirotor": "propellers"}  # all that turns
MANUALS = (
    "Whatever does not read as it says here ends the check: find out why before the next box. The makers' manuals, the club's "
    "rules and the national ones come before this card."
)


class Power(NamedTuple):
    """How a kind of craft is made safe and given power. `apart`: as it is in every stage before the motor has its turn; `dead`
    and `alive`: without power and with the receiver's; `give`, `take`: what a hand does with the latter; `turning`: as the motor
    has its turn, `end` how that ends."""

    careful: str
    apart: str
    dead: str
    alive: str
    give: str
    take: str
    title: str
    turning_title: str
    turning: str
    end: str


LEADS_OUT = Power(
    "Flight pack out and the motor's leads out, the craft held fast, from the first box until a box says otherwise.",
    "Flight pack out, then the motor's leads out. The receiver without power, the transmitter off.",
    "flight pack and motor leads out, the receiver without power, the transmitter off",
    "flight pack and motor leads out, the receiver on a supply of its own, the transmitter on",
    "give the receiver its own supply, the flight pack staying out",
    "take the receiver's supply away",
    "The receiver powered, the motor apart",
    "Motor connected, {rotors} still off",
    "the motor's leads in, {rotors} off, the flight pack out, the transmitter off. Everyone clear of everything that turns",
    "the flight pack out, then the transmitter off",
)
BLADES_OFF = Power(
    "The receiver lives from the speed controller, so the motor stays connected: {rotors} off, the craft held fast, everyone "
    "clear of everything that turns, from the first box until a box says otherwise.",
    "Flight pack out, then {rotors} off: the motor stays connected, and turns if something is wrong. The transmitter off.",
    "{rotors} off, the flight pack out, the transmitter off",
    "{rotors} off, the flight pack in, the transmitter on, everyone clear",
    "put the flight pack in, everyone clear",
    "take the flight pack out",
    "The receiver powered through the speed controller",
    "The motor's turn, {rotors} still off",
    "{rotors} off, the flight pack out, the transmitter off. Everyone clear of everything that turns",
    "the flight pack out, then the transmitter off",
)
ENGINE = Power(
    "The engine stopped, its fuel and ignition off, the craft held fast, from the first box until a box says otherwise.",
    "The engine stopped, its fuel line shut and its ignition off. The receiver switched off, the transmitter off.",
    "the engine stopped, fuel and ignition off, the receiver off, the transmitter off",
    "the engine stopped, fuel and ignition off, the receiver on, the transmitter on",
    "switch the receiver on",
    "switch the receiver off",
    "The receiver on, the engine stopped",
    "The engine idling, the clutch free",
    "the engine stopped, the receiver off, the transmitter off. In the open, the rotor head held, everyone else clear",
    "the engine stopped, fuel and ignition off, the receiver off, then the transmitter off",
)


def power_of(setup: Setup) -> Power:
    """The words for a craft."""
    found = ENGINE if setup.is_engine else LEADS_OUT if leads_come_out(setup) else BLADES_OFF
    rotors = ROTORS[setup.craft.kind]
    return Power(*(text.format(rotors=rotors) for text in found))


def careful(setup: Setup) -> str:
    """What stands above all boxes."""
    power = power_of(setup)
    unknown = (
        "" if setup.is_engine or setup.supply is not None else f" {EITHER.format(rotors=ROTORS[setup.craft.kind])}"
    )
    return f"{capitalised(power.careful)}{unknown} {MANUALS}"


EITHER = (
    "The file does not say what the receiver lives on: where that is the speed controller, give it a supply of its own for these "
    "boxes, or take the {rotors} off instead, and the flight pack stands in for that supply."
)
# what is in the hand of who does a stage, after how it begins
NOTES: Mapping[str, tuple[str, str]] = {
    "ready": ("Before anything is switched on", ""),
    "transmitter": ("The transmitter alone", "The craft has no power."),
    "receiver": (
        "Directions, travel and the stop",
        "The transmitter first, then the receiver. Watch the craft too: what moves has to move the right way.",
    ),
    "hold": ("The hold", "With the hold on, no channel of a motor may move, whatever else is done."),
    "modes": ("Flight modes", "The hold goes off in these boxes."),
    "corrections": (
        "The unit and the gyro against your hand",
        "Hold on, the throttle stick at the bottom. What moves the wrong way turns a small fault into a crash at lift-off.",
    ),
    "rescue": ("The rescue", "The hold goes off in these boxes."),
    "memory": ("What stays on", ""),
    "overrides": ("Other overrides", ""),
    "alarms": ("Alarms and timers", "A box whose reading your bench cannot make stays open."),
    "failsafe": ("Failsafe", "Switching the transmitter off is the loss of the link."),
    "runs": (
        "What lint found in time",
        "Mend the file first. This is how each can be seen, and afterwards how to see that it is gone: tick the box then.",
    ),
    "gone": ("What the change took away", "Each of these read otherwise before."),
    "range": ("Range check", "At the field, as the transmitter's manual says."),
}
TURNS = ("modes", "rescue", "failsafe", "runs")
TURNS_BARE = (
    "The motor turns here, up to full speed and with nothing on it: hands off, and no longer than it takes to read."
)
BENCH_SUPPLY = (
    "For a pack's voltage put a bench supply, current limited, in the pack's place: hold on, the pack out first, and the other "
    "way round at the end."
)


def stage_texts(setup: Setup, key: str, *, ends_dead: bool = False) -> tuple[str, str]:
    """The title of a stage, and how it begins and ends; `ends_dead`: with the power off, though others end with it on."""
    power = power_of(setup)
    if key == "motor":
        title = power.turning_title.format(rotors=ROTORS[setup.craft.kind])
        return title, f"Begins with {power.turning}. Ends with {power.end}."
    if key == "hover":
        return (
            "First hover",
            f"At the field, by its rules. Begins and ends with {_parked(setup)}. Everyone behind the pilot.",
        )
    title, note = NOTES[key]
    if key == "hold" and setup.is_engine:
        note = "With the hold on the engine's channel stays at its idle, or where it is shut, whatever else is done."
    if key in TURNS and power.title == BLADES_OFF.title:
        note = f"{note} {TURNS_BARE}".strip()
    if key == "ready":
        return title, note
    if key == "alarms" and any(s.reads in ("pack-voltage", "cell-voltage") for s in setup.sensors.values()):
        note = f"{BENCH_SUPPLY} {note}"
    begins = power.dead if key in ("transmitter", "receiver") or (key == "gone" and ends_dead) else power.alive
    ends = power.dead if ends_dead or key in ("transmitter", "range") else power.alive
    around = f"Begins and ends with {begins}." if begins == ends else f"Begins with {begins}. Ends with {ends}."
    return title, f"{around} {note}".strip()


def _parked(setup: Setup) -> str:
    if setup.is_engine:
        return "the engine stopped, the receiver off, the transmitter off"
    return "the flight pack out, the transmitter off"


def power_move(setup: Setup, kind: str) -> str:
    """What a hand does to give the receiver its power, or to take it away."""
    power = power_of(setup)
    return power.give if kind == card_model.RECEIVER else power.take


def turning_move(setup: Setup, kind: str) -> str:
    """The same where the motor has its turn."""
    if setup.is_engine:
        return power_move(setup, kind)
    return "put the flight pack in" if kind == card_model.RECEIVER else "take the flight pack out"
