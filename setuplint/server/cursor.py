"""Where the cursor is in a text that may be broken there: under which heading, in which key or value, and what is typed."""

from __future__ import annotations

import re
from collections.abc import Mapping
from types import MappingProxyType

from setuplint.named_tuple import NamedTuple
from setuplint.source import Path

HEADING = re.compile(r"[ \t]*(\[\[?)[ \t]*([^\]\r\n]*)")
PAIR = re.compile(r"[ \t]*(?:[A-Za-z0-9_-]+|\"[^\"\r\n]*\")(?:[ \t]*\.[ \t]*(?:[A-Za-z0-9_-]+|\"[^\"\r\n]*\"))*[ \t]*=")
PIECE = re.compile(
    r"(?P<space>[ \t\r\n]+)|(?P<comment>#[^\r\n]*)|(?P<string>\"(?:[^\"\\\r\n]|\\.)*\"?|'[^'\r\n]*'?)"
    r"|(?P<sign>[\[\]{},=.])|(?P<word>[^\s\[\]{},=.#\"']+)|(?P<other>.)"
)
MOST_LINES = 200  # of one value
LONGEST_STRING = 5_000  # characters; a formula has 4,096 at most


class Cursor(NamedTuple):
    """`kind` is heading, key, value, or none (as in a comment). `path` is that of the table that a key or heading is in, or of
    the value. `typed` is the word before the cursor, which a completion replaces; it starts at `start`, and a string's quote is
    not in it, but in `quote`. `siblings` are the strings before it in the same statement, `used` the keys before it in the same
    braces."""

    kind: str
    path: Path
    typed: str
    start: int
    quote: str = ""
    siblings: Mapping[Path, str] = MappingProxyType({})
    used: frozenset[str] = frozenset()


def cursor(text: str, offset: int) -> Cursor:
    line = _line_start(text, offset)
    long = _in_long_string(text, line, offset)
    if long is not None:
        return long
    heading = HEADING.match(text, line, offset)
    start = None
    if heading is None or not heading.group(2)[:1].isalpha():
        start = _statement_start(text, line)
    if heading is not None and start is None:
        inside = text[line:offset]
        if "]" in inside or "#" in inside:
            return _nowhere(offset)
        words = re.split(r"[ \t]*\.[ \t]*", heading.group(2))
        return Cursor("heading", tuple(word.strip('"') for word in words[:-1]), words[-1], offset - len(words[-1]))
    start = line if start is None else start
    return _cursor_in_statement(text, start, offset, _heading_path(text, line))


def _nowhere(offset: int) -> Cursor:
    return Cursor("none", (), "", offset)


def _line_start(text: str, offset: int) -> int:
    return max(text.rfind("\n", 0, offset), text.rfind("\r", 0, offset)) + 1


def _heading_path(text: str, line: int) -> Path:
    """The path of the heading above a line; that of a [[...]] ends with the number of its item."""
    at = line
    while at > 0:
        at = _line_start(text, at - 1)
        heading = HEADING.match(text, at, line)
        if heading is not None and _statement_start(text, at) is None:
            bracket, words = heading.group(1), heading.group(2)
            path: Path = tuple(step.strip(" \t\"'") for step in words.split("."))
            if bracket == "[[":
                same = rf"^[ \t]*\[\[[ \t]*{re.escape(words.strip())}[ \t]*\]\]"
                path = (*path, max(0, len(re.findall(same, text[:line], re.M)) - 1))
            return path
    return ()


def _statement_start(text: str, line: int) -> int | None:
    """The start of the value over several lines that a line is inside of; None where the line begins a statement itself."""
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


def _in_long_string(text: str, line: int, offset: int) -> Cursor | None:
    """The place in a string of several lines; None where the offset is in none."""
    for quotes in ('"""', "'''"):
        opened = text.rfind(quotes, max(0, offset - LONGEST_STRING), offset)
        start = _line_start(text, opened) if opened >= 0 else 0
        pair = PAIR.match(text, start, opened) if opened >= 0 else None
        if pair is not None and not text[pair.end() : opened].strip():
            here = _cursor_in_statement(text, start, opened, _heading_path(text, start))
            return Cursor("value", here.path, text[opened + 3 : offset], opened + 3, quotes)
    return None


def _cursor_in_statement(text: str, start: int, offset: int, table: Path) -> Cursor:
    statement = _Statement(table, offset)
    for piece in PIECE.finditer(text, start, offset):
        kind, is_last = piece.lastgroup, piece.end() == offset
        if kind == "comment" or (kind == "string" and is_last and _is_closed(piece.group())):
            return _nowhere(offset)
        if kind in ("word", "string", "other"):
            statement.add_word(piece, is_last)
        else:
            statement.clear_typed()
        if kind == "sign":
            statement.add_sign(piece.group())
    return statement.cursor()


def _is_closed(string: str) -> bool:
    return len(string) > 1 and string[-1] == string[0]


class _Statement:
    """A key with its value, read from its start up to the cursor. Each open bracket is a level: its path, and the number of the
    item in a list, -1 in a table."""

    def __init__(self, table: Path, offset: int) -> None:
        self.offset = offset
        self.levels: list[tuple[Path, int]] = [(table, -1)]
        self.keys: list[str] = []
        self.in_value = False
        self.siblings: dict[Path, str] = {}
        self.used: list[set[str]] = [set()]  # of each level
        self.clear_typed()

    def clear_typed(self) -> None:
        self.typed, self.typed_at, self.quote = "", self.offset, ""

    def add_word(self, piece: re.Match[str], is_last: bool) -> None:
        word = piece.group()
        is_string = piece.lastgroup == "string"
        closed = is_string and _is_closed(word)
        self.quote = word[0] if is_string else ""
        self.typed = word.strip("\"'") if is_string else word
        self.typed_at = piece.start() + len(self.quote)
        if not self.in_value and (closed or not is_last):
            self.keys.append(self.typed)
        elif closed:
            self.siblings[(*self.levels[-1][0], *self.keys)] = self.typed

    def add_sign(self, sign: str) -> None:
        path, item = self.levels[-1]
        if sign in "[{":
            self.levels.append((self.value_path, 0 if sign == "[" else -1))
            self.used.append(set())
            self.keys, self.in_value = [], sign == "["
        elif sign in "]}" and len(self.levels) > 1:
            self.levels.pop()
            self.used.pop()
            self.keys, self.in_value = [], True
        elif sign == ",":
            self.keys, self.in_value = [], item >= 0
            if item >= 0:
                self.levels[-1] = (path, item + 1)
        elif sign == "=":
            self.used[-1].update(self.keys[:1])
            self.in_value = True

    @property
    def value_path(self) -> Path:
        path, item = self.levels[-1]
        return (*path, item) if item >= 0 else (*path, *self.keys)

    def cursor(self) -> Cursor:
        path = self.value_path if self.in_value else (*self.levels[-1][0], *self.keys)
        kind = "value" if self.in_value else "key"
        return Cursor(kind, path, self.typed, self.typed_at, self.quote, self.siblings, frozenset(self.used[-1]))
