"""A document as Markdown."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from setuplint.formats.document import (
    Block,
    Bullets,
    CheckBox,
    Deed,
    DetailedItem,
    Division,
    Facts,
    FindingItem,
    Fold,
    Gap,
    Grid,
    Heading,
    ListItem,
    Measured,
    Paragraph,
    Phrase,
    Scales,
    Sentence,
    Words,
)
from setuplint.formats.markdown_text import escaped, folded
from setuplint.formats.terminal import FIXED_SPACE

BOLD = ("careful", "careful bad", "label")  # roles of paragraphs
GAP = r"\_" * 6


def document_markdown(blocks: Iterable[Block], escape: Callable[[str], str] = escaped) -> str:
    """The document; `escape` makes text from a file harmless."""
    return "\n".join(_MarkdownWriter(escape).lines(blocks))


class _MarkdownWriter:
    def __init__(self, escape: Callable[[str], str]) -> None:
        self.escape = escape

    def lines(self, blocks: Iterable[Block]) -> Iterator[str]:
        """The lines of blocks, an empty one after each block."""
        for block in blocks:
            yield from self.block(block)

    def block(self, block: Block) -> Iterator[str]:
        match block:
            case Division():
                yield from self.lines(block.blocks)
                return
            case Heading():
                number = f"{block.number}. " if block.number else ""
                yield f"{'#' * block.level} {number}{self.escape(block.words)}"
            case Paragraph():
                yield self.paragraph(block)
            case Facts():
                yield " · ".join(map(self.escape, block.items))
            case Bullets():
                yield from (f"- {self.item(item)}" for item in block.items)
            case Grid():
                yield from self.grid(block)
            case Measured():
                yield f"{self.escape(block.words)}: {GAP} {self.escape(block.given)}"
            case CheckBox():
                yield from self.check_box(block)
            case Fold():
                yield folded(block.title, "\n".join(self.lines(block.blocks)))
            case _:
                return  # drawings, and lines to sign on paper
        yield ""

    def paragraph(self, block: Paragraph) -> str:
        if isinstance(block.words, Deed):
            return f"{self.escape(block.words.words)}: {self.escape(', '.join(block.words.then))}."
        words = " ".join(filter(None, (block.lead, self.words(block.words))))
        return f"**{words}**" if block.role in BOLD else words

    def words(self, words: Words) -> str:
        match words:
            case str():
                return self.escape(words)
            case Phrase():
                return self.escape(words.words)
            case Deed():
                return self.escape(words.words + (f" ({', '.join(words.then)})" if words.then else ""))
            case Scales():
                return ", ".join(filter(None, words.values)).replace(FIXED_SPACE, " ")
            case Gap():
                return ""
        return "".join(map(self.words, words))

    def item(self, item: ListItem) -> str:
        match item:
            case str():
                return self.escape(item)
            case FindingItem():
                place, message, rule = map(self.escape, (item.place, item.message, item.rule))
                return f"**{item.signal}** {place}: {message} ({rule})"
            case DetailedItem():
                details = (f"<br>{label}: {self.escape(words)}" for label, words in item.details)
                return self.escape(item.words) + "".join(details)
            case Sentence():
                return self.escape(item.brief)

    def grid(self, grid: Grid) -> Iterator[str]:
        yield f"| {' | '.join(map(self.escape, grid.heads))} |"
        yield "|" + " --- |" * len(grid.heads)
        for row in grid.rows:
            yield f"| {' | '.join(map(self.words, row))} |"

    def check_box(self, box: CheckBox) -> Iterator[str]:
        """An item of a list; what is in it is indented."""
        yield f"- [ ] **{box.number}. {'★ ' if box.again else ''}{self.escape(box.title)}**"
        for block in box.blocks:
            lines = list(self.block(block))
            inner = ["", *lines] if isinstance(block, Grid) else lines[:-1]
            yield from (f"  {line}" if line else "" for line in inner)
