"""A bench card's steps in a pilot's words: what the hand does, what is read, and what that shows."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from fractions import Fraction

from setuplint.bench import card_model
from setuplint.bench.card_model import Card, CardStep, Item, Move, Reading, Row
from setuplint.bench.missing import announced
from setuplint.engine.answers import Value
from setuplint.formats.control_words import ControlWords, and_joined, with_unit
from setuplint.formats.numbers import decimal, json_value, signed
from setuplint.formats.terminal import FIXED_SPACE
from setuplint.pages.card_power import power_move, power_of, turning_move
from setuplint.plain.state import LOST
from setuplint.setup.problems import capitalised

SHORTEST_WAIT = Fraction(3, 10)  # seconds; a shorter one is not worth a word
# how a bench brings each kind of sensor to a reading
BRINGS = {
    "pack-voltage": "set the bench supply so that it reads",
    "cell-voltage": "set the bench supply so that it reads",
    "receiver-voltage": "set the receiver's supply so that it reads",
    "link-quality": "go away with the transmitter, or cover the receiver's aerial, until it reads",
    "signal-strength": "go away with the transmitter, or cover the receiver's aerial, until it reads",
    "temperature": "warm or cool the sensor until it reads",
}
ANY_SENSOR = "feed the sensor until it reads"
LINKS = ("link-quality", "signal-strength")
TITLES = {
    "ready": "The craft made safe",
    "starts": "Switch on as it must be: it starts",
    "head": "The collective, as seen at the head",
    "tip": "Tipped forward and back by hand",
    "lean": "Leaned to either side by hand",
    "swing": "The tail swung by hand",
    "rescue-held": "The rescue called in the hold",
    "line": "What {} gives",
    "memory": "{}: stays on, and goes off",
    "override": "Override {}",
    "flown": "Mode {}, told from the others",
    "alarm": "Alarm {}",
    "timer": "Timer {}",
    "still": "Hold off, stick down: nothing turns",
    "leads": "The motor's leads back in",
    "shut": "Where the carburettor is shut",
    "connected": "The motor with power, the hold on",
    "turns": "Where the motor starts to turn",
    "cuts": "The hold stops a motor that turns",
    "stops": "The stop",
    "range": "Range",
    "blades": "Blades on",
}
ENGINE_TITLES = {
    "still": "Hold off, stick down: the rotor stands still",
    "connected": "The engine started, the hold on",
    "turns": "Where the clutch takes",
    "cuts": "The hold frees the rotor",
    "stops": "The stop stops the engine",
    "blades": "To the first hover",
}
HOVERS = {"hover-throttle": "motor", "hover-collective": "collective"}
ITEM_WORDS = {
    "override": "{} decides",
    "line": "own line of {}",
    "end": "own line of {}",
    "value": "own line of {}",
    "mode": "mode {}",
    "flown": "mode {}",
    "hold": "the hold at full stick",
    "hold-against": "the hold against {}",
    "rescue-in": "rescue in and out",
    "rescue-out": "rescue in and out",
    "rescue-held": "a rescue called in the hold",
    "remembers": "{} stays on",
    "forgets": "{} goes off",
    "quiet": "alarm {}",
    "sounds": "alarm {}",
    "counts": "timer {}",
    "stands": "timer {}",
    "refused": "the start check minds {}",
    "stop": "the stop of {}",
    "gone": "failsafe",
    "failsafe": "failsafe of {}",
    "returns": "the link's return",
    "starts": "the start",
    "receiver": "every channel at the start",
    "gone-part": "what was of {}",
    "still": "a {} at rest with the hold off",
}
COUNTED = (
    (("override",), "override"),
    (("mode",), "mode"),
    (("sounds",), "alarm"),
    (("line",), "line"),
    (("failsafe",), "place of failsafe"),
    (("remembers", "forgets"), "latch or toggle"),
    (("refused",), "part of the start check"),
)
PLURALS = {
    "place of failsafe": "places of failsafe",
    "latch or toggle": "latches or toggles",
    "part of the start check": "parts of the start check",
}
FAILSAFE = {"unit": "the stabiliser takes over", "none": "no pulses", "": "not described"}


class CardWords:
    """The words for one card; `values` are the file's own, for the controls."""

    def __init__(self, card: Card, values: Mapping[str, object]) -> None:
        self.card, self.setup = card, card.setup
        self.controls = ControlWords(values)
        self.base = next((row for step in card.steps if step.key == "receiver" for row in step.rows), None)

    # -- what the hand does

    def moves(self, moves: Sequence[Move], *, back: bool = False, turning: bool = False) -> str:
        """`put hold off, move the throttle stick to the top; wait 1.5 s`; empty where nothing is moved. `back`: readings go
        back to what they were; `turning`: the motor has its turn."""
        text = ", ".join((self._move_back if back else self.move)(move, turning) for move in moves)
        wait = max((move.wait for move in moves), default=Fraction(0))
        return f"{text}; wait {_seconds(wait)}" if wait >= SHORTEST_WAIT else text

    def move(self, move: Move, turning: bool = False) -> str:
        if move.kind == card_model.ON:
            return "switch the transmitter on"
        if move.kind == card_model.OFF:
            return "switch the transmitter off"
        if move.kind in (card_model.RECEIVER, card_model.UNPOWERED):
            return (turning_move if turning else power_move)(self.setup, move.kind)
        if move.kind == card_model.TRIM:
            at = Fraction(move.value)
            return f"{move.control} trim to {f'{signed(at)}{FIXED_SPACE}%' if at else 'its middle'}"
        if move.control in self.setup.sensors:
            return self._sensor_move(move.control, move.value)
        return self.controls.move(move.control, json_value(move.value))

    def _move_back(self, move: Move, turning: bool) -> str:
        if move.kind == card_model.SET and move.control in self.setup.sensors:
            return f"bring {move.control} back to {self.reading(move.control, move.value)}"
        return self.move(move, turning)

    def _sensor_move(self, sensor: str, value: Value) -> str:
        reads = self.setup.sensors[sensor].reads
        if value == LOST:
            how = "take the receiver's power away" if reads in LINKS else f"unplug the sensor of {sensor}"
            return f"{how}, until {sensor} is lost"
        return f"{sensor}: {BRINGS.get(reads, ANY_SENSOR)} {self.reading(sensor, value)}"

    def reading(self, sensor: str, value: Value) -> str:
        """`21.7 V (3.62 V a cell)`."""
        if isinstance(value, str):
            return value
        given = self.setup.sensors[sensor]
        text, cells = with_unit(given.reads, value), self.setup.cells_of(given)
        return text if cells in (None, 1) else f"{text} ({decimal(value / cells)}{FIXED_SPACE}V a cell)"

    def standing(self, step: CardStep) -> str:
        """The switches that the step before left off their home positions, and that stay there."""
        if not step.rows:
            return ""
        row = step.rows[0]
        moved = {move.control for move in row.moves}
        before = row.came[0] if len(row.moves) == 1 else row.state
        home = self.card.home.positions
        still = [n for n, p in before.positions.items() if p != home[n] and n not in moved]
        return ", ".join(self.controls.kept(n, before.positions[n]) for n in still)

    def box_that_set(self, step: CardStep, name: str) -> int:
        """The step that switched on a latch or toggle that this one finds on."""
        before = [each for each in self.card.steps if each.rows and each.number < step.number and name not in each.kept]
        return before[-1].number

    @property
    def home(self) -> str:
        """How the controls stand where every step starts and ends."""
        state = self.card.home
        rest = {switch.name: switch.positions[0] for switch in self.setup.switches.values()}
        off_rest = [self.controls.kept(n, p) for n, p in state.positions.items() if p != rest[n]]
        springs = self.setup.sticks["throttle"].rests_in_the_middle
        stick = f"the throttle stick {'held ' if springs else ''}at the bottom"
        return ", ".join([*off_rest, stick, "everything else at rest"])

    # -- titles

    def title(self, step: CardStep) -> str:
        if step.key == "receiver":
            return power_of(self.setup).title
        own = ENGINE_TITLES if self.setup.is_engine else {}
        fixed = own.get(step.key, TITLES.get(step.key))
        if fixed is not None:
            return fixed.format(step.subject)
        titles = {
            "was": self._was_title,
            "refused": self._refused_title,
            "ends": self._ends_title,
            "stop": self._stop_title,
        }
        if step.key in titles:
            return titles[step.key](step)
        in_mode = f" in mode {step.subject}" if step.subject else ""
        if step.key == "hold":
            return f"Hold on at full stick{in_mode}"
        if step.key == "rescue":
            return f"Rescue in and out{in_mode}"
        if step.key == "mode":
            along = " along the stick" if len(step.rows) > 1 else ""
            return f"Mode {step.subject}{along}" if step.subject else f"Hold off{along}"
        if step.key == "hover":
            return f"Measured in the hover: {HOVERS[step.subject]}"
        if step.key == "gone":
            held = {"held": "hold on", "free": "hold off"}
            return f"The link gone, {held.get(step.subject, f'{step.subject} away from where failsafe puts it')}"
        return f"{capitalised(step.key)} {step.subject}"

    def _was_title(self, step: CardStep) -> str:
        what = self.items(step.shows).removeprefix("what was of ")
        return f"As before the change: {what}" if what else "As before the change"

    def _refused_title(self, step: CardStep) -> str:
        move = step.rows[0].moves[0]
        is_set = move.kind == card_model.SET
        kept = self.controls.kept(move.control, json_value(move.value)) if is_set else "as it stands"
        return f"{capitalised(kept)}: it must {'warn' if step.rows[0].kind == card_model.WARNED else 'not start'}"

    def _ends_title(self, step: CardStep) -> str:
        rates = step.shows[0].detail.split(", ")[1:] if step.shows else []
        switches = [self.controls.kept(*word.split(" ", 1)) for word in rates]
        stick = self.setup.sticks[step.subject].pupil_of
        moved = f"the pupil's {stick} stick" if stick is not None else step.subject
        return f"{capitalised(moved)} to both ends{''.join(f', {words}' for words in switches)}"

    def _stop_title(self, step: CardStep) -> str:
        knob = self.setup.sticks[step.subject].knob
        what = "idle" if self.setup.is_engine else "stop"
        return f"The {what}, with {step.subject}{'' if knob else ' trim'} at its ends"

    # -- what is read

    def channels(self, step: CardStep) -> list[str]:
        """The channels of a step's table: motors, those that it shows, and those not as they were with hold on, stick down."""
        if step.key in ("starts", "refused") or not step.rows:
            return []
        if step.key in ("receiver", "gone"):
            return list(self.setup.channels)
        about = {item.subject.split(" in ")[0] for item in step.shows if item.kind in ("line", "value", "end", "stop")}
        about |= {self.setup.overrides[i.subject].channel for i in step.shows if i.kind == "override"}
        base = self.base.readings if self.base is not None else {}
        changed = {n for row in step.rows for n, reading in row.readings.items() if reading != base.get(n)}
        motors = {c.name for c in self.setup.driving("motor")}
        return [name for name in self.setup.channels if name in about | changed | motors]

    def cell(self, reading: Reading) -> tuple[str, str, str]:
        """A reading in whole numbers, on the scale from -100 to +100, on that from 0 to 100, and as a pulse; a word stands
        alone."""
        if reading.word in FAILSAFE and not reading.values:
            return FAILSAFE[reading.word], "", ""
        joint = " to " if reading.between else " or "
        texts = [joint.join(map(each, reading.values)) for each in (_percent, _of_hundred, self._pulse)]
        before = "as it was: " if reading.word == "keep" else ""
        return f"{before}{texts[0]}", texts[1], f"{texts[2]}{FIXED_SPACE}µs"

    def _pulse(self, output: Fraction) -> str:
        return decimal(self.setup.craft.pulse(output), 0)

    def also(self, step: CardStep, number: int) -> Iterator[str]:
        """What else is seen or heard in a row."""
        row = step.rows[number]
        before: Row | None = step.rows[number - 1] if number else self.base
        if row.kind == card_model.STARTS:
            yield "it starts"
            return
        if row.kind == card_model.WARNED:
            yield "it must warn before it starts; take the warning, do not wave it away"
            return
        if row.kind == card_model.REFUSED:
            yield "it must refuse to start, and say so"
            return
        if row.kind == card_model.GONE:
            return
        voice = announced(self.setup, row.start, row.state, row.memory)
        if voice:
            yield f"says “{voice}”"
        for name in row.alarms:
            yield f"alarm {name}: {self._sound(name)}"
        if step.key == "alarm" and step.subject not in row.alarms:
            yield f"alarm {step.subject} is silent"
        if any(item.kind in ("counts", "stands") for item in step.shows) and (number == 0 or before is None):
            for item in step.shows:
                if item.kind in ("counts", "stands"):
                    yield f"timer {item.subject} {'counts' if item.subject in row.timers else 'stands still'}"
        if row.driven:
            yield "DANGER: the rotor is driven with the hold on. Mend the file first"

    def _sound(self, name: str) -> str:
        alarm = self.setup.alarms[name]
        how = [f"says “{alarm.voice}”"] if alarm.voice else []
        how += ["a tone"] if alarm.tone else []
        how += ["vibrates"] if alarm.vibrate else []
        return f"{', '.join(how)}, {f'every {_seconds(alarm.repeat)}' if alarm.repeat else 'once'}"

    # -- what a step shows

    def items(self, items: Iterable[Item]) -> str:
        """In a line: `the hold against rescue-power, override rescue-level, the lines of pitch and roll`."""
        found: dict[str, list[str]] = {}
        for item in items:
            kind, subject = _item_words(item)
            if subject not in found.setdefault(kind, []):
                found[kind].append(subject)
        return "; ".join(kind.format(and_joined(subjects)) for kind, subjects in found.items())

    def item(self, item: Item) -> str:
        kind, subject = _item_words(item)
        return kind.format(subject)

    def coverage(self) -> str:
        """What the card shows, counted."""
        left = {each.item.key for each in self.card.left}
        seen = {(item.kind, item.subject) for item in self.card.items if item.key not in left}
        counts = []
        for kinds, word in COUNTED:
            subjects = {subject for kind, subject in seen if kind in kinds}
            if subjects:
                counts.append(f"{len(subjects)} {word if len(subjects) == 1 else PLURALS.get(word, f'{word}s')}")
        return and_joined(counts)


def _item_words(item: Item) -> tuple[str, str]:
    """The words for a kind of item, and its subject in them."""
    subject = {"override": f"override {item.subject}", "mode": item.subject or "without a name"}
    return ITEM_WORDS[item.kind], subject.get(item.kind, item.subject)


def _percent(output: Fraction) -> str:
    return f"{signed(output, 0)}{FIXED_SPACE}%"


def _of_hundred(output: Fraction) -> str:
    return decimal((output + 100) / 2, 0)


def _seconds(seconds: Fraction) -> str:
    """Rounded up to a tenth: who waits too short reads something else."""
    return f"{decimal(Fraction(math.ceil(seconds * 10), 10))}{FIXED_SPACE}s"
