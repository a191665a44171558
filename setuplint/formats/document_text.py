"""A document as text for a terminal: its lines follow each other without gaps."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from setuplint.formats import document as doc
from setuplint.formats.terminal import Look, plain, wrap

INDENT = "  "
COLUMN = 14  # where a detail begins, beside its label


def document_lines(blocks: Iterable[doc.Block], look: Look) -> Iterator[str]:
    """The lines of a document of headings, paragraphs and lists; TypeError where it has other blocks."""
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
            case doc.Fold():
                yield from document_lines(block.blocks, look)
            case _:
                raise TypeError(f"{type(block).__name__} has no form in text")


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
