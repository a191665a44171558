"""Text for a terminal: its width, its colours, and characters that must not reach it."""

from __future__ import annotations

import re
from collections.abc import Iterator

from setuplint.named_tuple import NamedTuple

TAB = 4  # cells to the next stop, in what is printed
FIXED_SPACE = "\u00a0"  # wrapping keeps what it joins together; it is printed as a space

_COLOURS = {"danger": "1;31", "caution": "1;33", "notice": "1;36"}
_ENTERED = {"\t": "\\t", "\n": "\\n", "\r": "\\r"}


class Look(NamedTuple):
    """Where the text goes: cells in a line, whether the signal words are coloured, and for links in Markdown the address under
    which the files of the repository can be seen."""

    width: int = 80
    colour: bool = False
    link: str = ""

    def paint(self, text: str, signal: str) -> str:
        """The text in the colour of a signal word."""
        code = _COLOURS.get(signal) if self.colour else None
        return f"\x1b[{code}m{text}\x1b[0m" if code and text else text


def printable_char(char: str) -> str:
    """A character that is safe to print: control, invisible and direction-changing ones become escapes."""
    if " " <= char <= "~":
        return char
    from unicodedata import category

    if category(char) in ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"):
        return _ENTERED.get(char) or _escape(ord(char))
    return char


def _escape(code: int) -> str:
    return f"\\x{code:02x}" if code < 0x100 else f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"


def plain(text: str) -> str:
    """Text from a file, or a file's name, with nothing in it that could drive a terminal."""
    if text.isprintable():
        return text
    return "".join(map(printable_char, text))


def log_safe(text: str) -> str:
    """What is written, with nothing in it that the log of a host takes for a command: a line that begins with two colons, or
    `##` and a bracket anywhere. The escape is one that JSON has too."""
    if "::" in text:
        text = re.sub(r"^([^\S\n]*):(?=:)", r"\1\\u003a", text, flags=re.MULTILINE)
    return re.sub(r"##(?=\w*\[)", r"#\\u0023", text) if "##" in text else text


def char_width(char: str) -> int:
    """How many cells of a terminal a printable character takes."""
    if char < "\u0300":
        return 1
    from unicodedata import category, east_asian_width

    if category(char) in ("Mn", "Me"):
        return 0
    return 2 if east_asian_width(char) in "WF" else 1


def width(text: str) -> int:
    """How many cells a printable text takes."""
    return len(text) if text.isascii() else sum(map(char_width, text))


def wrap(text: str, room: int, first: str = "", rest: str = "") -> Iterator[str]:
    """The words of a text in lines of at most `room` cells, the first with one indent and the others with another. A
    word that is too long stands alone."""
    line, used, indent = first, width(first), first
    for word in text.split(" "):
        if not word:
            continue
        takes = width(word)
        if line != indent and used + 1 + takes > room:
            yield line.replace(FIXED_SPACE, " ")
            line, used, indent = rest, width(rest), rest
        if line == indent:
            line, used = line + word, used + takes
        else:
            line, used = f"{line} {word}", used + 1 + takes
    yield line.rstrip(" ").replace(FIXED_SPACE, " ")
