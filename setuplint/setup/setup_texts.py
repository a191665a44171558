"""What tells a set-up from any other TOML file: the keys and tables at its top; also where its bytes are too many to be read."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from functools import cache

from setuplint.hints import Any
from setuplint.source import Document, parsed_document

ANY_KEY = re.compile(rb"^[ \t]*[A-Za-z0-9_\"'\[-]", re.MULTILINE)
LARGEST = 1_000_000  # bytes: a setup with everything the format allows is far smaller


def is_setup_text(data: bytes) -> bool:
    """Whether a file's bytes are a set-up. Of more than LARGEST it is the first that say; where nothing of anybody else's stands
    among these, it is one: a set-up is not made too large to be looked at by filling it up with comments."""
    large = len(data) > LARGEST
    if not may_be_setup(data[:LARGEST]):
        return large and ANY_KEY.search(data[:LARGEST]) is None
    document = parsed_document(data[:LARGEST])
    return holds_setup(document) or (large and document.values.keys() <= TOP_KEYS)


def may_be_setup(data: bytes) -> bool:
    """Whether some line could be a key or table of ours: worth reading to find out. A carriage return alone may end one."""
    data = data.replace(b"\0", b"") if b"\0" in data else data
    return _ours().search(data.replace(b"\r", b"\n") if b"\r" in data else data) is not None


def holds_setup(document: Document) -> bool:
    """Whether what was read of a file is a set-up, or what is left of one."""
    return is_setup(document.values, document.broken)


@cache
def _ours() -> re.Pattern[bytes]:
    """A line that begins with a key of ours, quoted or in brackets or not, or with one that has an escape. What cannot begin
    a key may come before it: a byte-order mark."""
    names = "|".join(sorted(TOP_KEYS)).encode()
    no_key = rb"[^A-Za-z0-9_\"'\[#\n-]*+"
    return re.compile(rb"^%s(?:\[\[?+[ \t]*+)?+(?:[\"']?+(?:%s)\b|\"[^\"\n]*?\\)" % (no_key, names), re.MULTILINE)


TABLES = frozenset(
    (
        "craft", "battery", "packs", "receiver-supply", "sticks", "knobs",
        "switches", "sensors", "conditions", "modes", "curves", "channels",
        "overrides", "alarms", "failsafe", "timers", "field", "swash",
        "start", "trainer", "intent", "claims", "waivers",
    )
)  # fmt: skip
TOP_KEYS = TABLES | {"format", "extends"}


def is_setup(values: Mapping[str, Any], broken: Iterable[tuple[str | int, ...]] = ()) -> bool:
    """Whether what was read is a set-up: it has a `format` that is a whole number and a table of ours, or two tables of ours.
    What was lost with a line counts as what its name says, so that no mistake makes a set-up somebody else's file."""
    lost = {path[0] for path in broken if path} - values.keys()
    tables = (TABLES & lost) | {key for key in TABLES & values.keys() if _is_table(values[key])}
    has_format = type(values.get("format")) is int or "format" in lost
    return len(tables) >= (1 if has_format else 2)


def is_begun(values: Mapping[str, Any], broken: Iterable[tuple[str | int, ...]] = ()) -> bool:
    """Whether it is a set-up of which no more than the first keys stand: a `format`, and nothing of anybody else's."""
    return type(values.get("format")) is int and is_nobody_elses(values, broken)


def is_nobody_elses(values: Mapping[str, Any], broken: Iterable[tuple[str | int, ...]] = ()) -> bool:
    """Whether no key at the top is one that set-ups do not have, apart from what is still being typed."""
    return values.keys() - {path[0] for path in broken if len(path) == 1} <= TOP_KEYS


def _is_table(value: Any) -> bool:
    """A table, or the tables of a list."""
    return isinstance(value, dict) or (isinstance(value, list) and bool(value) and isinstance(value[0], dict))
