"""What was made of a table before, and holds as long as the table stays and all else that it was made from.

An editor reads a text again at each key. A table that is the same object as before (`source.kept_tables`) has the same
keys, at the same path; a part of the setup is built from these, and from the names that the file declares. Kept is only what was
built without a note of anything: what is wrong is found again.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable

from setuplint.hints import TYPE_CHECKING, Any, TypeVar
from setuplint.setup.fields import Fields

if TYPE_CHECKING:
    from setuplint.source.kept_tables import KeptTable, KeptTables

T = TypeVar("T")
MOST_BASES = 32  # of each kind that are remembered: what one key makes another unmakes, and a club has many templates


def kept_part(fields: Fields, what: Hashable, build: Callable[..., T], *given: Any, basis: object = None) -> T:
    """What `build` makes of a table and of what else is given, or what it made before. `basis` is all that this hangs on besides
    the table: the same object while that is the same (`same_basis`)."""
    table = _table_of(fields)
    if table is None:
        return build(fields, *given)
    known = table.made.get(what)
    if known is not None and known[0] is basis:
        made: T = known[1]
        return made
    before = fields.notes.extent()
    made = build(fields, *given)
    if fields.notes.extent() == before:
        table.made[what] = basis, made
    return made


def _table_of(fields: Fields) -> KeptTable | None:
    """The kept table whose keys these are; None where something of them is not to be relied on."""
    notes = fields.notes
    kept = notes.texts.own.kept
    if kept is None or fields.absent_is_unknown or fields.path in notes.broken or fields.path in notes.lost:
        return None
    return kept.by_values.get(id(fields.table))


def same_basis(kept: KeptTables | None, what: str, basis: Any) -> object:
    """One object for all versions of a text in which `basis` is equal."""
    if kept is None:
        return basis
    known: list[Any] = kept.of_text.setdefault(what, [])
    found = next((each for each in known if each == basis), None)
    if found is None:
        found = basis
        kept.of_text[what] = [basis, *known[: MOST_BASES - 1]]
    return found
