"""A record held against a setup and its bench card: which boxes it proves, and what was read otherwise; and
why each of those that stand beside a setup does not prove it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date, timedelta
from fractions import Fraction
from functools import cache

from setuplint.bench.box_marks import BESIDE, box_mark
from setuplint.bench.card_model import READ, Card, CardStep, Reading, Row
from setuplint.bench.stages import bench_card
from setuplint.book.asking import Proof
from setuplint.book.record_file import BenchRecord, RecordError, SheetRow, TickedBox, exact_number, read_record
from setuplint.dataclass import dataclass
from setuplint.setup.fingerprint import fingerprint
from setuplint.setup.model import Craft, Setup

NEAR = Fraction(1)  # percent: a reading so close is as good, as the card says


@dataclass(frozen=True, slots=True)
class Compared:
    """A reading in a row of a box: what the card says, and what was read, in percent."""

    box: int
    row: int
    channel: str
    here: Row
    card: Reading
    read: Fraction

    @property
    def agrees(self) -> bool:
        return is_near(self.card, self.read)


@dataclass(frozen=True, slots=True)
class Explained:
    """What explains the readings of these channels, the plainest first; `left_out`: not every change was tried."""

    channels: tuple[str, ...]
    because: tuple[str, ...]
    left_out: bool = False


@dataclass(frozen=True, slots=True)
class RecordCheck:
    """What a record comes to. `proved` and `open` are boxes of the card; `unknown` those of the record that are not on it;
    `differing` what was read otherwise, `agreeing` what the boxes that were ticked show; `sheet` the rows that read otherwise;
    `unplaced` counts readings that stand nowhere on the card; `explained` is what explains those that differ."""

    record: BenchRecord
    fingerprint: str
    craft: str
    boxes: int
    proved: tuple[int, ...]
    open: tuple[int, ...]
    unknown: tuple[str, ...]
    differing: tuple[Compared, ...]
    agreeing: tuple[Compared, ...]
    sheet: tuple[SheetRow, ...]
    unplaced: int = 0
    explained: tuple[Explained, ...] = ()

    @property
    def fits(self) -> bool:
        """Whether it is a record of this setup: of another fingerprint it proves nothing."""
        return self.record.fingerprint == self.fingerprint

    @property
    def holds(self) -> bool:
        """Whether it proves something and nothing in it speaks against the setup."""
        return self.fits and bool(self.proved) and not (self.differing or self.sheet or self.unknown)


def is_near(card: Reading, read: Fraction) -> bool:
    if not card.values:
        return False
    if card.between:
        return min(card.values) - NEAR <= read <= max(card.values) + NEAR
    return any(abs(value - read) <= NEAR for value in card.values)


def percent_of(read: float, scale: str, craft: Craft) -> Fraction:
    """A number on a record's scale, in percent."""
    value = exact_number(read)
    if scale == "of-100":
        return value * 2 - 100
    return (value - craft.pulse_centre) / craft.pulse_per_percent if scale == "pulse-us" else value


def checked_record(record: BenchRecord, setup: Setup, card: Card) -> RecordCheck:
    """`card` is the card of the setup."""
    steps = {box_mark(step): step for step in card.steps}
    mine = fingerprint(setup) == record.fingerprint
    unknown, differing, agreeing = list[str](), list[Compared](), list[Compared]()
    done, unplaced = set[int](), 0
    for box in record.boxes if mine else ():
        step = steps.get(box.mark)
        if step is None and box.mark.startswith(BESIDE):
            continue
        if step is None:
            unknown.append(f"box {box.box} is not on this card: tick it again on a new one")
            unplaced += len(box.readings)
            continue
        placed = list(_compared(box, step, record.scale, setup.craft, unknown))
        unplaced += len(box.readings) - len(placed)
        for compared in placed:
            (agreeing if compared.agrees else differing).append(compared)
        if box.done:
            done.add(step.number)
            agreeing += _ticked_readings(box, step)
    wrong = {each.box for each in differing}
    return RecordCheck(
        record,
        fingerprint(setup),
        setup.craft.name,
        len(card.steps),
        tuple(sorted(done - wrong)),
        tuple(step.number for step in card.steps if step.number not in done | wrong),
        tuple(unknown),
        tuple(differing),
        tuple(each for each in agreeing if each.box not in wrong or not _ticked_whole(each, record)),
        tuple(row for row in record.sheet if row.read.strip()),
        unplaced,
    )


def _ticked_whole(each: Compared, record: BenchRecord) -> bool:
    """Whether a box that reads otherwise was ticked all the same: then its other numbers prove nothing."""
    return any(box.box == each.box and box.done for box in record.boxes)


def _compared(box: TickedBox, step: CardStep, scale: str, craft: Craft, unknown: list[str]) -> Iterator[Compared]:
    for taken in box.readings:
        row = step.rows[taken.row - 1] if taken.row <= len(step.rows) else None
        if row is None or taken.channel not in row.readings:
            unknown.append(f"box {step.number} has no reading of {taken.channel} in row {taken.row}")
            continue
        read = percent_of(taken.read, scale, craft)
        yield Compared(step.number, taken.row, taken.channel, row, row.readings[taken.channel], read)


def _ticked_readings(box: TickedBox, step: CardStep) -> Iterator[Compared]:
    """What a box that was ticked has shown: every number that is one, in rows in which outputs are read."""
    taken = {(each.row, each.channel) for each in box.readings}
    for n, row in enumerate(step.rows, start=1):
        for channel, reading in _plain_readings(row).items() if row.kind == READ else ():
            if (n, channel) not in taken:
                yield Compared(step.number, n, channel, row, reading, reading.values[0])


def _plain_readings(row: Row) -> Mapping[str, Reading]:
    return {name: each for name, each in row.readings.items() if len(each.values) == 1 and not each.word}


def proof_by(records: Mapping[str, bytes | None], setup: Setup, today: date) -> Proof:
    """What records come to. One counts where a box of the card is ticked in it, where nothing read otherwise, and nothing did in
    a record of that day or a later one."""
    card = cache(lambda: bench_card(setup))  # made for a record that may count
    mark = fingerprint(setup)
    against: list[str] = []
    counting: list[tuple[date, int, str]] = []
    otherwise: list[tuple[date, str]] = []
    for name, data in records.items():
        try:
            record = read_record(data, name)
        except RecordError as error:
            against.append(str(error))
            continue
        if record.fingerprint != mark:
            against.append(f"{name} is of {record.fingerprint}")
            continue
        check = checked_record(record, setup, card())
        said = _read_otherwise(name, check) or _measured_otherwise(name, record, setup.craft)
        if said:
            otherwise.append((record.on, said))
        elif is_to_come(record, today):
            against.append(f"{name} is of {record.on}, a day to come")
        elif check.proved:
            counting.append((record.on, len(check.proved), name))
        elif record.done:
            against.append(f"in {name} no box of this card is ticked: it is of another card")
        else:
            against.append(f"in {name} no box is ticked")
    last = max(otherwise)[0] if otherwise else None
    standing = [(proved, name) for day, proved, name in counting if last is None or day > last]
    if standing:
        proved, name = max(standing)
        return Proof((), name, proved, len(card().steps))
    late = [f"{name} is of {day}, and not of a later day than what speaks against it" for day, _, name in counting]
    return Proof((*against, *late, *(said for _, said in otherwise)))


def _read_otherwise(name: str, check: RecordCheck) -> str:
    if check.sheet:
        return f"in {name} {check.sheet[0].row} of the sheet was read back otherwise"
    different = check.differing or check.unplaced
    return f"in {name} something reads otherwise than the card says" if different else ""


def _measured_otherwise(name: str, record: BenchRecord, craft: Craft) -> str:
    """A number by which the file tells whether the motor runs, and the transmitter's own."""
    given = {"craft.motor-off": craft.motor_off, "craft.rotor-free": craft.rotor_free}
    for key, value in record.measured.items():
        said = given.get(key)
        if said is not None and abs(percent_of(value, record.scale, craft) - said) > NEAR:
            return f"in {name} {key} was measured otherwise: `setuplint record --write` puts it into the setup"
    return ""


def is_to_come(record: BenchRecord, today: date) -> bool:
    """Whether nobody can have made it yet. Where its transmitter is, it may be tomorrow already."""
    return record.on > today + timedelta(days=1)
