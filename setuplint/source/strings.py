"""The four kinds of TOML string: their text, their faults, and where each character of them was written."""

import re

CONTROL = r"\x00-\x08\x0a-\x1f\x7f"
"""What may not stand in a string or comment of one line, line ends included; for a character class."""

Fault = tuple[int, int, str, str]
"""Start, end, what is wrong, what to do."""

_ESCAPES = {"b": "\b", "t": "\t", "n": "\n", "f": "\f", "r": "\r", '"': '"', "\\": "\\"}
_BASIC = re.compile(
    rf'([^"\\{CONTROL}]++)'
    r"|(\r?\n)"
    r"|(\\[ \t]*+\r?\n(?:[ \t]|\r?\n)*)"
    r'|(\\(?:[btnfr"\\]|u[0-9A-Fa-f]{4}|U[0-9A-Fa-f]{8}))'
    r'|("++)'
).match
_RUN, _NEWLINE, _JOIN, _ESCAPE, _QUOTES = 1, 2, 3, 4, 5
_NOT_LITERAL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]|\r(?!\n)").search
_END_OF_LINE = re.compile(r"\r?\n|\Z").search


class Scan:
    """A string as scanned: where it ends, or -1 if it is not closed, its decoded pieces and where each was written."""

    __slots__ = ("close", "end", "faults", "pieces", "places")

    def __init__(self) -> None:
        self.end = -1
        self.close = -1
        self.pieces: list[str] = []
        self.places: list[int] = []
        self.faults: list[Fault] = []

    def add(self, place: int, piece: str) -> None:
        self.places.append(place)
        self.pieces.append(piece)


def scanned_string(text: str, start: int, multi_line: bool = True) -> Scan:
    """Scan the string whose opening quote stands at `start`; with `multi_line` false, three quotes do not open one."""
    quote = text[start]
    many = multi_line and text.startswith(quote * 3, start)
    found = Scan()
    pos = start + 3 if many else start + 1
    if many:
        # The line end right after the opening quotes is not part of the string.
        pos += 2 if text.startswith("\r\n", pos) else text.startswith("\n", pos)
    if quote == '"':
        _scan_basic(text, pos, many, found)
    else:
        _scan_literal(text, pos, many, found)
    return found


def offset_of(text: str, start: int, index: int) -> int:
    """The offset of character `index` of the string that opens at `start`; at most that of its closing quote."""
    found = scanned_string(text, start)
    index = max(index, 0)
    for place, piece in zip(found.places, found.pieces, strict=True):
        if index < len(piece):
            return place + index if text.startswith(piece, place) else place
        index -= len(piece)
    return found.close


def _scan_basic(text: str, pos: int, many: bool, found: Scan) -> None:
    while True:
        match = _BASIC(text, pos)
        if match is None:
            if pos >= len(text):
                return
            pos = _bad_character(text, pos, found)
            continue
        kind, end = match.lastindex, match.end()
        if kind == _RUN:
            found.add(pos, match[0])
        elif kind == _ESCAPE:
            _add_escape(match[0], pos, found)
        elif kind == _QUOTES:
            count = end - pos if many else 3
            if count >= 3:
                inside = min(count - 3, 2)
                found.add(pos, '"' * inside)
                found.close = pos + inside
                found.end = found.close + (3 if many else 1)
                return
            found.add(pos, match[0])
        elif not many:
            return
        elif kind == _NEWLINE:
            found.add(pos, "\n")
        pos = end


def _add_escape(escape: str, pos: int, found: Scan) -> None:
    short = _ESCAPES.get(escape[1])
    if short is not None:
        found.add(pos, short)
        return
    code = int(escape[2:], 16)
    if code > 0x10FFFF or 0xD800 <= code <= 0xDFFF:
        found.faults.append(
            (pos, pos + len(escape), f"`{escape}` is not a character.", "Give the number of a Unicode character.")
        )
    else:
        found.add(pos, chr(code))


def _bad_character(text: str, pos: int, found: Scan) -> int:
    if text[pos] != "\\":
        found.faults.append((pos, pos + 1, *control_character(text[pos])))
        return pos + 1
    following = text[pos + 1 : pos + 2]
    end = pos + 1 if following in ("\r", "\n", "") else pos + 2
    found.faults.append(
        (
            pos,
            end,
            f"`{text[pos:end]}` is not an escape that TOML knows.",
            "Write `\\\\` for a backslash, or put the text in single quotes.",
        )
    )
    return end


def _scan_literal(text: str, pos: int, many: bool, found: Scan) -> None:
    if many:
        close = text.find("'''", pos)
        if close < 0:
            return
        for _ in range(2):
            close += text.startswith("'''", close + 1)
        found.end = close + 3
    else:
        match = _END_OF_LINE(text, pos)
        close = text.find("'", pos, match.start() if match else len(text))
        if close < 0:
            return
        found.end = close + 1
    found.close = close
    bad = _NOT_LITERAL(text, pos, close)
    while bad is not None:
        found.faults.append((bad.start(), bad.end(), *control_character(bad[0])))
        bad = _NOT_LITERAL(text, bad.end(), close)
    if not many:
        found.add(pos, text[pos:close])
        return
    while pos < close:
        newline = text.find("\r\n", pos, close)
        end = newline if newline >= 0 else close
        found.add(pos, text[pos:end])
        if newline >= 0:
            found.add(newline, "\n")
            end += 2
        pos = end


def control_character(character: str) -> tuple[str, str]:
    """What to say of a character that TOML allows nowhere but in escaped form."""
    if character == "\r":
        return "A carriage return stands alone here.", "End lines with a line feed, as plain text editors do."
    return (
        f"An invisible control character (U+{ord(character):04X}) stands here.",
        "Delete it, and type the text around it again.",
    )
