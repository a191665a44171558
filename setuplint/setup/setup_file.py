"""The tables of one file by kind: what stands in each, and of which parts only a name could be read; and what
a file that is not all TOML leaves unknown."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from setuplint.hints import TYPE_CHECKING, Any
from setuplint.setup.fields import Fields
from setuplint.setup.model import Path
from setuplint.setup.notes import Notes
from setuplint.setup.shape import row_at, whole_file
from setuplint.setup.texts import MAY_BE_SHARED
from setuplint.source import Document

if TYPE_CHECKING:
    from setuplint.source.kept_tables import KeptTable

DEEPEST_DECLARED = 6  # steps of a path in `Setup.declared`


class SetupFile:
    """`parts` holds the named parts of each kind."""

    def __init__(self, notes: Notes) -> None:
        self.notes, self.values = notes, notes.texts.values
        known = whole_file()["keys"]
        strange = [key for key in self.values if key not in known]
        self.misspelt = {key: notes.nearest.match(key, known) for key in strange[:20]}
        self.parts = {kind: self._parts_of_kind(kind) for kind in NAMED}

    def table(self, key: str) -> Fields:
        """A table of the file; where it is absent, an empty one."""
        absent = key not in self.values and (key,) not in self.notes.lost
        return Fields(self.notes, (key,), {} if absent else self.values.get(key))

    def items(self, key: str) -> list[Fields]:
        """The tables of a list; none where it is too long to be one of a setup."""
        items = self.values.get(key)
        if not isinstance(items, list) or len(items) > whole_file()["keys"][key]["max"]:
            return []
        return [Fields(self.notes, (key, n), each) for n, each in enumerate(items)]

    def declared_paths(self) -> frozenset[Path]:
        """Every table and key that the file gives."""
        kept = self.notes.texts.own.kept
        return frozenset(_declared_below((), self.values, {} if kept is None else kept.by_values))

    def open_kinds(self) -> set[str]:
        """The kinds of which parts may exist that could not be read, not even their names."""
        kinds = {*NAMED, "sticks"}
        found = {
            kind for kind in kinds if (kind,) in self.notes.gone or not isinstance(self.values.get(kind, {}), dict)
        }
        if () in self.notes.gone:
            found |= kinds
        if ("extends",) in self.notes.gone:
            found.update(MAY_BE_SHARED)
        return found | self.notes.texts.open

    def _parts_of_kind(self, kind: str) -> dict[str, Fields]:
        """The named parts of a kind; also those of which the file has a name alone: in a table whose heading is
        misspelt, or lost with its line. These come first: what a lost mode does comes before what others do."""
        found: dict[str, Fields] = {}
        for heading, meant in self.misspelt.items():
            if meant == kind and isinstance(self.values[heading], dict):
                found.update({name: Fields(self.notes, (kind, name), None) for name in self.values[heading]})
        table = self.values.get(kind)
        table = table if isinstance(table, dict) else {}
        for document in self.notes.texts:
            if kind not in MAY_BE_SHARED and document is not self.notes.texts.own:
                break
            for path in document.broken:
                if len(path) >= 2 and path[0] == kind and path[1] not in table:
                    found[str(path[1])] = Fields(self.notes, (kind, str(path[1])), None)
        for name in found:
            self.notes.damage((kind, name))
        for name in table:
            fields = Fields(self.notes, (kind, name), table[name])
            found[fields.name] = fields
        return found


def _declared_below(path: Path, values: Any, kept: Mapping[int, KeptTable]) -> list[Path]:
    """The paths of tables and keys below one; of kept tables they are kept."""
    found: list[Path] = []
    waiting: list[tuple[Path, Any]] = [(path, values)]
    while waiting:
        path, value = waiting.pop()
        for step, item in value.items() if isinstance(value, dict) else enumerate(value):
            here = (*path, step)
            if isinstance(item, dict) or (isinstance(item, list) and len(path) == 0):
                found.append(here)
                table = kept.get(id(item)) if step.__class__ is str else None  # others move in their list
                if len(here) >= DEEPEST_DECLARED:
                    continue
                if table is None:
                    waiting.append((here, item))
                    continue
                if "declared" not in table.made:
                    table.made["declared"] = _declared_below(here, item, {})
                found += table.made["declared"]
            elif isinstance(value, dict):
                found.append(here)
    return found


NAMED = (
    "knobs", "switches", "sensors", "conditions", "modes", "curves", "channels", "overrides", "alarms", "timers",
    "packs",
)  # fmt: skip
WHOLE: frozenset[Path] = frozenset([(), *((kind,) for kind in NAMED)])


def note_what_the_text_lost(notes: Notes) -> None:
    """A line without a readable key of the format may have held any key of its table; a heading without a readable
    name, any table."""
    gone: set[Path] = set()
    for document in notes.texts:
        for path in document.broken:
            gone.update(_lost(notes, document, path))
    notes.gone = frozenset(gone)


def _lost(notes: Notes, document: Document, path: Path) -> Iterator[Path]:
    """Under what a broken path leaves the absent unknown."""
    known = path
    while known and not row_at(known):
        known = known[:-1]
    if (path in WHOLE and not _a_heading_hides_keys(document)) or (path and not known):
        return
    if document is notes.texts.own:
        yield known
    elif not known or known == ("extends",):  # of a shared part, what it can bring is lost
        yield from ((kind,) for kind in MAY_BE_SHARED)
        return
    elif known[0] in MAY_BE_SHARED:
        yield known
    else:
        return
    notes.damage(path)
    if known:
        notes.damage(known)
    else:
        for key in whole_file()["keys"]:
            if key not in notes.texts.values:
                notes.damage((key,))


def _a_heading_hides_keys(document: Document) -> bool:
    """Whether keys stand below a heading that could not be read; while one is typed at the end, none do."""
    text = document.text
    for problem in document.problems:
        start = text.rfind("\n", 0, problem.span[0]) + 1
        heading, _, below = text[start:].partition("\n")
        if heading.lstrip().startswith("["):
            lines = (line.strip() for line in below.split("\n"))
            first = next((line for line in lines if line and not line.startswith("#")), "[")
            if not first.startswith("["):
                return True
    return False
