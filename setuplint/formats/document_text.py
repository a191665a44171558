"""A document as text for a terminal: its lines follow each other without gaps."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from setuplint.formats import document as doc
from setuplint.formats.terminal import Look, plain, wrap

INDENT = "  "
COLUMN = 14  # where a detail begins, beside its label
BESIDE = 12  # where labelled words begin


def document_lines(blocks: Iterable[doc.Block], look: Look) -> Iterator[str]:
    """The lines of a document of headings, paragraphs, lists, labelled words and tables; TypeError where it has other blocks."""
    for block in blocks:
        match block:
            case doc.Heading():
                number = f"{block.number}. " if block.number else ""
                yield from wrap(number + plain(block.words), look.width)
            case doc.Paragraph(str() as words, "label"):
                yield f"{INDENT}{plain(words)}:"
            case doc.Bullets():
                for item in block.items:
                    yield from _item_lines(item, look)
            case doc.Labelled():
                for index, item in enumerate(filter(str.strip, block.items)):
                    label = "" if index else f"{block.label}:"
                    yield from labelled_lines(label, plain(" ".join(item.split())), look, BESIDE)
            case doc.Grid():
                yield from _grid_lines([block.heads, *block.rows])
            case doc.Fold():
                yield from document_lines(block.blocks, look)
            case _:
                raise TypeError(f"{type(block).__name__} has no form in text")


def labelled_lines(label: str, words: str, look: Look, column: int) -> Iterator[str]:
    """Words in a column beside a label; nothing where there are none."""
    if words:
        yield from wrap(words, look.width, f"{INDENT}{label}".ljust(column), " " * column)


def _grid_lines(rows: Sequence[Sequence[doc.Words]]) -> Iterator[str]:
    """Columns below labelled words. Cells are words of this program."""
    widths = [max(len(str(cell)) for cell in column) for column in zip(*rows, strict=True)]
    for row in rows:
        cells = (str(cell).ljust(room) for cell, room in zip(row, widths, strict=True))
        yield f"{' ' * BESIDE}{'  '.join(cells)}".rstrip()


def finding_line(item: doc.FindingItem, look: Look) -> str:
    """`path:line:column: danger: message [rule]`, as the GNU error format has it; never wrapped."""
    signal = look.paint(item.signal, item.signal)
    return f"{plain(item.place)}: {signal}: {plain(item.message)} [{plain(item.rule)}]"


def _item_lines(item: doc.ListItem, look: Look) -> Iterator[str]:
    if isinstance(item, doc.FindingItem):
        yield f"{INDENT * 2}{finding_line(item, look)}"
        return
    yield from wrap(plain(item if isinstance(item, str) else item.words), look.width, INDENT, INDENT * 2)
    for label, words in item.details if isinstance(item, doc.DetailedItem) else ():
        yield from wrap(plain(words), look.width, f"{INDENT * 2}{label}:".ljust(COLUMN), " " * COLUMN)
