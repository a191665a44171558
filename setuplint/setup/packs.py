"""A setup with each of its packs in the battery's place."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator

from setuplint.dataclass import replace
from setuplint.setup.model import Path, Setup


def with_packs(setup: Setup, names: Collection[str] | None = None) -> Iterator[tuple[str, Setup]]:
    """For each pack by its name, or some of them, the setup with that in the battery's place, its keys standing for the
    battery's, and without those of the other packs."""
    declared, broken = _by_pack(setup.declared), _by_pack(setup.broken)
    for name, battery in setup.packs.items():
        if names is not None and name not in names:
            continue
        own, lost = declared.get(name, set()), broken.get(name, set())
        mine = {path[2:] for path in own if len(path) > 2}
        kept = {path for path in broken[""] if path[:1] != ("battery",) or path[1:] not in mine}
        given = frozenset(declared[""] | own | {("battery", *rest) for rest in mine})
        unread = frozenset(kept | lost | {("battery", *path[2:]) for path in lost if len(path) > 2})
        yield name, replace(setup, battery=battery, packs={}, declared=given, broken=unread)


def of_pack(setup: Setup, name: str) -> Setup:
    """The setup with that pack in the battery's place; itself where no pack is named."""
    return next((made for _, made in with_packs(setup, [name])), setup) if name else setup


def other_counts(old: Setup, new: Setup) -> dict[str, int]:
    """A pack of both for each count of cells that their batteries have not, where a sensor shows the pack's voltage by it."""
    if not any(s.reads == "pack-voltage" and s.cells is None for side in (old, new) for s in side.sensors.values()):
        return {}
    found: dict[str, int] = {}
    seen = {(old.battery.cells, new.battery.cells)}
    for name, pack in new.packs.items():
        before = old.packs.get(name)
        if before is None or None in (before.cells, pack.cells) or (before.cells, pack.cells) in seen:
            continue
        seen.add((before.cells, pack.cells))
        found[name] = pack.cells or 0
    return found


def _by_pack(paths: Iterable[Path]) -> dict[str, set[Path]]:
    """By the packs whose keys they are; those of none under the empty name."""
    found: dict[str, set[Path]] = {"": set()}
    for path in paths:
        found.setdefault(str(path[1]) if path[:1] == ("packs",) and len(path) > 1 else "", set()).add(path)
    return found
