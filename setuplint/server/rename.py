"""A name changed everywhere: in formulas, headings and values, in shared files and in all that extend them.

A rename is given only where it is proved: every text, read again, says the same but for that one name.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Iterator
from typing import Any

from setuplint.named_tuple import NamedTuple
from setuplint.server.edits import Replacement, edited_text
from setuplint.server.occurrences import (
    CONTROL_TABLES,
    KIND_OF_TABLE,
    RULE,
    TABLE_OF_KIND,
    Name,
    Occurrence,
    declarations,
    switch_positions,
)
from setuplint.server.parsed import ParsedText
from setuplint.server.table_pieces import span_within
from setuplint.setup.declarations import STICKS
from setuplint.setup.formulas import RESERVED
from setuplint.setup.problems import quoted, value_at
from setuplint.source import Document, Span, parsed_document

NAME = re.compile(r"[a-z][a-z0-9]*(?:-[a-z0-9]+)*")
LONGEST = 60
CONTROL_KINDS = tuple(KIND_OF_TABLE[table] for table in CONTROL_TABLES)


class RenameError(ValueError):
    """Why a name cannot be changed, in a sentence."""


class Rename(NamedTuple):
    """One rename, and what it changes."""

    name: Name
    word: str
    replacements: list[Replacement]

    def edited(self, document: Document) -> str:
        changes = [(each.span, each.text) for each in self.replacements if each.document.name == document.name]
        return edited_text(document.text, changes)


def check_renamable(parsed: ParsedText, name: Name) -> None:
    """RenameError where a name is not the pilot's own."""
    values = parsed.texts.values
    if name.kind == RULE:
        raise RenameError("this is the name of a rule")
    if name.kind == "stick" and name.word in STICKS:
        raise RenameError(f"{name.word} is one of the four sticks: their names are the format's")
    if name.kind == "position" and not isinstance(value_at(values, ("switches", name.of, "positions")), list):
        raise RenameError(f"{name.of} has the usual positions of its kind: write positions = [...] first")
    if name.kind != "position" and value_at(values, (TABLE_OF_KIND[name.kind], name.word)) is None:
        raise RenameError(f"nothing declares {quoted(name.word)}")


def rename_replacements(texts: Iterable[ParsedText], name: Name, word: str) -> list[Replacement]:
    """The changes that rename a part in all texts of some setups, the one that is asked about first. Documents of the same name
    are the same text, and change once. RenameError where it cannot be done."""
    every = list(texts)
    check_renamable(every[0], name)
    if not NAME.fullmatch(word) or len(word) > LONGEST:
        raise RenameError("a name is made of lower-case words and digits, joined by -, and begins with a letter")
    if word in RESERVED or (name.kind == "curve" and word == "straight"):
        raise RenameError(f"{quoted(word)} is a word of the format, not a name")
    for parsed in every:
        _check_free(parsed, name, word)
    found: dict[tuple[str, Span], Replacement] = {}
    for parsed in every:
        for each in (*_occurrences(parsed, name), *_waiver_occurrences(parsed, name)):
            old = each.document.text[each.span.start : each.span.end]
            quote = old[0] if old[:1] in ('"', "'") else ""
            new = Replacement(each.document, each.span, f"{quote}{word}{quote}")
            found.setdefault((each.document.name, each.span), new)
    rename = Rename(name, word, list(found.values()))
    for document in {id(each.document): each.document for each in rename.replacements}.values():
        _check_result(document, rename, every)
    return rename.replacements


def _check_free(parsed: ParsedText, name: Name, word: str) -> None:
    """RenameError where the new name is used already."""
    values = parsed.texts.values
    if name.kind == "position":
        if word in switch_positions(values, name.of):
            raise RenameError(f"{name.of} has a position {quoted(word)} already")
        return
    for table in CONTROL_TABLES if name.kind in CONTROL_KINDS else (TABLE_OF_KIND[name.kind],):
        if word in declarations(values, table):
            raise RenameError(f"there is a {quoted(word)} already, in [{table}] of {parsed.own.name}")
    if name.kind in CONTROL_KINDS and word in STICKS:
        raise RenameError(f"{quoted(word)} is one of the sticks")


def _occurrences(parsed: ParsedText, name: Name) -> list[Occurrence]:
    return [each for each in parsed.occurrences if each.name == name]


def _waiver_occurrences(parsed: ParsedText, name: Name) -> Iterator[Occurrence]:
    """Where waivers name a part. They do so without its kind: only if no other part has the name."""
    same = sum(value_at(parsed.texts.values, (table, name.word)) is not None for table in KIND_OF_TABLE)
    if name.kind == "position" or same > 1:
        return
    own = parsed.own
    for number, waiver in enumerate(value_at(own.values, ("waivers",)) or ()):
        for item, subject in enumerate(waiver.get("on") or () if isinstance(waiver, dict) else ()):
            if isinstance(subject, str):
                path = ("waivers", number, "on", item)
                for piece in re.finditer(r"[^, ][^,]*", subject):
                    if piece.group().strip() == name.word:
                        start = piece.start()
                        yield Occurrence(name, own, span_within(own, path, start, start + len(name.word)), path)


def _check_result(document: Document, rename: Rename, texts: list[ParsedText]) -> None:
    """RenameError unless the text, read again, has the same shape, and the new name wherever it had the old one."""
    text = rename.edited(document)
    again = parsed_document(text)
    if len(again.problems) != len(document.problems) or _shape(document.values) != _shape(again.values):
        raise RenameError(
            f"{document.name} does not come out right with {quoted(rename.word)}: mend what is wrong in it first"
        )
    parsed = next(each for each in texts if any(one.name == document.name for one in each.texts))
    if parsed.is_readable and parsed.own is document:
        shared = {os.path.realpath(each.name): rename.edited(each) for each in parsed.texts.shared}
        folder = parsed.folder.with_texts(shared) if parsed.folder is not None else None
        after = ParsedText(text, document.name, parsed.version, folder)
        renamed = _occurrences(after, rename.name._replace(word=rename.word))
        count = len(_occurrences(parsed, rename.name))
        if _occurrences(after, rename.name) or len(renamed) != count or not after.is_readable:
            raise RenameError(f"{document.name} does not come out right with {quoted(rename.word)}")


def _shape(values: Any) -> Any:
    """The shape of values without names: how many keys and items there are, and how many words in each string."""
    if isinstance(values, dict):
        return [_shape(each) for each in values.values()]
    if isinstance(values, list):
        return [_shape(each) for each in values]
    return len(values.split()) if isinstance(values, str) else values
