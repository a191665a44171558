"""Where the cursor is in a text that may be broken there: under which heading, in which key or value, and what is typed."""

from __future__ import annotations

import re
from collections.abc import Mapping
from types import MappingProxyType
from typing import NamedTuple

from setuplint.source import Path

HEADING = re.compile(r"[ \t]*(\[\[?)[ \t]*([^\]\r\n]*)")
PAIR = re.compile(r"[ \t]*(?:[A-Za-z0-9_-]+|\"[^\"\r\n]*\")(?:[ \t]*\.[ \t]*(?:[A-Za-z0-9_-]+|\"[^\"\r\n]*\"))*[ \t]*=")
PIECE = re.compile(
    r"(?P<space>[ \t\r\n]+)|(?P<comment>#[^\r\n]*)|(?P<string>\"(?:[^\"\\\r\n]|\\.)*\"?|'[^'\r\n]*'?)"
    r"|(?P<sign>[\[\]{},=.])|(?P<word>[^\s\[\]{},=.#\"']+)|(?P<other>.)"
)
MOST_LINES = 200  # of one value


class Cursor(NamedTuple):
    """`kind` is heading, key, value, or none (in a comment). `path` is that of the table in which a key or heading stands, or
    of the value; `typed` is what stands before the cursor of the word that would be replaced, which starts at `start`; a
    string's quote is not in it, but in `quote`. `beside` has the texts that stand in the same statement before it."""

    kind: str
    path: Path
    typed: str
    start: int
    quote: str = ""
    beside: Mapping[Path, str] = MappingProxyType({})


def cursor(text: str, offset: int) -> Cursor:
    line = _line_start(text, offset)
    heading = HEADING.match(text, line, offset)
    start = None
    if heading is None or not heading.group(2)[:1].isalpha():
        start = _statement(text, line)
    if heading is not None and start is None:
        inside = text[line:offset]
        if "]" in inside or "#" in inside:
            return Cursor("none", (), "", offset)
        typed = heading.group(2)
        word = re.split(r"[ \t]*\.[ \t]*", typed)
        return Cursor("heading", tuple(w.strip('"') for w in word[:-1]), word[-1], offset - len(word[-1]))
    return _in_statement(text, line if start is None else start, offset, _under(text, line))


def _line_start(text: str, offset: int) -> int:
    return max(text.rfind("\n", 0, offset), text.rfind("\r", 0, offset)) + 1


def _under(text: str, line: int) -> Path:
    """The path of the heading that a line stands under; items of [[...]] by a number."""
    at = line
    while at > 0:
        at = _line_start(text, at - 1)
        found = HEADING.match(text, at, line)
        if found is not None and _statement(text, at) is None:
            names = [step.strip(" \t\"'") for step in found.group(2).split(".")]
            path: Path = tuple(names)
            if found.group(1) == "[[":
                count = len(
                    re.findall(rf"^[ \t]*\[\[[ \t]*{re.escape(found.group(2).strip())}[ \t]*\]\]", text[:line], re.M)
                )
                path = (*path, max(0, count - 1))
            return path
    return ()


def _statement(text: str, line: int) -> int | None:
    """Where the value over several lines begins that a line is inside of; None where the line begins its own."""
    at = line
    for _ in range(MOST_LINES):
        if at == 0:
            return None
        at = _line_start(text, at - 1)
        if PAIR.match(text, at):
            depth = 0
            for piece in PIECE.finditer(text, at, line):
                depth += {"[": 1, "{": 1, "]": -1, "}": -1}.get(piece.group(), 0)
            return at if depth > 0 else None
    return None


def _in_statement(text: str, start: int, offset: int, table: Path) -> Cursor:
    """Reads on from the start of a key to the cursor. Each bracket that is open is a level: its path, and whether it is a list
    (then the number of its item) or a table in braces."""
    levels: list[tuple[Path, int]] = [(table, -1)]
    keys: list[str] = []
    value = False
    typed, typed_at, quote = "", offset, ""
    beside: dict[Path, str] = {}
    for piece in PIECE.finditer(text, start, offset):
        word, kind = piece.group(), piece.lastgroup
        ended = piece.end() < offset
        if kind == "comment":
            return Cursor("none", (), "", offset)
        if kind == "space":
            typed, typed_at, quote = "", offset, ""
            continue
        path, item = levels[-1]
        if kind in ("word", "string", "other"):
            closed = kind == "string" and len(word) > 1 and word[-1] == word[0]
            quote = word[0] if kind == "string" else ""
            typed, typed_at = (word.strip("\"'"), piece.start() + 1) if quote else (word, piece.start())
            if not value and (ended or closed):
                keys.append(typed)
            elif closed:
                beside[(*path, *keys)] = typed
            if closed and not ended:
                return Cursor("none", (), "", offset)
            continue
        typed, typed_at, quote = "", offset, ""
        here = (*path, item) if item >= 0 else (*path, *keys)
        if word in "[{":
            levels.append((here, 0 if word == "[" else -1))
            keys, value = [], word == "["
        elif word in "]}" and len(levels) > 1:
            levels.pop()
            keys, value = [], True
        elif word == ",":
            keys, value = [], item >= 0
            if item >= 0:
                levels[-1] = (path, item + 1)
        elif word == "=":
            value = True
    path, item = levels[-1]
    if value:
        return Cursor("value", (*path, item) if item >= 0 else (*path, *keys), typed, typed_at, quote, beside)
    return Cursor("key", (*path, *keys), typed, typed_at, quote, beside)
