"""Which heading and which dotted key may add to which table: TOML's rules."""

from setuplint.source.forms import KeyStep
from setuplint.source.marks import EXPLICIT, FROZEN, IMPLICIT, Items, Mark, Table

TYPE_CHECKING = False
if TYPE_CHECKING:
    from typing import Any

Clash = tuple[Mark, KeyStep]
"""What stands there already, and the step of the key that would add to it or replace it."""


def opened_table(
    root: Table, steps: list[KeyStep], double: bool, span: tuple[int, int], ready: Table | None = None
) -> tuple[Table, list[str | int], Clash | None]:
    """The table of the heading at `span`, its path, and what forbids it; the table is then not kept. It is `ready` where that is
    given and nothing is in the table yet."""
    holder, path, clash = _holder(root, steps[:-1])
    if clash is not None:
        return Table(EXPLICIT), path, clash
    step = steps[-1]
    path.append(step[0])
    made = _item(holder, step, span, path, ready) if double else _table(holder, step, span, ready)
    return (Table(EXPLICIT), path, (holder.marks[step[0]], step)) if made is None else (made, path, None)


def _holder(root: Table, steps: list[KeyStep]) -> tuple[Table, list[str | int], Clash | None]:
    """The table that a heading's last name stands in, its path, and what forbids to add to it."""
    table = root
    path: list[str | int] = []
    for step in steps:
        path.append(step[0])
        mark = table.marks.get(step[0])
        if mark is None:
            table = _between(table, step, IMPLICIT)
            continue
        table.repeats.append(step)
        node = mark[4]
        items: Table | Items = table
        last: str | int = step[0]
        if isinstance(node, Items) and node.kind != FROZEN:
            items, last = node, len(node.marks) - 1
            path.append(last)
            node = node.marks[-1][4]
        if not isinstance(node, Table) or node.kind == FROZEN:
            return table, path, (mark, step)
        table = _table_of_its_own(items, last, node) if node.is_kept else node
    return table, path, None


def _table_of_its_own(holder: "Any", step: str | int, kept: Table) -> Table:
    """A kept table that something is added to, as one of this text alone."""
    from setuplint.source.kept_tables import placed

    key, end, start, stop, _ = holder.marks[step]
    made = placed(kept, start)
    holder.values[step] = made.values
    holder.marks[step] = (key, end, start, stop, made)
    return made


def _item(
    holder: Table, step: KeyStep, span: tuple[int, int], path: list[str | int], ready: Table | None
) -> Table | None:
    """One more table of a list of tables, its index added to `path`; None where the name has another value."""
    name, start, end = step
    mark = holder.marks.get(name)
    items = mark[4] if mark is not None else Items(EXPLICIT, [], [])
    if not isinstance(items, Items) or items.kind == FROZEN:
        return None
    if mark is None:
        holder.values[name] = items.values
        holder.marks[name] = (start, end, *span, items)
    else:
        holder.repeats.append(step)
    made = ready or Table(EXPLICIT)
    path.append(len(items.marks))
    items.values.append(made.values)
    items.marks.append((start, end, *span, made))
    return made


def _table(holder: Table, step: KeyStep, span: tuple[int, int], ready: Table | None) -> Table | None:
    """The table of a heading with single brackets; None where the name has another value, or a heading already."""
    name, start, end = step
    mark = holder.marks.get(name)
    made = ready or Table(EXPLICIT) if mark is None else mark[4]
    if not isinstance(made, Table) or (mark is not None and made.kind != IMPLICIT):
        return None
    if mark is not None:
        holder.repeats.append((name, mark[0], mark[1]))
        made.kind = EXPLICIT
    holder.values[name] = made.values
    holder.marks[name] = (start, end, *span, made)
    return made


def add_pair(
    table: Table, steps: list[KeyStep], section: int, value: "Any", span: tuple[int, int], node: Table | Items | None
) -> Clash | None:
    """Set a dotted key, or return what forbids it. Only the section (a heading's or a pair of braces') that made a
    table by a dotted key may add to it by another."""
    for step in steps[:-1]:
        mark = table.marks.get(step[0])
        if mark is None:
            table = _between(table, step, section)
            continue
        child = mark[4]
        if not isinstance(child, Table) or child.kind not in (IMPLICIT, section):
            return mark, step
        table.repeats.append(step)
        child.kind = section
        table = child
    name, start, end = steps[-1]
    if name in table.marks:
        return table.marks[name], steps[-1]
    table.values[name] = value
    table.marks[name] = (start, end, *span, node)
    return None


def _between(table: Table, step: KeyStep, kind: int) -> Table:
    """A new table that a longer key names on its way."""
    name, start, end = step
    child = Table(kind)
    table.values[name] = child.values
    table.marks[name] = (start, end, -1, -1, child)
    return child
