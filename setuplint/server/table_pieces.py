"""Paths of keys and values: what is at a path, and which path is at an offset of the text.

The kept tables of a document are pieces, of which what was made once holds while they stay: names, colours, folds.

Offsets in what is made of a piece count from its heading.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator
from typing import Any, TypeVar

from setuplint.named_tuple import NamedTuple
from setuplint.source import Document, Path, Span
from setuplint.source.kept_tables import KeptTable

T = TypeVar("T")
Entry = tuple[Path, Any]


class TablePiece(NamedTuple):
    """A kept table: its path and values, and its heading."""

    table: KeptTable
    path: Path
    values: Any
    heading: Span

    @property
    def start(self) -> int:
        return self.heading[0]

    @property
    def end(self) -> int:
        """Where the next heading may start."""
        return self.start + self.table.size

    def entries(self) -> list[Entry]:
        return [(self.path, self.values), *entries_below(self.values, self.path)]

    def made(self, what: Hashable, make: Callable[[list[Entry], int], T], basis: object = None) -> T:
        """What `make` makes of its entries and its start; once while it is the same table, and `basis` equal."""
        known = self.table.made.get(what)
        if known is None or known[0] != basis:
            known = self.table.made[what] = basis, make(self.entries(), self.start)
        result: T = known[1]
        return result


def pieces(document: Document) -> list[TablePiece | list[Entry]]:
    """A document's entries in their order, those of kept tables as pieces."""
    kept = {} if document.kept is None else document.kept.by_values
    found: list[TablePiece | list[Entry]] = []

    def note(path: Path, value: Any) -> bool:
        table = kept.get(id(value)) if isinstance(path[-1], str) else None
        span = document.value_span(path) if table is not None else None
        if table is None or span is None:
            return False
        found.append(TablePiece(table, path, value, span))
        return True

    for top, value in document.values.items():
        if note((top,), value):
            continue
        found.append([((top,), value)])
        if isinstance(value, list):
            found.append(entries_below(value, (top,)))
        elif isinstance(value, dict):
            for name, part in value.items():
                if not note((top, name), part):
                    inner = entries_below(part, (top, name)) if isinstance(part, dict | list) else []
                    found.append([((top, name), part), *inner])
    return found


def path_at(document: Document, offset: int) -> Path | None:
    """The innermost key or value that an offset is in, or just after."""
    best: tuple[int, Path] | None = None
    for each in pieces(document):
        if isinstance(each, TablePiece) and not each.start <= offset <= each.end:
            continue
        for path, _ in each.entries() if isinstance(each, TablePiece) else each:
            for span in spans_at(document, path, offset):
                size = span.end - span.start
                if best is None or size <= best[0]:
                    best = size, path
    return None if best is None else best[1]


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
