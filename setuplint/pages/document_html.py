"""A document as HTML, as part of a page."""

from __future__ import annotations

from collections.abc import Iterable

from setuplint.formats import document as doc
from setuplint.pages.html import TableCell, html_table, tag, text

WIDE = 5  # columns side by side on a sheet of paper
FIELD = {"type": "text", "class_": "blank", "autocomplete": "off"}
NUMBER = {**FIELD, "type": "number", "step": "any"}


def document_html(blocks: Iterable[doc.Block]) -> str:
    return "".join(map(_block_html, blocks))


def words_html(words: doc.Words) -> str:
    match words:
        case str():
            return text(words)
        case doc.Phrase():
            if words.link:
                return tag("a", text(words.words), href=words.link)
            return tag("strong" if words.strong else "span", text(words.words), class_=words.role or None)
        case doc.Deed():
            return text(words.words) + _then_html(words)
        case doc.Scales():
            first, *others = words.values
            small = f" {tag('small', text(' · '.join(others)))}" if others[0] else ""
            return tag("span", text(first), class_="put") + small
        case doc.Gap():
            return _gap_html(words)
    return "".join(map(words_html, words))


def _then_html(deed: doc.Deed) -> str:
    words = ", ".join(map(text, deed.then))
    return " " + tag("span", words, class_="also signal danger" if deed.danger else "also") if words else ""


def _block_html(block: doc.Block) -> str:
    match block:
        case doc.Heading():
            number = f"{block.number}. " if block.number else ""
            return tag(f"h{block.level}", number + text(block.words))
        case doc.Paragraph():
            return _paragraph_html(block)
        case doc.Facts():
            return tag("p", " · ".join(tag("span", text(item)) for item in block.items), class_=block.role or None)
        case doc.Bullets():
            return tag("ul", "".join(tag("li", _item_html(item)) for item in block.items), class_=block.role or None)
        case doc.Labelled():
            items = "".join(tag("dd", text(words)) for words in block.items if words)
            return tag("dl", tag("dt", text(block.label)) + items) if items else ""
        case doc.Grid():
            return _grid_html(block)
        case doc.Measured():
            field = tag("input", "", **NUMBER, data_measured=block.key or None)
            said = tag("span", text(block.given), class_="soft")
            return tag("p", f"{tag('label', f'{text(block.words)}: {field}')} {said}")
        case doc.SignLine():
            kind = {"type": "date"} if block.key == "on" else {}
            field = tag("input", "", **{**FIELD, "class_": "blank long", **kind}, data_field=block.key or None)
            return tag("p", tag("label", f"{text(block.words)} {field}"), class_="signed")
        case doc.Figure():
            return tag("figure", block.draw())
        case doc.CheckBox():
            return _check_box_html(block)
        case doc.Division():
            return tag(block.element, document_html(block.blocks), class_=block.role or None)
        case doc.Fold():
            return tag("details", tag("summary", text(block.title)) + document_html(block.blocks))


def _item_html(item: doc.ListItem) -> str:
    if isinstance(item, doc.FindingItem):
        return f"{text(item.place)}: {text(item.signal)}: {text(item.message)} ({text(item.rule)})"
    details = item.details if isinstance(item, doc.DetailedItem) else ()
    words = text(item if isinstance(item, str) else item.words)
    return words + "".join(f"<br>{text(label)}: {text(detail)}" for label, detail in details)


def _paragraph_html(block: doc.Paragraph) -> str:
    if isinstance(block.words, doc.Deed):
        return tag("p", f"{text(block.words.words)}:{_then_html(block.words)}.")
    lead = f"{tag('b', block.lead)} " if block.lead else ""
    return tag("p", lead + words_html(block.words), class_=block.role or None)


def _gap_html(gap: doc.Gap) -> str:
    """A tick for what is as it was to be entered, and a place for what is read instead."""
    tick = tag("input", "", type="checkbox", data_row=gap.key or None, aria_label=f"{gap.name}: reads as here")
    other = tag("input", "", **FIELD, data_read=gap.key or None, aria_label=f"{gap.name}: reads otherwise")
    return tag("span", tick + other, class_="back")


def _grid_html(grid: doc.Grid) -> str:
    """Each number of a check box knows its row and its channel, for what is read instead of it."""
    labels, heads, role = list(grid.heads), list(map(text, grid.heads)), grid.role or None
    rows = [
        [_cell(words, n, head) for words, head in zip(row, grid.heads, strict=True)]
        for n, row in enumerate(grid.rows, start=1)
    ]
    if grid.turned and len(heads) - 1 > WIDE:
        (_, *names), columns = heads, list(zip(*rows, strict=True))
        # A narrow window shows the heads once, and their numbers before the cells.
        numbers = [f"{n}. " if len(rows) > 1 else "" for n in range(1, len(rows) + 1)]
        heads = [grid.turned, *(n + cell.inside for n, cell in zip(numbers, columns[0], strict=True))]
        labels, role = [grid.turned, *numbers], f"{grid.role} long"
        rows = [[TableCell(name), *column] for name, column in zip(names, columns[1:], strict=True)]
    return html_table(heads, labels, rows, text(grid.caption), class_=role)


def _cell(words: doc.Words, row: int, column: str) -> TableCell:
    read = {"data-row": str(row), "data-channel": column} if isinstance(words, doc.Scales) else {}
    return TableCell(words_html(words), read)


def _check_box_html(box: doc.CheckBox) -> str:
    name = f"Box {box.number} done"
    tick = tag("input", "", type="checkbox", aria_label=name)
    mark = tick + tag("span", str(box.number), class_="nth", aria_hidden="true")
    star = tag("span", "★", title="to repeat after any change", role="img", aria_label="to repeat after any change")
    title = tag("h3", text(box.title) + (f" {star}" if box.again else ""))
    inner = tag("div", title + document_html(box.blocks), class_="what")
    role = f"box{' again' if box.again else ''}{' short' if box.short else ''}"
    known = {"data-box": str(box.number), "data-mark": box.mark} if box.mark else {}
    return tag("article", tag("label", mark, class_="mark") + inner, class_=role, **known)
