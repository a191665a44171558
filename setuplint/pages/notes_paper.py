"""Handling notes on paper: under their topics, on a page of their own, or as part of another."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from setuplint.formats import document as doc
from setuplint.formats.numbers import json_number
from setuplint.formats.terminal import FIXED_SPACE, Look, plain, wrap
from setuplint.notes.asking import Basis, Note
from setuplint.notes.handling import TOPICS
from setuplint.pages.document_html import document_html
from setuplint.pages.html import html_page, tag
from setuplint.pages.papers import paper_head

TITLE = "Good to know"
PROVED = (
    "Each sentence is decided over every state that the set-up can reach. It is true of the transmitter only once the bench card "
    "has been ticked off on it, and no clearance to fly."
)


def notes_paper(notes: Sequence[Note], craft: str, facts: Sequence[str]) -> doc.Paper:
    head = paper_head(f"{craft}: notes", facts, PROVED, "")
    blocks = (head, *(doc.Division(list(_topic(topic, found, 2))) for topic, found in _topics(notes)))
    return doc.Paper(f"{craft}: notes", blocks, notes_values(notes, craft, facts))


def notes_page(paper: doc.Paper) -> str:
    """A page of their own. Nothing is filled in on it, so it keeps no record."""
    return html_page(paper.title, tag("main", document_html(paper.blocks)))


def note_blocks(notes: Sequence[Note], level: int) -> Iterator[doc.Block]:
    """As part of another paper, with headings of that level."""
    for topic, found in _topics(notes):
        yield from _topic(topic, found, level)


def notes_text(notes: Sequence[Note], craft: str, look: Look) -> str:
    """For a terminal."""
    lines = [f"{plain(craft)}: notes"]
    for topic, found in _topics(notes):
        lines += ["", TOPICS[topic]]
        for note in found:
            lines += wrap(plain(note.text.replace(FIXED_SPACE, " ")), look.width, "  - ", "    ")
    return "\n".join([*lines, "", *wrap(PROVED, look.width)]) + "\n"


def notes_values(notes: Sequence[Note], craft: str, facts: Sequence[str]) -> dict[str, object]:
    """In JSON, version 1: each note with the questions behind it, in the words of claims, and their answers."""
    return {
        "version": 1,
        "craft": craft,
        "about": list(facts),
        "notes": [
            {
                "topic": note.topic,
                "text": note.text.replace(FIXED_SPACE, " "),
                "decided": note.decided,
                "basis": [_basis_values(basis) for basis in note.basis],
            }
            for note in notes
        ],
    }


def _basis_values(basis: Basis) -> dict[str, object]:
    values: dict[str, object] = {"asked": basis.asked, "answer": basis.verdict}
    if basis.at_power_up:
        values["at-power-up"] = True
    if basis.movement is not None:
        values |= {"before": basis.before, "moved": dict([basis.movement])}
    if basis.least is not None and basis.greatest is not None:
        values |= {"channel": basis.channel, "least": json_number(basis.least), "greatest": json_number(basis.greatest)}
    return values


def _topics(notes: Sequence[Note]) -> Iterator[tuple[str, list[Note]]]:
    for topic, found in groupby(notes, lambda note: note.topic):
        yield topic, list(found)


def _topic(topic: str, notes: Sequence[Note], level: int) -> Iterator[doc.Block]:
    yield doc.Heading(level, TOPICS[topic])
    yield doc.Bullets([note.text for note in notes])
