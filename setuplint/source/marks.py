"""Where the keys and values of tables and lists stand."""

TYPE_CHECKING = False
if TYPE_CHECKING:
    from typing import Any


class Table:
    """A table's values with the marks of its keys.

    `kind` says how it came to be: IMPLICIT (named on the way to another), EXPLICIT (by its own heading), FROZEN
    (written in braces), or the number of the section whose dotted keys made it. `repeats` has the keys written
    more than once, as in `[a.b]` and `[a.c]`: name, start and end of each time that has no mark. Positions in a table that
    `is_kept` count from its heading (`kept_tables`), all others from the start of the text.
    """

    __slots__ = ("is_kept", "kind", "marks", "repeats", "values")

    def __init__(self, kind: int) -> None:
        self.kind = kind
        self.is_kept = False
        self.values: dict[str, Any] = {}
        self.marks: dict[str, Mark] = {}
        self.repeats: list[tuple[str, int, int]] = []


class Items:
    """A list's values and the marks of its items; `kind` is FROZEN (in brackets) or EXPLICIT (made by [[headings]])."""

    __slots__ = ("kind", "marks", "values")

    def __init__(self, kind: int, values: "list[Any]", marks: "list[Mark]") -> None:
        self.kind = kind
        self.values = values
        self.marks = marks


IMPLICIT, EXPLICIT, FROZEN = 0, -1, -2

Mark = tuple[int, int, int, int, Table | Items | None]
"""Key start and end, value start and end (-1 where there is none), and the marks inside the value."""
