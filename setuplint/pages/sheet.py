"""A sheet: what to enter at the transmitter, in an order in which nothing dangerous exists half way. What stops the motor comes
before all else."""

from __future__ import annotations

import re
from collections.abc import Container, Iterable, Iterator
from functools import partial
from itertools import islice

from setuplint.dataclass import dataclass, replace
from setuplint.formats.document import Division, Figure, Gap, Grid, Heading, Paper, Paragraph, Words
from setuplint.formats.terminal import FIXED_SPACE, plain
from setuplint.pages import charts
from setuplint.pages.card_power import BLADES
from setuplint.pages.curve_charts import MOST_DRAWN, curve_chart
from setuplint.pages.html import tag
from setuplint.pages.papers import paper_head
from setuplint.pages.sheet_tables import SheetTable, sheet_tables
from setuplint.setup.fingerprint import fingerprint
from setuplint.setup.model import Setup


@dataclass(frozen=True, slots=True)
class Sheet:
    """All of it. `since` is the file that the changes are counted from; `warning` is what lint found."""

    craft: str
    file: str
    day: str
    fingerprint: str
    tables: tuple[SheetTable, ...]
    since: str = ""
    warning: str = ""


def whole_sheet(setup: Setup, file: str, day: str) -> Sheet:
    """The sheet of everything in a set-up."""
    tables = tuple(table for table in sheet_tables(setup) if table.rows)
    return Sheet(setup.craft.name, file, day, fingerprint(setup), tables)


def changed_sheet(new: Sheet, old: Sheet) -> Sheet:
    """Only the rows that the old sheet does not have, and those that it alone has, to be taken out."""
    return replace(new, tables=tuple(_changed_tables(new, old)), since=old.file)


def _changed_tables(new: Sheet, old: Sheet) -> Iterator[SheetTable]:
    before = {table.key: table for table in old.tables}
    named = {(table.heads, row[0]) for table in new.tables for row in table.rows}
    for table in new.tables:
        was = before.pop(table.key, None)
        left = {row[0]: row for row in was.rows} if was is not None else {}
        rows = [row for row in table.rows if left.pop(row[0], None) != row]
        rows += _taken_out(table, left.values(), named)
        if was is not None and was.note != table.note and not rows:
            rows = list(table.rows)
        if rows:
            yield replace(table, rows=tuple(rows))
    for table in before.values():
        if out := tuple(_taken_out(table, table.rows, named)):
            yield replace(table, rows=out, curve="")


def _taken_out(
    table: SheetTable, rows: Iterable[tuple[str, ...]], named: Container[tuple[tuple[str, ...], str]]
) -> Iterator[tuple[str, ...]]:
    """Rows that no table of the new sheet has: an override may have moved to another of them."""
    for name, *cells in rows:
        if not table.again and (table.heads, name) not in named:
            yield (f"{name} (take it out)", *cells)


CAREFUL = (
    "{}, until all of this is entered and read back. Then the bench card: what counts is what the channels put out."
)
ELECTRIC = "Motor leads out or {blades} off, and the pack out"
ENGINE = "The engine stopped, its fuel and ignition off"
READ_BACK = "Read back"
MARKED = re.compile(r"[\\`*_\[\]<>#|~&@]|:(?=//)|(?<=www)\.")


def sheet_paper(sheet: Sheet, setup: Setup) -> Paper:
    facts = [sheet.file, sheet.day, f"fingerprint {sheet.fingerprint}"]
    facts += [f"only what is not as in {sheet.since}"] if sheet.since else []
    careful = CAREFUL.format(ENGINE if setup.is_engine else ELECTRIC.format(blades=BLADES[setup.craft.kind]))
    head = paper_head(f"{sheet.craft}: what to enter", facts, careful, sheet.warning)
    drawn = {*islice((table.curve for table in sheet.tables if table.curve), MOST_DRAWN)}
    tables = [_table_division(table, setup, table.curve in drawn) for table in sheet.tables]
    blocks = (head, *tables) if tables else (head, Paragraph("Nothing has changed."))
    return Paper(f"{sheet.craft}: sheet", blocks, _sheet_values(sheet, careful), escape=_escaped)


def _table_division(table: SheetTable, setup: Setup, is_drawn: bool) -> Division:
    rows: list[list[Words]] = [[*row, Gap(f"{table.key}/{row[0]}", f"{table.title}, {row[0]}")] for row in table.rows]
    grid = Grid((*table.heads, READ_BACK), rows, table.title, "sheet")
    svg = partial(_curve_svg, setup, table.curve) if is_drawn else _not_drawn
    drawing = [Figure(svg)] if table.curve else []
    note = [Paragraph(table.note, "soft")] if table.note else []
    return Division((Heading(2, table.title), *note, Division((grid, *drawing), "pair", "div")))


def _curve_svg(setup: Setup, curve: str) -> str:
    return charts.chart_figure(curve_chart(setup, curve))


def _not_drawn() -> str:
    return tag("p", "Not drawn, to keep this page quick.", class_="soft")


def _escaped(words: str) -> str:
    """Text in Markdown, in which nothing of a file is Markdown or HTML."""
    return MARKED.sub(r"\\\g<0>", plain(words.replace(FIXED_SPACE, " ")))


def _sheet_values(sheet: Sheet, careful: str) -> dict[str, object]:
    """The sheet in JSON, version 1."""
    return {
        "version": 1,
        "craft": sheet.craft,
        "file": sheet.file,
        "date": sheet.day,
        "fingerprint": sheet.fingerprint,
        "since": sheet.since or None,
        "careful": careful,
        "warning": sheet.warning or None,
        "sections": [
            {
                "key": table.key,
                "title": table.title,
                "note": table.note,
                "heads": table.heads,
                "rows": [[cell.replace(FIXED_SPACE, " ") for cell in row] for row in table.rows],
            }
            for table in sheet.tables
        ],
    }
