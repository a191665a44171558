"""A finding's edit put into the text of its file."""

from __future__ import annotations

from collections.abc import Iterator
from copy import deepcopy
from typing import Any

from setuplint.findings import Edit
from setuplint.formats.toml import toml_key as written
from setuplint.setup.problems import value_at
from setuplint.source import Document, Path, Span, parsed_document


def edited_text(document: Document, edit: Edit) -> str | None:
    """The text with one value set and every other character as it was. None where that cannot be done: the text is not
    all TOML, or the value would end up elsewhere."""
    found = replacement(document, edit)
    return _replaced(document, *found) if found else None


def replacement(document: Document, edit: Edit) -> tuple[Span, str] | None:
    """The stretch of the text that the edit replaces, and its replacement; None as in `edited_text`."""
    given = parsed_document(f"value = {edit.value}\n")
    if document.problems or given.problems or not edit.path:
        return None
    found = _edit_place(document, edit)
    if found is None:
        return None
    wanted = deepcopy(document.values)
    now = parsed_document(_replaced(document, *found))
    if now.problems or not _put_at(wanted, edit.path, given.values["value"]) or now.values != wanted:
        return None
    return found


def _replaced(document: Document, span: Span, text: str) -> str:
    return document.text[: span.start] + text + document.text[span.end :]


def _edit_place(document: Document, edit: Edit) -> tuple[Span, str] | None:
    """What to replace, and with what, before it is tried."""
    *way, last = edit.path
    table = tuple(way)
    span, key = document.value_span(edit.path), document.key_span(edit.path)
    if span is not None:
        old = document.text[span.start : span.end]
        if (key is not None and _is_heading(key, span)) or ("\n" in old and "#" in old):
            return None  # a whole table, or a value with comments in it
        return span, edit.value
    if not isinstance(last, str):
        return None
    line = f"{written(last)} = {edit.value}"
    heading = document.value_span(table)
    if heading is not None and document.text.startswith("{", heading.start):
        ends = [end for end, _ in _own_keys(document, table)]
        if ends:
            return Span(max(ends), max(ends)), f", {line}"
        return heading, f"{{ {line} }}"
    keys = list(_own_keys(document, table))
    if keys:
        end, prefix = max(keys)
        return _line_below(document, end, prefix + line)
    if heading is not None:
        return _line_below(document, heading.end, _indent(document, heading.start) + line)
    return _new_table(document, table, line)


def _line_below(document: Document, end: int, line: str) -> tuple[Span, str]:
    """A line of its own under the one in which something ends."""
    newline = document.text.find("\n", end)
    if newline < 0:
        size = len(document.text)
        return Span(size, size), _line_end(document) + line
    return Span(newline + 1, newline + 1), line + _line_end(document)


def _new_table(document: Document, table: Path, line: str) -> tuple[Span, str] | None:
    """A table of its own, after all others."""
    names = [written(name) for name in table if isinstance(name, str)]
    if not names or len(names) < len(table):
        return None
    end = _line_end(document)
    gap = end if document.text.endswith("\n") else end * 2
    size = len(document.text)
    return Span(size, size), f"{gap}[{'.'.join(names)}]{end}{line}{end}"


def _line_end(document: Document) -> str:
    """The line ending of the file's first line."""
    newline = document.text.find("\n")
    return "\r\n" if newline > 0 and document.text[newline - 1] == "\r" else "\n"


def _indent(document: Document, at: int) -> str:
    """The text before a place in its line."""
    return document.text[document.text.rfind("\n", 0, at) + 1 : at]


def _own_keys(document: Document, table: Path) -> Iterator[tuple[int, str]]:
    """The keys in a table's own lines, not those under headings within it: where the value of each ends, and the text before
    the key in its line, which for dotted keys has the dots."""
    for name in _table_at(document, table):
        child = (*table, name)
        key, span = document.key_span(child), document.value_span(child)
        if key is None:
            continue
        if span is None:  # made by dotted keys, or on the way to a heading
            for end, _ in _own_keys(document, child):
                yield end, _indent(document, key.start)
        elif not _is_heading(key, span):
            yield span.end, _indent(document, key.start)


def _is_heading(key: Span, value: Span) -> bool:
    """Whether a table has a heading: then its name is in the span of its value."""
    return key.start >= value.start


def _table_at(document: Document, path: Path) -> dict[str, Any]:
    """The table at a path; an empty one where there is none."""
    found = value_at(document.values, path)
    return found if isinstance(found, dict) else {}


def _put_at(values: Any, path: Path, value: Any) -> bool:
    """Put a value at a path. Whether that was possible."""
    *way, last = path
    holder: Any = values
    try:
        for step in way:
            holder = holder.setdefault(step, {}) if isinstance(holder, dict) else holder[step]
        holder[last] = value
    except (IndexError, TypeError):
        return False
    return True
