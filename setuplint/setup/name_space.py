"""The names of one file: which of them no part can have, which two parts share, and what each one is."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from setuplint.setup import declarations
from setuplint.setup.formulas import RESERVED
from setuplint.setup.model import Path, Sensor, Stick, Switch
from setuplint.setup.names import Names
from setuplint.setup.problems import word_list
from setuplint.setup.setup_file import NAMED, SetupFile
from setuplint.setup.texts import Texts

STICKS = declarations.STICKS
SHARE_NAMES = ("knobs", "switches", "sensors", "conditions")  # with the sticks: no two of these have one name
NO_NAMES = frozenset((*RESERVED, "straight"))
WITH_ARTICLE = {
    "sticks": "a stick", "knobs": "a knob", "switches": "a switch", "sensors": "a sensor", "conditions": "a condition",
}  # fmt: skip


def clashing_names(file: SetupFile) -> set[str]:
    """The names that two parts share, noted, as is every name that no part can have."""
    for kind in NAMED:
        for name in [name for name in file.parts[kind] if name in NO_NAMES]:
            _note_forbidden_name(file, kind, name)
    total = sum(len(file.parts[kind]) for kind in SHARE_NAMES)
    if len(set(STICKS).union(*[file.parts[kind] for kind in SHARE_NAMES])) == len(STICKS) + total:
        return set()
    paths: dict[str, list[Path]] = {name: [("sticks", name)] for name in STICKS}
    for kind in SHARE_NAMES:
        for name in file.parts[kind]:
            paths.setdefault(name, []).append((kind, name))
    clashes = {name for name in paths if len(paths[name]) > 1}
    for name in clashes:
        _note_clash(file, name, paths[name])
    return clashes


def _note_forbidden_name(file: SetupFile, kind: str, name: str) -> None:
    if name in RESERVED:
        declarations.note_reserved_word(file.notes, (kind, name), name, key=True)
    elif kind == "curves" and name == "straight":
        message = "no curve can be called straight: that is the word for none"
        file.notes.add("not-a-setup", (kind, name), message, "call it for example line", key=True)


def _note_clash(file: SetupFile, name: str, paths: list[Path]) -> None:
    texts = file.notes.texts
    paths = sorted(paths, key=lambda path: _position(texts, path))
    message = f"{name} is the name of {word_list((WITH_ARTICLE[str(path[0])] for path in paths), 'and')}"
    others = tuple((path, "the same name here") for path in paths[:-1] if _position(texts, path) >= (0, 0))
    help = "give each its own name: sticks, knobs, switches, sensors and conditions share one space"
    file.notes.add("name-clash", paths[-1], message, help, subject=name, key=True, related=others)
    for path in paths:
        file.notes.damage(path)


def _position(texts: Texts, path: Path) -> tuple[int, int]:
    """Its key's, in the order of the texts; negative where it has none."""
    document = texts.holder(path)
    span = document.key_span(path)
    return (texts.order(document), span[0]) if span else (-1, -1)


def named_controls(
    file: SetupFile,
    sticks: Mapping[str, Stick],
    switches: Mapping[str, Switch],
    sensors: Mapping[str, Sensor],
    cells: Mapping[str, int | None],
    clashes: Collection[str],
) -> Names:
    """What each name is that a formula may use; it is "broken" where that is not certain."""
    names = Names(nearest=file.notes.nearest, open=frozenset(file.open_kinds()))
    table = file.values.get("sticks")
    names.controls.update(dict.fromkeys(table if isinstance(table, dict) else (), "broken"))
    for kind in SHARE_NAMES:
        names.controls.update(dict.fromkeys(file.parts[kind], "condition" if kind == "conditions" else "broken"))
    names.add_controls(sticks, switches, sensors, cells)
    names.controls.update(dict.fromkeys(clashes, "broken"))
    return names
