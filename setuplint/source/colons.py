"""What is meant where a colon stands after a key, as in other formats."""

import re

from setuplint.source import scalars
from setuplint.source.forms import plain_scalar, tail

TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Callable

LONGEST = 40  # characters of a key or a value that a message repeats
_NUMBER = r"[+-]?(?:0|[1-9][0-9]*)(?:\.[0-9]+)?"
_ROW = rf"\[ *{_NUMBER}(?: *, *{_NUMBER})* *\]"
_numbers = re.compile(rf"{_ROW}|\[ *{_ROW}(?: *, *{_ROW})* *\]").match
_spaces: "Callable[[str, int], re.Match[str]]" = re.compile(r"[ \t]*+").match  # type: ignore[assignment]


def value_after_colon(text: str, pos: int) -> str:
    """What is certainly meant where a key stands with a colon, as TOML writes it; empty where that is not plain."""
    if not text.startswith(":", pos):
        return ""
    start = _spaces(text, pos + 1).end()
    found = plain_scalar(text, start) or _numbers(text, start)
    if found is not None and tail(text, found.end()) is not None and len(found[0]) <= LONGEST:
        word = found[0]
        if word[0] in '["' or word in ("true", "false") or scalars.scalar_value(word) is not None:
            return word
    end = text.find("\n", start)
    value = text[start : end if end >= 0 else len(text)].partition("#")[0].strip()
    is_words = value[:1].isalpha() and value.isprintable() and not {'"', "\\"} & set(value)
    return f'"{value}"' if is_words and len(value) <= LONGEST else ""
