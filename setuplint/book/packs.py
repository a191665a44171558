"""The setup with another of its packs, and what is said of that in the pack's name."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from setuplint.dataclass import dataclass, replace
from setuplint.engine.decider import Decider
from setuplint.findings import Finding, NotJudged, Place
from setuplint.setup.model import Setup


@dataclass(slots=True)
class PackView:
    """The setup with another pack, and what rules about packs have said of it."""

    pack: str
    setup: Setup
    decider: Decider
    spoken: set[tuple[str, str]]
    is_other: bool  # it has other cells than the battery


def named_after(finding: Finding, view: PackView) -> Finding:
    """A finding about a pack, with its name, and its keys where that gives them."""

    def place(each: Place) -> Place:
        path = ("packs", view.pack, *each.path[1:])
        return replace(each, path=path) if each.path[:1] == ("battery",) and path in view.setup.declared else each

    return replace(
        finding,
        message=f"with pack {view.pack}: {finding.message}",
        subject=f"{finding.subject} with {view.pack}",
        primary=place(finding.primary),
        related=tuple(map(place, finding.related)),
        pack=view.pack if view.is_other else "",
    )


def notes_of(notes: Iterable[NotJudged], view: PackView, known: Collection[str], usual: bool) -> list[NotJudged]:
    """Why a rule was not judged with a pack: by the pack's keys and name, where it is not why it was not with those before. The
    `usual` pack is the one that all else is judged with."""

    def named(because: str) -> str:
        key = because.removeprefix("battery.")
        if key != because and because not in known:
            return f"packs.{view.pack}.{key}"
        return because if usual or because in known else f"{because}, with pack {view.pack}"

    return [replace(note, because=named(note.because)) for note in notes]
