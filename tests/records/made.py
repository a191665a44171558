"""The record that a pilot makes of a setup's card, at a transmitter that holds something else."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

import setuplint
from setuplint.bench.box_marks import box_mark
from setuplint.bench.card_model import READ, Card, Row
from setuplint.bench.stages import bench_card
from setuplint.book.record_file import BenchRecord, Scale, TakenReading, TickedBox
from setuplint.plain.evaluate import evaluate
from setuplint.records.checked import is_near
from setuplint.setup.fingerprint import fingerprint
from setuplint.setup.model import Setup
from tests.rules.edits import edited

ROOT = Path(__file__).parents[2]
TEXT = (ROOT / "examples" / "reference.toml").read_text(encoding="utf-8")
Reads = Callable[[Row], dict[str, Fraction]]


@cache
def reference() -> tuple[Setup, Card]:
    setup = setuplint.load_text(TEXT).model
    return setup, bench_card(setup)


def of_setup(edits: dict[str, Any]) -> Reads:
    """A transmitter that holds the reference setup with edits."""
    held = setuplint.load_text(edited(TEXT, edits, ())).model

    def reads(row: Row) -> dict[str, Fraction]:
        return {n: x for n, x in evaluate(held, row.state, row.memory).outputs.items() if x is not None}

    return reads


def record(
    reads: Reads, scale: Scale = "percent", typed: Callable[[Fraction], Fraction] = Fraction, **more: Any
) -> BenchRecord:
    """Every box in which all is as the card says is ticked; what reads otherwise is typed as a whole number."""
    setup, card = reference()
    boxes = []
    for step in card.steps:
        otherwise = []
        for n, row in enumerate(step.rows, start=1):
            if row.kind == READ:
                put = reads(row)
                otherwise += [
                    TakenReading(row=n, channel=name, read=float(round(typed(put[name]))))
                    for name, reading in row.readings.items()
                    if reading.values and name in put and not is_near(reading, put[name])
                ]
        boxes.append(TickedBox(box=step.number, mark=box_mark(step), done=not otherwise, readings=otherwise))
    given: dict[str, Any] = {
        "record": 1, "craft": setup.craft.name, "file": "wagtail.toml", "fingerprint": fingerprint(setup),
        "on": datetime.date(2024, 11, 28), "scale": scale, "boxes": boxes, **more,
    }  # fmt: skip
    return BenchRecord(**given)
