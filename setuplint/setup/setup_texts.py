"""Whether the bytes of a file are a set-up's, also where they are too many to be read."""

from __future__ import annotations

import re
from functools import cache

from setuplint.setup.top_keys import TOP_KEYS, is_setup
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
