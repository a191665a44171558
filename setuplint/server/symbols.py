"""A text's outline, and what of it can be folded."""

from __future__ import annotations

from typing import NamedTuple

from setuplint.server.names import TABLES, value
from setuplint.source import Document, Path, Span


class Symbol(NamedTuple):
    """A table or a named part: `span` is all of it, `head` its name."""

    name: str
    kind: str
    span: Span
    head: Span
    under: tuple[Symbol, ...] = ()


def outline(document: Document) -> list[Symbol]:
    """Every top table, with its named parts under it, in the order of the text."""
    heads = headings(document)
    found: dict[str, list[Symbol]] = {}
    order: list[str] = []
    for number, (path, head) in enumerate(heads):
        end = heads[number + 1][1].start if number + 1 < len(heads) else len(document.text)
        top = str(path[0])
        if top not in found:
            order.append(top)
        name = ".".join(str(step) if isinstance(step, str) else f"[{step + 1}]" for step in path[1:]) or top
        kind = TABLES.get(top, "table")
        found.setdefault(top, []).append(Symbol(name, kind, Span(head.start, _trim(document, head.start, end)), head))
    symbols = []
    for top in order:
        parts = found[top]
        if len(parts) == 1 and parts[0].name == top:
            symbols.append(parts[0])
        else:
            own = [part for part in parts if part.name != top]
            whole = Span(parts[0].span.start, max(part.span.end for part in parts))
            symbols.append(Symbol(top, "table", whole, parts[0].head, tuple(own)))
    return symbols


def headings(document: Document) -> list[tuple[Path, Span]]:
    """Every heading with its path, in the order of the text."""
    found: list[tuple[Path, Span]] = []

    def look(path: Path) -> None:
        held = value(document.values, path)
        steps: list[str | int] = (
            list(held) if isinstance(held, dict) else list(range(len(held))) if isinstance(held, list) else []
        )
        for step in steps:
            here = (*path, step)
            span = document.value_span(here)
            if (
                span is not None
                and document.text.startswith("[", span.start)
                and _begins_line(document.text, span.start)
            ):
                found.append((here, span))
            if isinstance(value(document.values, here), dict | list):
                look(here)

    look(())
    return sorted(found, key=lambda item: item[1].start)


def _begins_line(text: str, at: int) -> bool:
    return not text[text.rfind("\n", 0, at) + 1 : at].strip()


def _trim(document: Document, start: int, end: int) -> int:
    """The end without the blank lines and comments before the next heading."""
    text = document.text[start:end].rstrip()
    lines = text.split("\n")
    while len(lines) > 1 and (not lines[-1].strip() or lines[-1].lstrip().startswith("#")):
        lines.pop()
    return start + len("\n".join(lines))


def folds(document: Document) -> list[Span]:
    """Every part under a heading, and every value over several lines."""
    return [symbol.span for top in outline(document) for symbol in (top, *top.under)]
