"""A text's outline, and what of it can be folded."""

from __future__ import annotations

from itertools import groupby
from typing import NamedTuple

from setuplint.server.occurrences import TABLES, value, walk
from setuplint.source import Document, Path, Span


class Symbol(NamedTuple):
    """A table or a named part: `span` is all of it, `head` its heading, `about` a few words on it."""

    name: str
    kind: str
    span: Span
    head: Span
    about: str = ""
    under: tuple[Symbol, ...] = ()


def outline(document: Document) -> list[Symbol]:
    """The tables in the order of the text; parts of one kind that follow each other are under their table."""
    heads = headings(document)
    ends = [*[head.start for _, head in heads[1:]], len(document.text)][: len(heads)]
    parts = [_part(document, path, head, end) for (path, head), end in zip(heads, ends, strict=True)]
    found: list[Symbol] = []
    for top, group in groupby(zip(heads, parts, strict=True), key=lambda each: str(each[0][0][0])):
        run = [symbol for _, symbol in group]
        named = [symbol for symbol in run if symbol.name != top]
        if not named:
            found += run
            continue
        head = next((symbol.head for symbol in run if symbol.name == top), named[0].head)
        found.append(Symbol(top, "table", Span(run[0].span.start, run[-1].span.end), head, under=tuple(named)))
    return found


def _part(document: Document, path: Path, head: Span, end: int) -> Symbol:
    top = str(path[0])
    name = ".".join(str(step) if isinstance(step, str) else f"{step + 1}" for step in path[1:]) or top
    return Symbol(
        name, TABLES.get(top, "table"), Span(head.start, _trim(document, head, end)), head, _about(document, path)
    )


def _about(document: Document, path: Path) -> str:
    """What a part says of itself in one value."""
    held = value(document.values, path)
    if isinstance(held, dict):
        for key in ("name", "kind", "reads", "drives", "channel", "when", "never", "always", "rule", "servos"):
            if isinstance(held.get(key), str):
                return str(held[key])[:80]
    return ""


def headings(document: Document) -> list[tuple[Path, Span]]:
    """Every heading with its path, in the order of the text."""
    found: list[tuple[Path, Span]] = []
    for path, held in walk(document):
        key, span = document.key_span(path), document.value_span(path)
        if isinstance(held, dict) and key is not None and span is not None and span.start <= key.start < span.end:
            found.append((path, span))
    return sorted(found, key=lambda item: item[1].start)


def _trim(document: Document, head: Span, end: int) -> int:
    """The end without blank lines and comments before the next heading."""
    lines = document.text[head.end : end].rstrip().split("\n")
    while len(lines) > 1 and (not lines[-1].strip() or lines[-1].lstrip().startswith("#")):
        lines.pop()
    return head.end + len("\n".join(lines).rstrip())


def folds(document: Document) -> list[Span]:
    """Every part under a heading, runs of them, and every value over several lines."""
    found = [symbol.span for top in outline(document) for symbol in (top, *top.under)]
    for path, held in walk(document):
        span = document.value_span(path)
        if isinstance(held, list) and span is not None and "\n" in document.text[span.start : span.end]:
            found.append(span)
    return found
