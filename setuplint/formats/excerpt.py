"""The lines of the file that a finding is about, with the spans marked under them."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from setuplint.findings import Finding, Place, Report, Where
from setuplint.formats.terminal import TAB, Look, char_width, plain, printable_char, width, wrap
from setuplint.named_tuple import NamedTuple
from setuplint.setup.problems import value_at
from setuplint.source import Document

MOST_PLACES = 8
BODY = 5  # lines under a heading
CUT = "..."


class Mark(NamedTuple):
    """A stretch of one line, in characters from 0, and what it has to do with the finding."""

    line: int
    start: int
    end: int
    caption: str


def excerpt(report: Report, finding: Finding, look: Look) -> Iterator[str]:
    """Lines in the order of the file, each with its number, after the heading of its table; gaps are shown. First those of
    the file that the finding is in, then those of other files, each under its name."""
    places = (finding.primary, *finding.related)
    shown: dict[str, list[tuple[Place, Where]]] = {}
    for place in places[:MOST_PLACES]:
        where = report.where(place)
        shown.setdefault(where.name, []).append((place, where))
    gutter = len(CUT)
    for number, (name, found) in enumerate(shown.items()):
        document = found[0][1].document
        marks = sorted({_mark_of(place, where) for place, where in found})
        headings = {_heading_line(document, place) for place, _ in found} - {0}
        bodies = {line for place, _ in found for line in _body_lines(document, place)}
        numbers = _without_holes(headings | bodies | {mark.line for mark in marks})
        gutter = max(gutter, len(str(numbers[-1])))
        if number:
            yield f"  {plain(name)}:"
        yield from _excerpt_lines(document, numbers, marks, gutter, look, finding.signal)
    if len(places) > MOST_PLACES:
        yield f"  {CUT:>{gutter}} | and {len(places) - MOST_PLACES} more"


def _excerpt_lines(
    document: Document, numbers: list[int], marks: list[Mark], gutter: int, look: Look, signal: str
) -> Iterator[str]:
    room = max(look.width - gutter - 6, 20)
    before = numbers[0]

    def paint(text: str) -> str:
        return look.paint(text, signal)

    for number in numbers:
        if number > before + 1:
            yield f"  {CUT:>{gutter}} |"
        before = number
        here = [mark for mark in marks if mark.line == number]
        window = Window(document.line_text(number), here, room)
        yield f"  {number:>{gutter}} | {window.text}".rstrip()
        for mark in here:
            for row in window.pointer(mark, room, paint):
                yield f"  {'':>{gutter}} | {row}"


def _without_holes(lines: set[int]) -> list[int]:
    """The lines in order. A single line between two of them is shown too: the sign for a gap takes as much room."""
    return sorted(lines | {line + 1 for line in lines if line + 2 in lines})


def _mark_of(place: Place, where: Where) -> Mark:
    (line, column), (last, end) = where.start, where.end
    if last != line:  # its first line is marked for all of it
        end = len(where.document.line_text(line).rstrip()) + 1
    return Mark(line, column - 1, max(end - 1, column), place.caption)


def _heading_line(document: Document, place: Place) -> int:
    """The line with the heading of the table that a place is in; 0 where there is none."""
    if place.span is not None:
        return 0
    for length in range(len(place.path) - 1, 0, -1):
        path = place.path[:length]
        span = document.value_span(path)
        if span is None or document.text[span.start : span.start + 1] != "[":
            continue
        if isinstance(value_at(document.values, path), dict):
            return document.position(span.start)[0]
    return 0


def _body_lines(document: Document, place: Place) -> Iterator[int]:
    """The first lines under a heading that a place points at: they say what the part is."""
    if place.span is not None or not isinstance(value_at(document.values, place.path), dict):
        return
    span = document.span(place.path)
    line = document.position(span.start)[0]
    if document.text[span.start : span.start + 1] != "[":
        return
    for number in range(line + 1, line + 1 + BODY):
        text = document.line_text(number).strip()
        if not text or text.startswith(("[", "#")):
            return
        yield number


class Window:
    """What is printed of a line: all of it, or, where it is too long, a window around its first mark."""

    def __init__(self, line: str, marks: list[Mark], room: int) -> None:
        start, end = (marks[0].start, marks[0].end) if marks else (0, 0)
        first, stop = max(0, start - room), min(len(line), end + room)
        pieces = _printed_chars(line[first:stop])
        left, right = 0, len(pieces)
        whole = first == 0 and stop == len(line)
        if not whole or sum(width(piece) for piece in pieces) > room:
            left, right = _window_ends(pieces, start - first, end - first, room - 2 * len(CUT))
        self.pieces = pieces[left:right]
        self.first, self.stop = first + left, first + right
        self.more = self.stop < len(line)
        self.lead = CUT if self.first > 0 else ""
        self.text = self.lead + "".join(self.pieces) + (CUT if self.more else "")

    def _cell(self, index: int) -> int:
        """The cell in which a character of the line starts."""
        return len(self.lead) + sum(width(piece) for piece in self.pieces[: max(0, index - self.first)])

    def pointer(self, mark: Mark, room: int, paint: Callable[[str], str]) -> Iterator[str]:
        """The marker under a mark with its caption beside it, or below where there is no room."""
        caption = plain(mark.caption)
        if self.more and mark.start >= self.stop:
            yield f"at column {mark.start + 1}: {caption}".removesuffix(": ")
            return
        start, end = self._cell(mark.start), self._cell(mark.end)
        marker = " " * start + paint("^" * max(1, end - start))
        taken = max(end, start + 1)
        if not caption or taken + 1 + width(caption) <= room:
            yield f"{marker} {caption}".rstrip()
            return
        yield marker
        indent = " " * min(start, room // 2)
        yield from wrap(caption, room, indent, indent)


def _printed_chars(text: str) -> list[str]:
    """Each character as it is printed: tabs as spaces, and as escapes what could drive a terminal."""
    pieces, at = [], 0
    for char in text:
        piece = " " * (TAB - at % TAB) if char == "\t" else printable_char(char)
        pieces.append(piece)
        at += char_width(piece) if len(piece) == 1 else len(piece)
    return pieces


def _window_ends(pieces: list[str], start: int, end: int, room: int) -> tuple[int, int]:
    """The ends of the window: the marked text, then up to a third of the room before it, then what follows."""
    left, right = start, start
    used = 0
    while right < min(end, len(pieces)) and used + width(pieces[right]) <= room:
        used += width(pieces[right])
        right += 1
    third = used + max(0, room - used) // 3
    while left > 0 and used + width(pieces[left - 1]) <= third:
        left -= 1
        used += width(pieces[left])
    while right < len(pieces) and used + width(pieces[right]) <= room:
        used += width(pieces[right])
        right += 1
    while left > 0 and used + width(pieces[left - 1]) <= room:
        left -= 1
        used += width(pieces[left])
    return left, right
