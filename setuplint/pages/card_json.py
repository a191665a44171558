"""A bench card in JSON."""

from __future__ import annotations

from collections.abc import Iterable

from setuplint.bench.card_model import Card, CardStep, Reading, Row
from setuplint.formats.numbers import json_number, json_value
from setuplint.formats.terminal import FIXED_SPACE
from setuplint.pages.card_runs import run_values
from setuplint.pages.card_text import Box, CardText, RowText
from setuplint.setup.model import Craft

Values = dict[str, object]


def card_values(text: CardText, card: Card) -> Values:
    """Version 1: every box with its words, and every channel's reading in each row as numbers. Those of runs stand apart."""
    steps = {step.number: step for step in card.steps}
    return {
        "version": 1,
        "craft": text.craft,
        "file": text.file,
        "date": text.day,
        "fingerprint": text.fingerprint,
        "careful": text.careful,
        "warning": text.warning or None,
        "guide": _spaced(text.guide),
        "since": text.since or None,
        "notes": [note.text.replace(FIXED_SPACE, " ") for note in text.notes],
        "boxes": text.boxes,
        "movements": card.movements,
        "runs": list(map(run_values, text.runs)),
        "stages": [
            {
                "stage": number,
                "key": stage.key,
                "title": stage.title,
                "note": stage.note,
                "boxes": [_box_values(box, steps[box.number], card.setup.craft) for box in stage.boxes],
            }
            for number, stage in enumerate(text.stages, start=1)
            if stage.key != "runs"
        ],
        "shows": text.covers,
        "left": list(text.left),
    }


def _box_values(box: Box, step: CardStep, craft: Craft) -> Values:
    return {
        "number": box.number,
        "mark": box.mark,
        "key": step.key,
        "again": box.again,
        "title": box.title,
        "before": _spaced(box.before),
        "rows": [_row_values(text, row, craft) for text, row in zip(box.rows, step.rows, strict=True)],
        "after": _spaced(box.after),
        "measure": [dict(zip(("what", "said", "key"), _spaced(blank), strict=True)) for blank in box.blanks],
        "then": _spaced([box.then])[0],
        "shows": ["/".join(filter(None, item.key)) for item in step.shows],
    }


def _row_values(text: RowText, row: Row, craft: Craft) -> Values:
    controls = {**row.state.positions, **row.state.sticks, **row.state.readings}
    return {
        "do": _spaced([text.do])[0],
        "kind": row.kind,
        "controls": {name: json_value(value) for name, value in controls.items()},
        "trims": {name: json_number(amount) for name, amount in row.state.trim.items()},
        "remembered": sorted(row.memory.on),
        "mode": row.mode,
        "alarms": list(row.alarms),
        "timers": list(row.timers),
        "readings": {name: _reading_values(reading, craft) for name, reading in row.readings.items()},
        "also": _spaced(text.also),
    }


def _reading_values(reading: Reading, craft: Craft) -> Values:
    return {
        "percent": [json_number(value) for value in reading.values],
        "of-100": [json_number((value + 100) / 2) for value in reading.values],
        "pulse-us": [json_number(craft.pulse(value)) for value in reading.values],
        "range": reading.between,
        "word": reading.word or None,
    }


def _spaced(words: Iterable[str]) -> list[str]:
    """With spaces that may be broken."""
    return [each.replace(FIXED_SPACE, " ") for each in words]
