"""A name changed everywhere: in formulas, headings and values, in the shared parts of a set-up and in all that extend them.

A rename is given only where it is right: every text, read again, says what it said with that one name changed.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from typing import Any, NamedTuple

from setuplint.server.analysis import Reading
from setuplint.server.names import CONTROLS, PLURALS, RULE, STICKS, Name, Use, positions, value, within
from setuplint.setup.formulas import RESERVED
from setuplint.setup.problems import quoted
from setuplint.source import Document, Span, parsed_document

NAME = re.compile(r"[a-z][a-z0-9]*(?:-[a-z0-9]+)*")
LONGEST = 60
SHARED_SPACE = tuple(kind for kind, table in PLURALS.items() if table in CONTROLS)


class Refused(ValueError):
    """Why a name cannot be changed, in a sentence."""


class Replaced(NamedTuple):
    """A part of a document, and the text in its place."""

    document: Document
    span: Span
    text: str


def can_rename(reading: Reading, name: Name) -> None:
    """Refused where a name is not the pilot's own."""
    if name.kind == RULE:
        raise Refused("this is the name of a rule")
    if name.kind == "stick" and name.word in STICKS:
        raise Refused(f"{name.word} is one of the four sticks: their names are the format's")
    if name.kind == "position" and not isinstance(
        value(reading.texts.values, ("switches", name.of, "positions")), list
    ):
        raise Refused(f"{name.of} has the usual positions of its kind: write positions = [...] first")
    if name.kind != "position" and value(reading.texts.values, (PLURALS[name.kind], name.word)) is None:
        raise Refused(f"nothing declares {quoted(name.word)}")


def renamed(readings: Iterable[Reading], name: Name, word: str) -> list[Replaced]:
    """The changes that rename a part in all texts of some set-ups: the one that is asked for comes first. Each text counts once,
    by its document's name. Refused where it cannot be done."""
    every = list(readings)
    can_rename(every[0], name)
    if not NAME.fullmatch(word) or len(word) > LONGEST:
        raise Refused("a name is made of lower-case words and digits, joined by -, and begins with a letter")
    if word in RESERVED or (name.kind == "curve" and word == "straight"):
        raise Refused(f"{quoted(word)} is a word of the format, and no name")
    for reading in every:
        taken(reading, name, word)
    found: dict[tuple[str, Span], Replaced] = {}
    for reading in every:
        for use in (*_uses(reading, name), *_waivers(reading, name)):
            whole = use.document.text[use.span.start : use.span.end]
            quote = whole[0] if whole[:1] in ('"', "'") else ""
            found.setdefault((use.document.name, use.span), Replaced(use.document, use.span, f"{quote}{word}{quote}"))
    changes = list(found.values())
    for document in {id(change.document): change.document for change in changes}.values():
        _check(document, changes, every, name, word)
    return changes


def taken(reading: Reading, name: Name, word: str) -> None:
    """Refused where the new name is something else already."""
    values = reading.texts.values
    if name.kind == "position":
        if word in positions(values, name.of):
            raise Refused(f"{name.of} has a position {quoted(word)} already")
        return
    tables = CONTROLS if name.kind in SHARED_SPACE else (PLURALS[name.kind],)
    for table in tables:
        parts = values.get(table)
        if isinstance(parts, dict) and word in parts:
            raise Refused(f"there is a {quoted(word)} already, in [{table}] of {reading.own.name}")
    if name.kind in SHARED_SPACE and word in STICKS:
        raise Refused(f"{quoted(word)} is one of the sticks")


def _uses(reading: Reading, name: Name) -> list[Use]:
    """Where the name stands; of a switch that is renamed its positions stay its own."""
    return [use for use in reading.uses if use.name == name]


def _waivers(reading: Reading, name: Name) -> Iterator[Use]:
    """Waivers name parts without their kind: they go along where only one part has the name."""
    if (
        name.kind == "position"
        or sum(value(reading.texts.values, (t, name.word)) is not None for t in PLURALS.values()) > 1
    ):
        return
    own = reading.own
    for number, waiver in enumerate(value(own.values, ("waivers",)) or ()):
        for item, subject in enumerate(waiver.get("on") or () if isinstance(waiver, dict) else ()):
            if isinstance(subject, str):
                path = ("waivers", number, "on", item)
                for part in re.finditer(r"[^, ][^,]*", subject):
                    if part.group().strip() == name.word:
                        start = part.start()
                        yield Use(name, own, within(own, path, start, start + len(name.word)), path)


def _check(document: Document, changes: list[Replaced], readings: list[Reading], name: Name, word: str) -> None:
    """Refused unless the text, read again, says the same with the name changed: as many names, each at its place."""
    mine = sorted((change for change in changes if change.document.name == document.name), key=lambda c: c.span)
    text = document.text
    for change in reversed(mine):
        text = text[: change.span.start] + change.text + text[change.span.end :]
    again = parsed_document(text)
    old, new = _counted(document.values), _counted(again.values)
    if len(again.problems) != len(document.problems) or old != new:
        raise Refused(f"{document.name} does not come out right with {quoted(word)}: mend what is wrong in it first")
    reading = next(r for r in readings if any(each.name == document.name for each in r.texts))
    if reading.whole and reading.own is document:
        after = Reading(text, document.name, reading.version, _Together(reading, changes))
        left = [use for use in after.uses if use.name == name]
        if left or len(_uses(after, name._replace(word=word))) != len(_uses(reading, name)) or not after.whole:
            raise Refused(f"{document.name} does not come out right with {quoted(word)}")


def _counted(values: Any) -> Any:
    """The shape of values: how many keys and items stand where, names apart."""
    if isinstance(values, dict):
        return [_counted(each) for each in values.values()]
    if isinstance(values, list):
        return [_counted(each) for each in values]
    return len(values.split()) if isinstance(values, str) else values


class _Together:
    """What a set-up extends, with the changes made."""

    def __init__(self, reading: Reading, changes: list[Replaced]) -> None:
        self.beside, self.changes = reading.beside, changes
        self.own = reading.beside.own if reading.beside is not None else ""

    def name(self, path: str) -> str:
        return self.beside.name(path) if self.beside is not None else path

    def place(self, path: str) -> str:
        return self.beside.place(path) if self.beside is not None else path

    def is_extended(self) -> bool:
        return self.beside.is_extended() if self.beside is not None else False

    def read(self, path: str, most: int) -> bytes:
        assert self.beside is not None
        text = self.beside.read(path, most).decode("utf-8-sig", errors="surrogateescape")
        mine = [change for change in self.changes if change.document.name == self.name(path)]
        for change in sorted(mine, key=lambda each: each.span, reverse=True):
            text = text[: change.span.start] + change.text + text[change.span.end :]
        return text.encode(errors="surrogateescape")[: most + 1]
