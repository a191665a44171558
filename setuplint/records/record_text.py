"""What a record comes to, in words and in JSON."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from setuplint.bench.card_model import Reading
from setuplint.formats.numbers import counted, decimal, json_number, percent, with_pulse
from setuplint.formats.terminal import wrap
from setuplint.records.checked import Compared, Explained, RecordCheck
from setuplint.records.measured import OUTPUTS, MeasuredNumber
from setuplint.setup.model import Craft

MOST_LISTED = 40  # readings that differ


def record_lines(check: RecordCheck, numbers: Sequence[MeasuredNumber], craft: Craft, room: int) -> Iterator[str]:
    """The most important first: whether it is of this setup, what read otherwise and why, what is proved, what was measured."""
    record = check.record
    by = f" by {record.by}" if record.by else ""
    yield from wrap(f"{check.craft}: a record of {record.on}{by}, for fingerprint {record.fingerprint}.", room)
    if record.craft != check.craft:
        yield from wrap(f"It is of {record.craft or 'a craft without a name'}, and this craft is {check.craft}.", room)
    if not check.fits:
        words = f"THIS SETUP IS ANOTHER: its fingerprint is {check.fingerprint}. The record proves nothing of it."
        yield from wrap(f"{words} Enter it, prove it by a new card, and record again.", room)
    else:
        yield from _result_lines(check, craft, room)
    for number in numbers:
        was = (
            "which the file does not give"
            if number.was is None
            else f"in the file {_number_words(number, number.was, craft)}"
        )
        same = "as in the file" if number.was == number.now else was
        yield from wrap(f"Measured: {number.key} {_number_words(number, number.now, craft)}, {same}.", room)
    for row in check.sheet:
        yield from wrap(f"Read back otherwise: {row.row} reads {row.read}.", room)
    if record.notes:
        yield from wrap(f"Notes: {' '.join(record.notes.split())}", room)


def _result_lines(check: RecordCheck, craft: Craft, room: int) -> Iterator[str]:
    for each in check.differing[:MOST_LISTED]:
        read, card = _outputs([each.read], craft), _card(each.card, craft)
        words = f"Box {each.box}, row {each.row}: {each.channel} reads {read}, the card says {card}."
        yield from wrap(words, room, "", "  ")
    if len(check.differing) > MOST_LISTED:
        yield f"And {counted(len(check.differing) - MOST_LISTED, 'reading')} more that differ."
    for explained in check.explained:
        yield from wrap(_because(explained), room, "  ", "  ")
    for words in check.unknown:
        yield from wrap(f"Not counted: {words}.", room)
    yield from wrap(
        f"Proved: {len(check.proved)} of {check.boxes} boxes."
        + (f" Open: {', '.join(map(str, check.open))}." if check.open else ""),
        room,
        "",
        "  ",
    )


def _because(explained: Explained) -> str:
    names = ", ".join(explained.channels)
    more = " Not every change was tried." if explained.left_out else ""
    if not explained.because:
        return f"No single change of the setup gives just these readings of {names}.{more}"
    return f"What would give just these readings: {'; or '.join(explained.because)}.{more}"


def _outputs(values: Sequence[Fraction], craft: Craft) -> str:
    return " or ".join(with_pulse(value, craft.pulse(value)) for value in values)


def _card(reading: Reading, craft: Craft) -> str:
    whole = [Fraction(round(value)) for value in reading.values]
    if reading.between:
        return f"{percent(whole[0])} to {percent(whole[-1])}"
    return _outputs(whole, craft) or reading.word or "nothing"


def _number_words(number: MeasuredNumber, value: Fraction, craft: Craft) -> str:
    return _outputs([value], craft) if number.key.split(".")[1] in OUTPUTS else decimal(value)


def record_values(check: RecordCheck, numbers: Sequence[MeasuredNumber]) -> dict[str, object]:
    """In JSON, version 1."""
    return {
        "version": 1,
        "craft": check.craft,
        "fingerprint": check.fingerprint,
        "record": {"fingerprint": check.record.fingerprint, "by": check.record.by, "on": str(check.record.on)},
        "fits": check.fits,
        "holds": check.holds,
        "boxes": check.boxes,
        "proved": list(check.proved),
        "open": list(check.open),
        "unknown": list(check.unknown),
        "differing": list(map(_difference, check.differing)),
        "explained": [
            {
                "channels": list(each.channels),
                "because": [_spaced(words) for words in each.because],
                "left-out": each.left_out,
            }
            for each in check.explained
        ],
        "measured": [
            {"key": each.key, "was": None if each.was is None else json_number(each.was), "now": json_number(each.now)}
            for each in numbers
        ],
        "sheet": [{"row": row.row, "read": row.read} for row in check.sheet],
    }


def _difference(each: Compared) -> dict[str, object]:
    card = list(map(json_number, each.card.values))
    return {"box": each.box, "row": each.row, "channel": each.channel, "card": card, "read": json_number(each.read)}


def _spaced(words: str) -> str:
    return words.replace("\u00a0", " ")
