"""A record: what was ticked, read and measured at a transmitter, by whom, on which day, for which fingerprint.

Records come from strangers, as setups do: a file is bounded, and what is wrong with it is one sentence with its place.
"""

from __future__ import annotations

import json
from collections import Counter
from datetime import date
from fractions import Fraction
from functools import partial
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from setuplint.setup.file_sources import LARGEST_RECORD

LARGEST = LARGEST_RECORD
Scale = Literal["percent", "of-100", "pulse-us"]
MEASURABLE = Literal[
    "craft.motor-off", "craft.rotor-free", "craft.hover-throttle", "craft.hover-collective", "craft.governed-above",
    "craft.hover-measured-at-m", "battery.capacity-mah", "battery.resistance-mohm", "battery.hover-current-a",
    "battery.peak-current-a",
]  # fmt: skip
Digits = Annotated[str, Field(pattern="^[0-9a-f]{8}$")]
Number = Annotated[float, Field(ge=-1_000_000, le=1_000_000, allow_inf_nan=False)]


class RecordError(ValueError):
    """Why a file is no record: `NAME: what is wrong`, in one line."""


class RecordPart(BaseModel):
    """A table of a record: no other keys, and no value of another kind."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class TakenReading(RecordPart):
    """What a channel was seen to give in a box, where that is not what the card says."""

    row: int = Field(ge=1, le=10_000, description="Which row of the box, from 1.")
    channel: str = Field(min_length=1, max_length=200, description="The channel's name.")
    read: Number = Field(description="The number, on the record's scale.")


class TickedBox(RecordPart):
    """A box of the bench card."""

    box: int = Field(ge=1, le=100_000, description="Its number on the card.")
    mark: Digits = Field(description="What the card knows it by: its movements and readings.")
    done: bool = Field(description="Whether it was ticked: all in it was as the card says.")
    readings: list[TakenReading] = Field(default=[], max_length=2000, description="What read otherwise.")


class SheetRow(RecordPart):
    """A row of the sheet."""

    row: str = Field(min_length=1, max_length=400, description="Table and row: `channels/motor`.")
    done: bool = Field(description="Whether it was read back as it is on the sheet.")
    read: str = Field(default="", max_length=400, description="What was read instead.")


class BenchRecord(RecordPart):
    """What was ticked, read and measured at a transmitter that holds a setup, as the pages of sheet and bench card save it."""

    record: Literal[1] = Field(description="The version of this layout.")
    craft: str = Field(max_length=200, description="The craft's name.")
    file: str = Field(max_length=400, description="The setup's file, as the page was made from it.")
    fingerprint: Digits = Field(description="The fingerprint of the setup: of what the transmitter holds.")
    by: str = Field(default="", max_length=200, description="Who checked it.")
    on: date = Field(description="The day on which it was checked.")
    scale: Scale = Field(
        default="percent", description="On which scale outputs are written: -100 to +100, 0 to 100, or pulses in µs."
    )
    notes: str = Field(default="", max_length=10_000, description="Whatever else is to be said.")
    boxes: list[TickedBox] = Field(
        default=[], max_length=5000, description="The boxes that were ticked, or read otherwise."
    )
    measured: dict[MEASURABLE, Number] = Field(
        default={}, description="Numbers that were measured, by their key in the setup; outputs on the record's scale."
    )
    sheet: list[SheetRow] = Field(
        default=[], max_length=10_000, description="The rows of the sheet that were read back."
    )

    @property
    def done(self) -> int:
        """How many boxes were ticked."""
        return sum(box.done for box in self.boxes)


def read_record(data: bytes | None, name: str) -> BenchRecord:
    """RecordError where it is none; None is what could not be read."""
    if data is None:
        raise RecordError(f"{name} is a link, or cannot be read: a record is a file")
    if len(data) > LARGEST:
        raise RecordError(f"{name}: it has more than {LARGEST:,} bytes: it is not a record")
    text = data.removeprefix(b"\xef\xbb\xbf")
    try:
        record = BenchRecord.model_validate_json(text)
        json.loads(text, object_pairs_hook=partial(_check_keys, name))
        return record
    except ValidationError as error:
        wrong = error.errors(include_url=False, include_context=False, include_input=False)
        place = ".".join(map(str, wrong[0]["loc"]))
        more = f" (and {len(wrong) - 1} more)" if len(wrong) > 1 else ""
        what = wrong[0]["msg"].replace("\n", " ")
        said = f"{f'{place[:100]}: ' if place else ''}{what[:300]}"
        raise RecordError(f"{name}: not a record: {said}{more}") from None


def _check_keys(name: str, pairs: list[tuple[str, object]]) -> None:
    """RecordError where one stands twice: people read the first, and the last would count."""
    twice = [key for key, times in Counter(key for key, _ in pairs).items() if times > 1]
    if twice:
        raise RecordError(f"{name}: not a record: {twice[0]} stands twice")


def exact_number(value: float) -> Fraction:
    """As it was typed: 0.1 is a tenth."""
    return Fraction(repr(value))


def record_schema() -> dict[str, object]:
    """The layout of a record, as a JSON Schema (2020-12)."""
    schema = BenchRecord.model_json_schema()
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}
