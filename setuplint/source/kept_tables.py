"""Tables that are read once for all versions of a text: where the lines of a table are the same, it is the same.

What stands between two lines that look like headings is one piece. A piece is kept where, read by itself, it is one whole table
with nothing wrong in it. Positions in such a table are counted from its heading, so that nothing in it moves with the
lines above.
"""

from setuplint.source.marks import Items, Mark, Table

MOST_PIECES = 3_000  # of many texts: some 10 MB with what is made of them
LONGEST = 100_000  # characters of a text whose tables another may have

TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Callable
    from typing import Any


class KeptTable:
    """A table with the length of its piece of the text. Nothing in it may be changed. `made`: what others have made of it, by
    what they call that."""

    __slots__ = ("made", "size", "table")

    def __init__(self, table: Table, size: int) -> None:
        table.is_kept = True
        self.table, self.size = table, size
        self.made: dict[Any, Any] = {}


class KeptTables:
    """The tables of one text, by their pieces and by the identity of their values. None: a piece that is not one whole table.
    `of_text` is for what others make of all of them: every version of a text has the same."""

    __slots__ = ("_before", "by_piece", "by_values", "of_text")

    def __init__(self, before: "KeptTables | None" = None) -> None:
        self._before: dict[str, KeptTable | None] = before.by_piece if before is not None else {}
        self.of_text: dict[Any, Any] = before.of_text if before is not None else {}
        self.by_piece: dict[str, KeptTable | None] = {}
        self.by_values: dict[int, KeptTable] = {}

    def table_of(self, piece: str, read: "Callable[[str], Table | None]") -> KeptTable | None:
        """The table of a piece, by `read` where the version before did not have it. One that stands in a text twice is read
        where it stands."""
        if piece in self.by_piece:
            return None
        if piece in self._before:
            found = self._before[piece]
        else:
            table = read(piece)
            found = None if table is None else KeptTable(table, len(piece))
        self.by_piece[piece] = found
        return found

    def is_read(self) -> None:
        """The version before is not needed any longer."""
        self._before = {}


class TablesOfMany:
    """The tables of many texts, one read after the other: a club's setups have most of theirs from a few templates."""

    def __init__(self) -> None:
        self._all = self._last = KeptTables()

    def next(self, length: int) -> KeptTables | None:
        """For the text that is read next, with the tables of those before; None where it is too long."""
        self._all.by_piece |= self._last.by_piece
        if len(self._all.by_piece) > MOST_PIECES:
            self._all = KeptTables()
        self._last = KeptTables(self._all)
        return self._last if length <= LONGEST else None


def placed(node: Table, start: int) -> Table:
    """A copy of a kept table that may be changed, its positions in the text: it begins at `start`."""
    made = Table(node.kind)
    for name, mark in node.marks.items():
        made.marks[name] = shifted = _shifted(mark, start)
        inner = shifted[4]
        made.values[name] = node.values[name] if inner is None else inner.values
    made.repeats = [(name, first + start, end + start) for name, first, end in node.repeats]
    return made


def _shifted(mark: Mark, start: int) -> Mark:
    node = mark[4]
    if isinstance(node, Table):
        node = placed(node, start)
    elif node is not None:
        marks = [_shifted(each, start) for each in node.marks]
        values = [
            value if inner[4] is None else inner[4].values for value, inner in zip(node.values, marks, strict=True)
        ]
        node = Items(node.kind, values, marks)
    key, end, first, last = (place + start if place >= 0 else place for place in mark[:4])
    return key, end, first, last, node
