"""A sheet: what to enter at the transmitter, in an order in which nothing dangerous exists half way. What stops the motor comes
before all else."""

from __future__ import annotations

from collections.abc import Container, Iterable, Iterator

from setuplint.dataclass import dataclass, replace
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
