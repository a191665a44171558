"""A bench card as a paper: a box to tick for each step; and its values in JSON."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from setuplint.bench.card_model import Card, CardStep, Reading, Row
from setuplint.formats import document as doc
from setuplint.formats.numbers import counted, json_number, json_value
from setuplint.formats.terminal import FIXED_SPACE
from setuplint.pages.card_text import Box, CardText, RowText, StageText, run_values
from setuplint.pages.notes_paper import TITLE, note_blocks
from setuplint.pages.papers import paper_head
from setuplint.setup.model import Craft

SAME = (
    "All others were done by both files, movement by movement, and read the same: what was ticked there still counts."
)
PROVED = "Each was found in a step by the evaluator that knows nothing of how the steps were chosen: none is missing."


def card_paper(text: CardText, card: Card) -> doc.Paper:
    boxes = counted(text.boxes, "box").replace("boxs", "boxes")
    facts = (text.file, text.day, f"fingerprint {text.fingerprint}", boxes)
    head = paper_head(f"{text.craft}: bench card", facts, text.careful, text.warning, doc.Bullets(text.guide, "guide"))
    stages = (_stage_blocks(number, stage) for number, stage in enumerate(text.stages, start=1))
    notes = [doc.Division((doc.Heading(2, TITLE), *note_blocks(text.notes, 3)))] if text.notes else []
    end = doc.Division(list(_end_blocks(text)), "end")
    blocks = (head, *stages, *notes, end)
    return doc.Paper(f"{text.craft}: bench card", blocks, card_values(text, card), styles=("card.css",))


def _stage_blocks(number: int, stage: StageText) -> doc.Division:
    note = [doc.Paragraph(stage.note, "soft")] if stage.note else []
    boxes = doc.Division(list(map(_check_box, stage.boxes)), "boxes", "div")
    return doc.Division((doc.Heading(2, stage.title, number), *note, boxes), "stage")


def _end_blocks(text: CardText) -> Iterator[doc.Block]:
    yield doc.Heading(2, "What this card shows")
    if text.since:
        shown = f"They show {text.covers}." if text.covers else ""
        yield doc.Paragraph(f"{text.boxes} boxes, of what is not as in {text.since}. {shown} {SAME}".replace("  ", " "))
    else:
        rest = "" if text.left else ", all that the file has"
        yield doc.Paragraph(f"{text.boxes} boxes show {text.covers}{rest}. {PROVED}")
    if text.left:
        yield doc.Heading(3, "What it cannot show")
        yield doc.Bullets(text.left)
    yield doc.SignLine("Checked by", "by")
    yield doc.SignLine("On", "on")


def _check_box(box: Box) -> doc.CheckBox:
    short = not box.channels and len(box.after) < 2
    return doc.CheckBox(box.number, box.title, list(_box_blocks(box)), box.again, short, box.mark)


def _box_blocks(box: Box) -> Iterator[doc.Block]:
    yield from (doc.Paragraph(words, "soft") for words in box.before)
    deeds = [doc.Deed(row.do, row.also, row.danger) for row in box.rows]
    if box.channels:
        rows: list[list[doc.Words]] = [
            [deed, *map(doc.Scales, row.cells)] for deed, row in zip(deeds, box.rows, strict=True)
        ]
        yield doc.Grid(("Do this", *box.channels), rows, f"Box {box.number}", "reads", turned="Channel")
    else:
        yield from map(doc.Paragraph, deeds)
    yield from map(doc.Paragraph, box.after)
    yield from (doc.Measured(*blank) for blank in box.blanks)
    if box.then:
        yield doc.Paragraph(f"{box.then}.", "then", lead="Then")
    if box.shows:
        yield doc.Paragraph(f"Shows: {box.shows}.", "shows")


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
