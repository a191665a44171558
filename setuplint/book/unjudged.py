"""Rules about danger that wait for a key which the file does not give: a finding, as silence would be taken for safety."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from setuplint.book.rule_file import Rule
from setuplint.findings import Finding, NotJudged, Place
from setuplint.setup.model import Path, Setup
from setuplint.setup.predicates import reason_no_channel

DANGERS = "dangers-not-judged"
NOT_GIVEN = " is not given"

# How a number is got: the box of the bench card, the field of the sheet.
GOT = {
    "craft.motor-off": "the bench card's first box finds it: raise the channel slowly, blades off, and read the output just "
    "below the one at which the motor starts",
    "craft.hover-throttle": "the last box of the bench card reads it: the motor channel's output in a steady hover",
    "intent.hold": "write under [intent] what calls the throttle hold",
    "intent.level": "write under [intent] which output makes the stabiliser level the craft",
}
MOTOR = "channels"  # the subject where no channel drives a motor
WHICH_MOTOR = 'Write drives = "motor" into the channel of the speed controller; of each, where there are several.'
FROM_THE_TRANSMITTER = "the sheet has a field for it: read it off the transmitter"


def dangers_not_judged(setup: Setup, rules: Mapping[str, Rule], notes: Iterable[NotJudged]) -> Iterator[Finding]:
    """One finding for each key, naming the rules of signal danger that wait for it. None in a file without channels: that is at
    its beginning."""
    rule = rules[DANGERS]
    waiting: dict[str, list[NotJudged]] = {}
    no_motor = reason_no_channel(setup, "motor")
    waits_for_motor = key_of_motor(setup)
    for note in notes if setup.channels else ():
        key = waits_for_motor if note.because == no_motor else missing_key(note.because)
        if key and note.rule in rules and rules[note.rule].signal == "danger":
            waiting.setdefault(key, []).append(note)
    for key, waits in waiting.items():
        listed = ", ".join(dict.fromkeys(note.rule for note in waits))
        lacking = "no channel drives a motor" if key == MOTOR else f"{key} is not given"
        yield Finding(
            rule.name, rule.signal, f"{lacking}, and without it these rules about danger are not judged: {listed}",
            key, Place(nearest_declared(setup, key)), why=rule.why,
            remedy=WHICH_MOTOR if key == MOTOR else f"Give {key}: {GOT.get(key, FROM_THE_TRANSMITTER)}.",
            leaves_open=tuple(waits),
        )  # fmt: skip


def key_of_motor(setup: Setup) -> str:
    """What a rule about the motor waits for that finds no channel of one."""
    motors = setup.driving("motor")
    if motors:
        return missing_key(setup.undescribed(motors[0].name))
    # Unless one says what it drives in a word that is none, and has a finding of its own.
    return "" if any(("channels", name, "drives") in setup.broken for name in setup.channels) else MOTOR


def missing_key(because: str) -> str:
    """The key that a rule waits for; empty where it is something else, such as a key that cannot be read."""
    return because.removesuffix(NOT_GIVEN) if because.endswith(NOT_GIVEN) else ""


def nearest_declared(setup: Setup, key: str) -> Path:
    """The nearest table that stands in the file."""
    steps: Path = tuple(key.split("."))
    return next((steps[:n] for n in range(len(steps), 0, -1) if steps[:n] in setup.declared), ())
