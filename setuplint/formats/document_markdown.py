"""A document as Markdown."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from setuplint.formats import document as doc
from setuplint.formats.markdown_text import escaped, folded, place_link
from setuplint.formats.terminal import FIXED_SPACE

BOLD = ("careful", "careful bad", "label")  # roles of paragraphs
GAP = r"\_" * 6


def document_markdown(blocks: Iterable[doc.Block], escape: Callable[[str], str] = escaped, address: str = "") -> str:
    """The document; `escape` makes text from a file harmless, `address` is the one under which files are seen."""
    return "\n".join(_MarkdownWriter(escape, address).lines(blocks))


class _MarkdownWriter:
    def __init__(self, escape: Callable[[str], str], address: str = "") -> None:
        self.escape, self.address = escape, address

    def lines(self, blocks: Iterable[doc.Block]) -> Iterator[str]:
        """The lines of blocks, an empty one after each block."""
        for block in blocks:
            yield from self.block(block)

    def block(self, block: doc.Block) -> Iterator[str]:
        match block:
            case doc.Division():
                yield from self.lines(block.blocks)
                return
            case doc.Heading():
                number = f"{block.number}. " if block.number else ""
                yield f"{'#' * block.level} {number}{self.escape(block.words)}"
            case doc.Paragraph():
                yield self.paragraph(block)
            case doc.Facts():
                yield " · ".join(map(self.escape, block.items))
            case doc.Bullets():
                yield from (f"- {self.item(item)}" for item in block.items)
            case doc.Labelled():
                items = [words for words in map(self.escape, block.items) if words]
                if not items:
                    return
                yield f"**{block.label}.** {items[0]}" if len(items) == 1 else f"**{block.label}.**\n"
                yield from (f"- {words}" for words in items if len(items) > 1)
            case doc.Grid():
                yield from self.grid(block)
            case doc.Measured():
                yield f"{self.escape(block.words)}: {GAP} {self.escape(block.given)}"
            case doc.CheckBox():
                yield from self.check_box(block)
            case doc.Fold():
                yield folded(block.title, "\n".join(self.lines(block.blocks)))
            case _:
                return  # drawings, and lines to sign on paper
        yield ""

    def paragraph(self, block: doc.Paragraph) -> str:
        if isinstance(block.words, doc.Deed):
            return f"{self.escape(block.words.words)}: {self.escape(', '.join(block.words.then))}."
        words = " ".join(filter(None, (block.lead, self.words(block.words))))
        return f"**{words}**" if block.role in BOLD else words

    def words(self, words: doc.Words) -> str:
        match words:
            case str():
                return self.escape(words)
            case doc.Phrase():
                return self.escape(words.words)
            case doc.Deed():
                return self.escape(words.words + (f" ({', '.join(words.then)})" if words.then else ""))
            case doc.Scales():
                return ", ".join(filter(None, words.values)).replace(FIXED_SPACE, " ")
            case doc.Gap():
                return ""
        return "".join(map(self.words, words))

    def item(self, item: doc.ListItem) -> str:
        match item:
            case str():
                return self.escape(item)
            case doc.FindingItem():
                place, message, rule = map(self.escape, (item.place, item.message, item.rule))
                linked = place_link(place, item.file, item.line, self.address) if item.file else place
                return f"**{item.signal}** {linked}: {message} ({rule})"
            case doc.DetailedItem():
                details = (f"<br>{label}: {self.escape(words)}" for label, words in item.details)
                return self.escape(item.words) + "".join(details)
            case doc.Sentence():
                return self.escape(item.brief)

    def grid(self, grid: doc.Grid) -> Iterator[str]:
        yield f"| {' | '.join(map(self.escape, grid.heads))} |"
        yield "|" + " --- |" * len(grid.heads)
        for row in grid.rows:
            yield f"| {' | '.join(map(self.words, row))} |"

    def check_box(self, box: doc.CheckBox) -> Iterator[str]:
        """An item of a list; what is in it is indented."""
        yield f"- [ ] **{box.number}. {'★ ' if box.again else ''}{self.escape(box.title)}**"
        for block in box.blocks:
            lines = list(self.block(block))
            inner = ["", *lines] if isinstance(block, doc.Grid) else lines[:-1]
            yield from (f"  {line}" if line else "" for line in inner)
