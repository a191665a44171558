"""Text in Markdown as repository hosts show it: what may come from strangers stays text, and nothing else.

`escaped` is for Markdown, `escaped_html` for text between HTML tags, where Markdown is not read, `code_span` for code.
None lets markup, a link, a mention, a reference to an issue or an emoji through, and all keep to one line.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Sequence
from html import unescape

from setuplint.formats.sarif_places import path_in_root, quoted_path
from setuplint.formats.terminal import FIXED_SPACE, plain

LIMIT = 65_000  # bytes; hosts take comments of some 65,536 characters
_MOST = 1_500  # characters of one text

JOINER = "&#8288;"  # a word joiner: invisible, it separates what would be read together
_JOIN = "\0"  # in place of a joiner while the text is worked on; no text has it
_MEANS = re.compile(r"@|#(?=\w)|:(?=//)|www(?=\.)|(?:mailto|xmpp):|GH-(?=\d)|[!~%](?=\w)|:(?=[\w+-]+:)", re.IGNORECASE)
_MARKS = re.compile(r"[\\`*_\[\]|~$]")
_HTML = {"&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;", "'": "&#39;"}


def escaped(text: str, most: int = _MOST) -> str:
    """Text in Markdown, also in a table's cell; what is longer than `most` characters is cut, and says so."""
    shown = _MARKS.sub(lambda mark: "\\" + mark[0], _unlinked(text, most))
    shown = re.sub("[&<>]", lambda char: _HTML[char[0]], shown)
    shown = re.sub(r"^(\d*)(?=[#+=.)-])", lambda digits: f"{digits[0]}\\", shown)
    return shown.replace(_JOIN, JOINER)


def escaped_html(text: str, most: int = _MOST) -> str:
    """Text between tags, such as a `<summary>`."""
    shown = re.sub("[&<>\"']", lambda char: _HTML[char[0]], _unlinked(text, most))
    return shown.replace(_JOIN, JOINER)


def code_span(text: str, most: int = 300) -> str:
    """Text as it is, in a code span; not for a table's cell, which a bar would split."""
    shown = _one_line(text, most) or " "
    fence = "`" * (max(map(len, re.findall("`+", shown)), default=0) + 1)
    space = " " if shown.startswith("`") or shown.endswith("`") else ""
    return f"{fence}{space}{shown}{space}{fence}"


def without_markup(markdown: str) -> str:
    """Markdown of ours as text: without its stars, fences and escapes."""
    pieces = re.split(r"^```.*\n?", markdown, flags=re.MULTILINE)
    for n in range(0, len(pieces), 2):  # the others are code
        bare = re.sub(r"(?<!\\)[*`]", "", pieces[n]).replace(JOINER, "")
        pieces[n] = unescape(re.sub(r"\\(.)", r"\1", bare))
    return "".join(pieces).strip()


def folded(title: str, body: str) -> str:
    """Something that opens at a click. `title` is text, `body` Markdown."""
    return f"<details><summary>{escaped_html(title)}</summary>\n\n{body.strip()}\n\n</details>"


def number_table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A table of Markdown cells, as `escaped` gives them; all but the first column are numbers, aligned right."""
    lines = [heads, ["---", *("--:" for _ in heads[1:])], *rows]
    return "\n".join(f"| {' | '.join(line)} |" for line in lines)


def byte_size(text: str) -> int:
    """How many bytes of `LIMIT` a text takes."""
    return len(text.encode(errors="replace"))


def _unlinked(text: str, most: int) -> str:
    return _MEANS.sub(lambda found: found[0] + _JOIN, _one_line(text, most))


def _one_line(text: str, most: int) -> str:
    words = plain(" ".join(text.replace(FIXED_SPACE, " ").split()))
    return words if len(words) <= most else f"{words[:most]}... ({len(words) - most:,} more characters)"


def place_link(shown: str, name: str, line: int, address: str) -> str:
    """A place as it is shown, in Markdown; where the address is known (and the file is there) a link to its line."""
    path = path_in_root(name) if address and os.path.lexists(name) else None
    return shown if path is None else f"[{shown}](<{address}/{quoted_path(path)}#L{line}>)"
