"""Which heading and which dotted key may add to what: TOML's rules on building tables."""

from setuplint.source.document import EXPLICIT, FROZEN, IMPLICIT, Items, Mark, Table
from setuplint.source.forms import KeyStep

TYPE_CHECKING = False
if TYPE_CHECKING:
    from typing import Any

Clash = tuple[Mark, KeyStep]
"""What stands there already, and the part of the key that would add to it or replace it."""


def opened_table(
    root: Table, parts: list[KeyStep], double: bool, start: int, end: int
) -> tuple[Table, list[str | int], Clash | None]:
    """The table of the heading from `start` to `end`, its path, and what forbids it; the table is then not kept."""
    table = root
    where: list[str | int] = []
    for part in parts[:-1]:
        where.append(part[0])
        mark = table.marks.get(part[0])
        if mark is None:
            table = _between(table, part, IMPLICIT)
            continue
        table.again.append(part)
        node = mark[4]
        if isinstance(node, Items) and node.kind != FROZEN:
            where.append(len(node.marks) - 1)
            node = node.marks[-1][4]
        if not isinstance(node, Table) or node.kind == FROZEN:
            return Table(EXPLICIT), where, (mark, part)
        table = node
    name, key_start, key_end = parts[-1]
    where.append(name)
    mark = table.marks.get(name)
    node = mark[4] if mark is not None else None
    made = Table(EXPLICIT)
    if double:
        if mark is None:
            node = Items(EXPLICIT, [], [])
            table.values[name] = node.values
            table.marks[name] = (key_start, key_end, start, end, node)
        elif not isinstance(node, Items) or node.kind == FROZEN:
            return made, where, (mark, parts[-1])
        else:
            table.again.append(parts[-1])
        assert isinstance(node, Items)
        where.append(len(node.marks))
        node.values.append(made.values)
        node.marks.append((key_start, key_end, start, end, made))
    elif mark is None:
        table.values[name] = made.values
        table.marks[name] = (key_start, key_end, start, end, made)
    elif isinstance(node, Table) and node.kind == IMPLICIT:
        table.again.append((name, mark[0], mark[1]))
        made = node
        made.kind = EXPLICIT
        table.marks[name] = (key_start, key_end, start, end, made)
    else:
        return made, where, (mark, parts[-1])
    return made, where, None


def add_pair(
    table: Table, parts: list[KeyStep], section: int, value: "Any", place: tuple[int, int], node: Table | Items | None
) -> Clash | None:
    """Set a dotted key, or give what forbids it; only the section (a heading's or a pair of braces') that made a
    table by a dotted key may add to it by another."""
    for part in parts[:-1]:
        mark = table.marks.get(part[0])
        if mark is None:
            table = _between(table, part, section)
            continue
        child = mark[4]
        if not isinstance(child, Table) or child.kind not in (IMPLICIT, section):
            return mark, part
        table.again.append(part)
        child.kind = section
        table = child
    name, key_start, key_end = parts[-1]
    if name in table.marks:
        return table.marks[name], parts[-1]
    table.values[name] = value
    table.marks[name] = (key_start, key_end, *place, node)
    return None


def _between(table: Table, part: KeyStep, kind: int) -> Table:
    name, start, end = part
    child = Table(kind)
    table.values[name] = child.values
    table.marks[name] = (start, end, -1, -1, child)
    return child
