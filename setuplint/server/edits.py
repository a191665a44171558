"""Edits of a text: pieces of it replaced, and the smallest replacement between two texts."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from setuplint.named_tuple import NamedTuple
from setuplint.source import Document, Span


class Replacement(NamedTuple):
    """Text in place of a span of a document."""

    document: Document
    span: Span
    text: str


def edited_text(text: str, changes: Iterable[tuple[Span, str]]) -> str:
    """A text with each span replaced; the spans do not overlap."""
    for span, new in sorted(changes, reverse=True):
        text = text[: span.start] + new + text[span.end :]
    return text


def line_end(text: str) -> str:
    """How a text ends its lines."""
    return "\r\n" if "\r\n" in text else "\n"


def common_ends(old: Sequence[str], new: Sequence[str]) -> tuple[int, int]:
    """How many items two sequences share at their start, and at their end behind that."""
    most = min(len(old), len(new))
    start = next((n for n in range(most) if old[n] != new[n]), most)
    end = next((n for n in range(most - start) if old[-1 - n] != new[-1 - n]), most - start)
    return start, end


def smallest_replacement(document: Document, text: str) -> Replacement:
    """The smallest replacement that makes a document's text another."""
    old = document.text
    start, end = common_ends(old, text)
    return Replacement(document, Span(start, len(old) - end), text[start : len(text) - end])
