"""Paths of keys and values: what is at a path, and which path is at an offset of the text."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from setuplint.source import Document, Path, Span


def entries(document: Document) -> list[tuple[Path, Any]]:
    """Every key and list item with its value, outer ones first."""
    return entries_below(document.values, ())


def entries_below(values: Any, path: Path) -> list[tuple[Path, Any]]:
    """The same below one path, with its values."""
    found: list[tuple[Path, Any]] = []
    _collect(values, path, found)
    return found


def _collect(values: Any, path: Path, found: list[tuple[Path, Any]]) -> None:
    items = values.items() if isinstance(values, dict) else enumerate(values)
    for step, value in items:
        here = (*path, step)
        found.append((here, value))
        if isinstance(value, dict | list):
            _collect(value, here, found)


def spans_at(document: Document, path: Path, offset: int) -> Iterator[Span]:
    """The spans of a path's keys and value that an offset is in, or just after."""
    for span in (*document.key_spans(path), document.value_span(path)):
        if span is not None and span.start <= offset <= span.end:
            yield span


def span_within(document: Document, path: Path, start: int, end: int) -> Span:
    """The place in the text of a piece of the string at a path, given by offsets in the decoded string."""
    whole = document.value_span(path)
    assert whole is not None
    text = document.text
    if text[whole.start] != text[whole.start + 1] and "\\" not in text[whole.start : whole.end]:
        return Span(whole.start + 1 + start, whole.start + 1 + end)  # most strings
    return Span(document.string_offset(path, start), document.string_offset(path, end))
