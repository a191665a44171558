"""What `reader` and `faults` share: the common forms of TOML as regular expressions, and our limits."""

import re

from setuplint.source.marks import Items, Table

TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Callable
    from typing import Any

MAX_SIZE = 1_000_000
MAX_DEPTH = 100
MAX_PROBLEMS = 50

# Quantifiers of single characters are possessive, so that no text makes these backtrack.
COMMENT = r"#[^\x00-\x08\x0a-\x1f\x7f]*+"
_BLANK = rf"[ \t\n]*+(?:(?:{COMMENT})?\r?\n[ \t\n]*+)*"

blank: "Callable[[str, int], re.Match[str]]" = re.compile(_BLANK).match  # type: ignore[assignment]  # always matches
tail = re.compile(rf"[ \t]*+(?:{COMMENT})?(?:\r?\n{_BLANK}|\Z)").match
plain_key = re.compile(r"([A-Za-z0-9_.-]++)[ \t]*+=[ \t]*+").match
plain_heading = re.compile(r"\[([A-Za-z0-9_.-]++)\]|\[\[([A-Za-z0-9_.-]++)\]\]").match
unopened_heading = re.compile(r"[A-Za-z][A-Za-z0-9_.-]*+\]\]?+[ \t]*+(?=#|\r?\n|\Z)").match  # its first bracket is gone
next_plain_heading = re.compile(r"\n[ \t]*+\[\[?[A-Za-z0-9_.-]++\]").search
plain_scalar = re.compile(r'"[^"\\\x00-\x08\x0a-\x1f\x7f]*+"|[A-Za-z0-9_+.:-]++').match

LOST: "Any" = object()
"""Stands for a value that could not be read, though its end was found."""

KeyStep = tuple[str, int, int]
"""One name of a dotted key, with its start and end."""

Value = tuple["Any", int, Table | Items | None]
"""A value or LOST, where it ends, and the marks inside it."""


class StatementLost(Exception):
    """The statement in hand cannot be read; reading goes on at `resume`."""

    def __init__(self, resume: int) -> None:
        self.resume = resume


def dotted_steps(key: str, start: int) -> list[KeyStep] | None:
    """The steps of a dotted bare key that begins at `start`; None if one is empty."""
    if "." not in key:
        return [(key, start, start + len(key))]
    steps = []
    for name in key.split("."):
        if not name:
            return None
        steps.append((name, start, start + len(name)))
        start += len(name) + 1
    return steps
