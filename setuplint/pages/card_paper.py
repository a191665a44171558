"""A bench card as a paper: a box to tick for each step."""

from __future__ import annotations

from collections.abc import Iterator

from setuplint.bench.card_model import Card
from setuplint.formats.document import (
    Block,
    Bullets,
    CheckBox,
    Deed,
    Division,
    Grid,
    Heading,
    Measured,
    Paper,
    Paragraph,
    Scales,
    SignLine,
    Words,
)
from setuplint.formats.numbers import counted
from setuplint.pages.card_json import card_values
from setuplint.pages.card_text import CAREFUL, Box, CardText, StageText
from setuplint.pages.papers import paper_head

PROVED = "Each was found in a step by the evaluator that knows nothing of how the steps were chosen: none is missing."


def card_paper(text: CardText, card: Card) -> Paper:
    boxes = counted(text.boxes, "box").replace("boxs", "boxes")
    facts = (text.file, text.day, f"fingerprint {text.fingerprint}", boxes)
    head = paper_head(f"{text.craft}: bench card", facts, CAREFUL, text.warning, Bullets(text.guide, "guide"))
    stages = (_stage_blocks(number, stage) for number, stage in enumerate(text.stages, start=1))
    end = Division(list(_end_blocks(text)))
    return Paper(f"{text.craft}: bench card", (head, *stages, end), card_values(text, card), styles=("card.css",))


def _stage_blocks(number: int, stage: StageText) -> Division:
    note = [Paragraph(stage.note, "soft")] if stage.note else []
    boxes = Division(list(map(_check_box, stage.boxes)), "boxes", "div")
    return Division((Heading(2, stage.title, number), *note, boxes), "stage")


def _end_blocks(text: CardText) -> Iterator[Block]:
    yield Heading(2, "What this card shows")
    rest = "" if text.left else ", all that the file has"
    yield Paragraph(f"{text.boxes} boxes show {text.covers}{rest}. {PROVED}")
    if text.left:
        yield Heading(3, "What it cannot show")
        yield Bullets(text.left)
    yield SignLine("Checked by")
    yield SignLine("On")


def _check_box(box: Box) -> CheckBox:
    short = not box.channels and len(box.after) < 2
    return CheckBox(box.number, box.title, list(_box_blocks(box)), box.again, short)


def _box_blocks(box: Box) -> Iterator[Block]:
    yield from (Paragraph(words, "soft") for words in box.before)
    deeds = [Deed(row.do, row.also, row.danger) for row in box.rows]
    if box.channels:
        rows: list[list[Words]] = [[deed, *map(Scales, row.cells)] for deed, row in zip(deeds, box.rows, strict=True)]
        yield Grid(("Do this", *box.channels), rows, f"Box {box.number}", "reads", turned="Channel")
    else:
        yield from map(Paragraph, deeds)
    yield from map(Paragraph, box.after)
    yield from (Measured(*blank) for blank in box.blanks)
    if box.then:
        yield Paragraph(f"{box.then}.", "then", lead="Then")
    if box.shows:
        yield Paragraph(f"Shows: {box.shows}.", "shows")
