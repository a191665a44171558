"""A bench card as a paper: a box to tick for each step."""

from __future__ import annotations

from collections.abc import Iterator

from setuplint.bench.card_model import Card
from setuplint.formats import document as doc
from setuplint.formats.numbers import counted
from setuplint.pages.card_json import card_values
from setuplint.pages.card_text import Box, CardText, StageText
from setuplint.pages.notes_paper import TITLE, note_blocks
from setuplint.pages.papers import paper_head

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
