"""Offsets in a text, and positions as an editor counts them: lines from 0, characters in the units that were agreed on."""

from __future__ import annotations

import re
from bisect import bisect_right

from lsprotocol import types as lsp

from setuplint.named_tuple import NamedTuple
from setuplint.source import Span
from setuplint.source.document import line_starts

LINE_END = re.compile(r"\r\n|\r|\n")
UNITS = {"utf-8": "utf-8", "utf-16": "utf-16-le", "utf-32": "utf-32-le"}
WIDTH = {"utf-8": 1, "utf-16": 2, "utf-32": 4}
BYTE_ORDER_MARK = "\ufeff"  # counts for an editor; offsets in a document are without it


class Position(NamedTuple):
    """Line and character, both from 0."""

    line: int
    character: int


class Lines:
    """A text as an editor counts it. `encoding` (utf-8, utf-16 or utf-32) is the unit of characters. Only the line ends of LSP
    end a line: a line separator inside a comment is a character of its line."""

    def __init__(self, text: str, encoding: str = "utf-16") -> None:
        self.text, self.encoding = text, encoding
        if "\r" in text:
            self.starts = [0, *(found.end() for found in LINE_END.finditer(text))]
        else:
            self.starts = line_starts(text)
        self.is_ascii = text.isascii()
        self.mark = len(BYTE_ORDER_MARK) if text.startswith(BYTE_ORDER_MARK) else 0

    def position(self, offset: int) -> Position:
        """The position of an offset of the document; offsets outside the text count as its start or end."""
        offset = max(0, min(offset + self.mark, len(self.text)))
        line = bisect_right(self.starts, offset) - 1
        return Position(line, self.units(self.starts[line], offset))

    def line(self, offset: int) -> int:
        """The line of an offset of the document, from 0."""
        return bisect_right(self.starts, offset + self.mark) - 1

    def units(self, start: int, end: int) -> int:
        """How many units of characters there are between two offsets of `text`."""
        return end - start if self.is_ascii else self._units(self.text[start:end])

    def range(self, span: Span) -> lsp.Range:
        return lsp.Range(lsp.Position(*self.position(span.start)), lsp.Position(*self.position(span.end)))

    def offset(self, line: int, character: int) -> int:
        """The offset in the document of a position. Past a line's end it is that end, inside a character its start."""
        return max(0, self._offset(line, character) - self.mark)

    def replaced(self, start: tuple[int, int], end: tuple[int, int], by: str) -> str:
        """The text with `by` in place of what is between two positions."""
        first, last = sorted((self._offset(*start), self._offset(*end)))
        return self.text[:first] + by + self.text[last:]

    def _offset(self, line: int, character: int) -> int:
        if line < 0:
            return 0
        if line >= len(self.starts):
            return len(self.text)
        start = self.starts[line]
        found = LINE_END.search(self.text, start)
        row = self.text[start : found.start() if found else len(self.text)]
        if row.isascii():
            return start + max(0, min(character, len(row)))
        used = 0
        for number, char in enumerate(row):
            used += self._units(char)
            if used > character:
                return start + number
        return start + len(row)

    def _units(self, text: str) -> int:
        if text.isascii():
            return len(text)
        return len(text.encode(UNITS[self.encoding], "surrogatepass")) // WIDTH[self.encoding]
