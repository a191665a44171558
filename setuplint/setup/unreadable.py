"""What a file that is not all TOML leaves unknown."""

from __future__ import annotations

from collections.abc import Iterator

from setuplint.setup.model import Path
from setuplint.setup.notes import Notes
from setuplint.setup.shape import Node, below, whole_file
from setuplint.setup.texts import MAY_BE_SHARED
from setuplint.source import Document

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
    while known and not _is_of_the_format(known):
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


def _is_of_the_format(path: Path) -> bool:
    node: Node | None = whole_file()
    for step in path:
        node = None if node is None else below(node, step)
    return node is not None
