"""The outline of a text, and what of it can be folded."""

from __future__ import annotations

from itertools import groupby

from setuplint.named_tuple import NamedTuple
from setuplint.server.occurrences import KIND_OF_TABLE
from setuplint.server.table_pieces import Entry, TablePiece, pieces
from setuplint.setup.problems import value_at
from setuplint.source import Document, Path, Span

DETAIL_KEYS = ("name", "kind", "reads", "drives", "channel", "when", "never", "always", "rule", "servos")
LONGEST_DETAIL = 80


class Symbol(NamedTuple):
    """A table or a named part: `span` is all of it, `heading` its heading, `detail` a few words on it."""

    name: str
    kind: str
    span: Span
    heading: Span
    detail: str = ""
    children: tuple[Symbol, ...] = ()


class TableHeading(NamedTuple):
    """A table's heading; `piece` where its table is kept."""

    path: Path
    span: Span
    piece: TablePiece | None = None


def outline(document: Document) -> list[Symbol]:
    """The tables in the order of the text; named parts of one kind that follow each other are under their table."""
    found = headings(document)
    ends = [*[each.span.start for each in found[1:]], len(document.text)][: len(found)]
    symbols = [_symbol(document, heading, end) for heading, end in zip(found, ends, strict=True)]
    tops: list[Symbol] = []
    for table, group in groupby(zip(found, symbols, strict=True), key=lambda each: str(each[0].path[0])):
        run = [symbol for _, symbol in group]
        named = [symbol for symbol in run if symbol.name != table]
        if not named:
            tops += run
            continue
        heading = next((symbol.heading for symbol in run if symbol.name == table), named[0].heading)
        span = Span(run[0].span.start, run[-1].span.end)
        tops.append(Symbol(table, "table", span, heading, children=tuple(named)))
    return tops


def _symbol(document: Document, heading: TableHeading, end: int) -> Symbol:
    path, span, piece = heading
    table = str(path[0])
    name = ".".join(str(step) if isinstance(step, str) else f"{step + 1}" for step in path[1:]) or table

    def rest(entries: list[Entry], start: int) -> tuple[int, str]:
        return _end_of_content(document, span, end) - start, _detail(document, path)

    if piece is not None:
        size, detail = piece.made("symbol", rest, end - span.start)  # the next heading may be one that is refused
    else:
        size, detail = rest([], span.start)
    return Symbol(name, KIND_OF_TABLE.get(table, "table"), Span(span.start, span.start + size), span, detail)


def _detail(document: Document, path: Path) -> str:
    """The value that tells most of a table."""
    values = value_at(document.values, path)
    texts = (values.get(key) for key in DETAIL_KEYS) if isinstance(values, dict) else ()
    return next((text[:LONGEST_DETAIL] for text in texts if isinstance(text, str)), "")


def headings(document: Document) -> list[TableHeading]:
    """Every heading with its path, in the order of the text."""
    found: list[TableHeading] = []
    for each in pieces(document):
        if isinstance(each, TablePiece):
            found.append(TableHeading(each.path, each.heading, each))
            continue
        for path in [path for path, value in each if isinstance(value, dict)]:
            key, span = document.key_span(path), document.value_span(path)
            if key is not None and span is not None and span.start <= key.start < span.end:
                found.append(TableHeading(path, span))
    return sorted(found, key=lambda heading: heading.span.start)


def _end_of_content(document: Document, heading: Span, end: int) -> int:
    """The end of a table, without blank lines and comments before the next heading."""
    lines = document.text[heading.end : end].rstrip().split("\n")
    while len(lines) > 1 and (not lines[-1].strip() or lines[-1].lstrip().startswith("#")):
        lines.pop()
    return heading.end + len("\n".join(lines).rstrip())


def folds(document: Document, symbols: list[Symbol]) -> list[Span]:
    """Every table and named part, and every list over several lines; `symbols` are the document's outline."""
    found = [symbol.span for top in symbols for symbol in (top, *top.children)]

    def lists(entries: list[Entry], start: int) -> list[tuple[int, int]]:
        spans = [document.value_span(path) for path, value in entries if isinstance(value, list)]
        long = [span for span in spans if span is not None and "\n" in document.text[span.start : span.end]]
        return [(span.start - start, span.end - start) for span in long]

    for each in pieces(document):
        start = each.start if isinstance(each, TablePiece) else 0
        for first, end in each.made("lists", lists) if isinstance(each, TablePiece) else lists(each, 0):
            found.append(Span(first + start, end + start))
    return found
