"""The result of a reading: the values, where each of them stands, and the problems."""

from itertools import accumulate

from setuplint.source.marks import Items, Mark, Table

TYPE_CHECKING = False
if TYPE_CHECKING:
    from typing import Any

    from setuplint.source.kept_tables import KeptTables

Path = tuple[str | int, ...]
"""Keys from the top of the file downwards, list items by index: ("overrides", "held", "priority"), ("claims", 0)."""


class Span(tuple[int, int]):
    """A half-open range of `Document.text`, in code points from 0."""

    __slots__ = ()

    def __new__(cls, start: int, end: int) -> "Span":
        return tuple.__new__(cls, (start, end))

    def __getnewargs__(self) -> tuple[int, int]:
        return self[0], self[1]

    @property
    def start(self) -> int:
        return self[0]

    @property
    def end(self) -> int:
        return self[1]

    def __repr__(self) -> str:
        return f"Span({self[0]}, {self[1]})"


class Problem(tuple[Span, str, str]):
    """One thing that is not TOML: where, one plain sentence saying what, and what to do about it."""

    __slots__ = ()

    def __new__(cls, span: Span, message: str, help: str) -> "Problem":
        return tuple.__new__(cls, (span, message, help))

    def __getnewargs__(self) -> tuple[Span, str, str]:
        return self[0], self[1], self[2]

    @property
    def span(self) -> Span:
        return self[0]

    @property
    def message(self) -> str:
        return self[1]

    @property
    def help(self) -> str:
        return self[2]

    def __repr__(self) -> str:
        return f"Problem({self[0]!r}, {self[1]!r}, {self[2]!r})"


class Document:
    """A text, its values and where they stand.

    `values` holds dict, list, str, bool, int, Decimal and the datetime types. Floats are Decimal, with every digit
    written: compare them, but before int(), round() or formatting one, compare it with a limit, because
    1e999999999 is a legal float and its digits do not fit in memory.

    `broken` lists, in the order of the text, the path of every table or key of which something was lost: the key's
    where it could be read, else that of the table in which the line stood; () if even that is not known. What stands
    in `values` at or under such a path is what was certain; what is missing there is unknown, not absent.
    """

    __slots__ = ("_lines", "_root", "broken", "kept", "name", "problems", "text", "values")

    def __init__(
        self,
        name: str,
        text: str,
        root: Table,
        problems: list[Problem],
        broken: list[Path],
        kept: "KeptTables | None" = None,
    ) -> None:
        """`kept`: its tables for later versions of the text, where these are asked for."""
        self.name = name
        self.text = text
        self.values = root.values
        self.problems = problems
        self.broken = broken
        self.kept = kept
        self._root = root
        self._lines: list[int] = []

    def key_span(self, path: Path) -> Span | None:
        """The key that is the last step of `path`; for a table, the step of its heading (`b` in `[a.b]`)."""
        mark = self._mark(path)
        return Span(mark[0], mark[1]) if mark and mark[0] >= 0 else None

    def key_spans(self, path: Path) -> list[Span]:
        """Every place of a key, in the order of the text: `b` of `[a.b]`, `[a.b.c]` and `a.b.d = 1` is one key."""
        mark = self._mark(path)
        if mark is None or mark[0] < 0:
            return []
        holder, at = self._entered(path[:-1])
        repeats = holder.repeats if isinstance(holder, Table) else []
        others = (Span(start + at, end + at) for name, start, end in repeats if name == path[-1])
        return sorted([Span(mark[0], mark[1]), *others])

    def value_span(self, path: Path) -> Span | None:
        """The value as written; for a table with a heading, the heading with its brackets."""
        mark = self._mark(path)
        return Span(mark[2], mark[3]) if mark and mark[2] >= 0 else None

    def span(self, path: Path) -> Span:
        """The best place to point at: the value, the key, the nearest table around it, or else the first line."""
        for length in range(len(path), 0, -1):
            found = self.value_span(path[:length]) or self.key_span(path[:length])
            if found:
                return found
        return Span(0, len(self.line_text(1)))

    def string_offset(self, path: Path, index: int) -> int:
        """The offset in `text` of character `index` of the string at `path`.

        An escape counts as its one character, and a line end inside a multi-line string likewise. An index at or past
        the string's length gives the closing quotes. Raises KeyError where `path` is not a string.
        """
        mark = self._mark(path)
        if mark is None or mark[4] is not None or self.text[mark[2] : mark[2] + 1] not in ("'", '"'):
            raise KeyError(path)
        from setuplint.source import strings

        return strings.offset_of(self.text, mark[2], index)

    def number_text(self, path: Path) -> str | None:
        """The literal of the int or float at `path` as written, else None."""
        mark = self._mark(path)
        if mark is None or mark[4] is not None:
            return None
        value: Any = self.values
        for step in path:
            value = value[step]
        is_number = type(value) is int or type(value).__name__ == "Decimal"
        return self.text[mark[2] : mark[3]] if is_number else None

    def position(self, offset: int) -> tuple[int, int]:
        """Line and column, both from 1; columns count code points, a tab as one. `offset` is clamped to the text."""
        lines = self._line_starts()
        offset = max(0, min(offset, len(self.text)))
        low, high = 0, len(lines)
        while high - low > 1:
            middle = (low + high) // 2
            if lines[middle] <= offset:
                low = middle
            else:
                high = middle
        return low + 1, offset - lines[low] + 1

    def line_start(self, line: int) -> int:
        """The offset at which a line, counted from 1, starts; the text's end past the last one."""
        lines = self._line_starts()
        return lines[line - 1] if 1 <= line <= len(lines) else len(self.text)

    def line_text(self, line: int) -> str:
        """The text of a line, counted from 1, without its line end; empty past the last one."""
        lines = self._line_starts()
        if not 1 <= line <= len(lines):
            return ""
        end = lines[line] - 1 if line < len(lines) else len(self.text)
        return self.text[lines[line - 1] : end].removesuffix("\r")

    def _line_starts(self) -> list[int]:
        if not self._lines:
            self._lines = line_starts(self.text)
        return self._lines

    def _entered(self, path: Path) -> tuple[Table | Items | None, int]:
        """The table or list at a path, and from where the positions in it are counted."""
        node: Table | Items | None = self._root
        start = 0
        for step in path:
            mark = _mark_in(node, step)
            if mark is None:
                return None, 0
            node = mark[4]
            if isinstance(node, Table) and node.is_kept:
                start += mark[2]
        return node, start

    def _mark(self, path: Path) -> Mark | None:
        """That of the last step, its positions in the text."""
        if not path:
            return None
        node, at = self._entered(path[:-1])
        mark = _mark_in(node, path[-1])
        if mark is None or not at:
            return mark
        key, end, first, last = [place + at if place >= 0 else place for place in mark[:4]]
        return key, end, first, last, mark[4]


def line_starts(text: str) -> list[int]:
    """Where each line of a text starts; only line feeds end one."""
    return list(accumulate([len(line) + 1 for line in text.split("\n")[:-1]], initial=0))


def _mark_in(node: Table | Items | None, step: str | int) -> Mark | None:
    if isinstance(node, Table):
        return node.marks.get(step)  # type: ignore[arg-type]
    if isinstance(node, Items) and isinstance(step, int) and 0 <= step < len(node.marks):
        return node.marks[step]
    return None
