"""A bench card ready to be written: stages with boxes, each with a table of what is done and what must be read."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction

from setuplint.bench.parts import Card, Reading, Step
from setuplint.formats.numbers import decimal, percent
from setuplint.formats.text import counted
from setuplint.pages.card_words import Words
from setuplint.pages.sheet import fingerprint

Cell = tuple[str, str, str]  # a reading on both scales and as a pulse


@dataclass(frozen=True, slots=True)
class Line:
    """A row: what the hand does, what each channel must then read, and what else is seen or heard."""

    do: str
    cells: tuple[Cell, ...]
    also: tuple[str, ...] = ()
    danger: bool = False


@dataclass(frozen=True, slots=True)
class Box:
    """One thing to tick. `blanks` are places to write a number, each with what it is and what the file says."""

    number: int
    again: bool
    title: str
    channels: tuple[str, ...] = ()
    lines: tuple[Line, ...] = ()
    before: tuple[str, ...] = ()
    after: tuple[str, ...] = ()
    then: str = ""
    shows: str = ""
    blanks: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Part:
    key: str
    title: str
    note: str
    boxes: tuple[Box, ...]


@dataclass(frozen=True, slots=True)
class Written:
    """All of a card in words. `warning` is what lint found; `left` what the card cannot show."""

    craft: str
    file: str
    day: str
    fingerprint: str
    warning: str
    guide: tuple[str, ...]
    parts: tuple[Part, ...]
    covers: str
    left: tuple[str, ...]

    @property
    def boxes(self) -> int:
        return sum(len(part.boxes) for part in self.parts)


CAREFUL = (
    "Motor leads out, or blades off, and the craft held fast, from the first box until a box says otherwise. Whatever does not "
    "read as it says here ends the check: find out why before the next box. The makers' manuals, the club's rules and the "
    "national ones come before this card."
)
BLADES = {"helicopter": "blades", "multirotor": "propellers"}


def written(card: Card, values: Mapping[str, object], file: str, day: str, warning: str = "") -> Written:
    """The card in words. `values` are those of the file, `warning` is what lint has to say of it."""
    words = Words(card, values)
    found = []
    for stage in card.stages:
        title, note = (text.format(blades=BLADES[card.setup.craft.kind]) for text in STAGES[stage.key])
        boxes = tuple(_box(words, step) for step in stage.steps)
        found.append(Part(stage.key, title, f"{note[:1].upper()}{note[1:]}", boxes))
    return Written(
        card.setup.craft.name,
        file,
        day,
        fingerprint(card.setup),
        warning,
        tuple(_guide(card, words)),
        tuple(found),
        words.covers(),
        tuple(f"{words.left(each.item)}: {each.because}" for each in card.left),
    )


def _guide(card: Card, words: Words) -> Iterator[str]:
    base = next((step.number for step in card.steps if step.key == "receiver"), 0)
    yield f"Every step starts and ends with {words.home}."
    if not card.held:
        yield "The file has no hold that can be on at the start: where a hold would stop the motor, nothing does."
    yield (
        "Read the outputs where the transmitter shows its channels, or at the receiver. Each stands here on the scale from "
        "-100 to +100, on that from 0 to 100, and as a pulse; one point more or less (half a point of 100, a few µs) is as good. "
        f"A channel that a step does not name reads as in box {base}."
    )
    if any(step.again for step in card.steps):
        marked = ", ".join(str(step.number) for step in card.steps if step.again)
        yield f"★ marks the {sum(step.again for step in card.steps)} to repeat after any change: {marked}."


def _box(words: Words, step: Step) -> Box:
    channels = words.channels(step)
    lines = []
    for number, row in enumerate(step.rows):
        cells = tuple(words.cell(row.readings[name]) for name in channels)
        do = words.moves(row.moves) or "nothing is moved"
        lines.append(Line(do[:1].upper() + do[1:], cells, tuple(words.also(step, number)), row.driven))
    before = []
    still = words.standing(step)
    if still:
        before.append(f"Still so from the step before: {still}.")
    if step.kept:
        before.append(
            f"On already: {', '.join(f'{name} (box {words.since(step, name)} says how)' for name in step.kept)}."
        )
    box = Box(
        step.number,
        step.again,
        words.title(step),
        tuple(channels),
        tuple(lines),
        tuple(before),
        tuple(_least(words, step)),
        words.moves(step.back, back=True),
        words.shows(step.shows),
    )
    return _by_hand(words, step, box)


def _least(words: Words, step: Step) -> Iterator[str]:
    for name, value in step.least.items():
        first, second, third = words.cell(Reading((value,)))
        yield f"Whatever the stick and the other controls do, {name} never reads less than {first} ({second} of 100, {third})."


def _by_hand(words: Words, step: Step, box: Box) -> Box:
    """The boxes in which something is looked at or measured, not read off a list."""
    craft = words.setup.craft
    after: tuple[str, ...]
    if step.key == "ready":
        blades = BLADES[craft.kind]
        before = (
            f"Motor leads out, or {blades} off; the craft held fast; no one in the plane of the {blades}.",
            f"The transmitter is on the memory of {craft.name}, and every number of the sheet has been read back.",
        )
        return replace(box, before=before)
    if step.key == "starts":
        return replace(box, before=("The receiver has no power.", *box.before))
    if step.key == "receiver":
        readings = [f"{n} {words.reading(n, r)}" for n, r in _heard(words)]
        told = (f"The card assumes that the sensors read about: {', '.join(readings)}.",) if readings else ()
        return replace(
            box, before=("A supply of its own for the receiver: the motor's leads stay out.", *told, *box.before)
        )
    if step.key == "stop" and craft.motor_off is not None:
        return replace(box, after=(f"{_said(words, craft.motor_off, 'The motor stays stopped at or below')}.",))
    if step.key == "turns":
        after = (
            "Hold off; raise the throttle stick slowly until the motor just turns, and read its channel. Stick down, hold on.",
            "It must be above what the file gives as the stop. If it is not, the file's motor-off is wrong: measure again.",
        )
        return replace(
            box, after=after, blanks=(("first turns at", _said(words, craft.motor_off, "the file's motor-off is")),)
        )
    if step.key == "cuts":
        after = ("Hold off, stick up a little until the motor turns, hold on: it stops at once. Stick down.",)
        if craft.soft_start:
            after += ("From a stop it takes 2 s or more to full speed, as the file says: time one start.",)
        return replace(box, after=after)
    if step.key == "range":
        after = (
            "As the transmitter's manual says, hold on, the motor's leads out again: every channel answers all the way.",
        )
        return replace(box, after=after)
    if step.key == "hover":
        motor = step.subject == "hover-throttle"
        value = craft.hover_throttle if motor else craft.hover_collective
        what = "motor" if motor else "collective"
        after = (
            f"In a steady hover at full charge, read the {what} channel, and write it into the file: {step.subject}.",
        )
        title = f"Measured in the hover: {what}"
        return replace(box, title=title, after=after, blanks=((what, _said(words, value, "the file says")),))
    return box


def _heard(words: Words) -> list[tuple[str, Fraction | str]]:
    row = words.base
    return list(row.state.readings.items()) if row is not None else []


def _said(words: Words, value: Fraction | None, said: str) -> str:
    if value is None:
        return "the file does not say"
    _, _, pulse = words.cell(Reading((value,)))
    return f"{said} {percent(value)} ({decimal((value + 100) / 2)} of 100, {pulse})"


def about(card: Written) -> list[str]:
    """The line under the title."""
    return [card.file, card.day, f"fingerprint {card.fingerprint}", counted(card.boxes, "box").replace("boxs", "boxes")]


OUT = "Motor leads out, or {blades} off; the craft held fast."
STAGES = {
    "ready": ("Before anything is switched on", ""),
    "transmitter": ("The transmitter alone", "Motor leads out; the receiver without power."),
    "receiver": (
        "Directions, travel and the stop",
        f"{OUT} The receiver has power, the motor has none. Watch the craft too: what moves has to move the right way.",
    ),
    "hold": ("The hold", f"{OUT} With the hold on, no channel of a motor may move, whatever else is done."),
    "modes": ("Flight modes", f"{OUT} The hold goes off in these steps."),
    "rescue": ("The rescue", OUT),
    "memory": ("What stays on", OUT),
    "overrides": ("Other overrides", OUT),
    "alarms": (
        "Alarms and timers",
        f"{OUT} A bench supply in place of the pack, current limited. A box whose reading your "
        "bench cannot make stays open.",
    ),
    "failsafe": ("Failsafe", f"{OUT} Switching the transmitter off is the loss of the link."),
    "motor": (
        "Motor connected, {blades} still off",
        "Hold on, stick down, then the motor's leads in. Everyone clear of everything that turns; the craft held fast.",
    ),
    "range": ("Range check", "Motor leads out again."),
    "hover": ("First hover", "{blades} on, at the field, by its rules. Everyone behind the pilot."),
}
