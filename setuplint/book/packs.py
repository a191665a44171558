"""The setup with another of its packs, and what is said of that in the pack's name."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator

from setuplint.dataclass import dataclass, replace
from setuplint.engine.decider import Decider
from setuplint.findings import Finding, NotJudged, Place, Remark
from setuplint.setup.cone import Cones, names_of_kind
from setuplint.setup.model import Setup
from setuplint.setup.states import placed_formulas

OF_ALARMS = ("conditions", "alarms", "timers")  # formulas that alone decide nothing but what is heard


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


def of_other_counts(setup: Setup) -> list[tuple[str, Setup]]:
    """The setup with the first pack of each number of cells that the battery has not, where more than alarms asks for their
    voltage."""
    from setuplint.setup.packs import with_packs

    names = other_counts(setup).values()
    return [(name, made) for name, made in with_packs(setup) if name in names] if names else []


def other_counts(setup: Setup) -> dict[int, str]:
    """Those numbers of cells, each with the name of that pack."""
    own, found = setup.battery.cells, dict[int, str]()
    for name, pack in setup.packs.items() if own is not None and asked_beside_alarms(setup) else ():
        if pack.cells not in (None, own):
            found.setdefault(pack.cells, name)
    return found


def asked_beside_alarms(setup: Setup) -> list[str]:
    """The sensors that not only alarms ask for, and that show other volts with packs of other cells."""
    if not setup.packs:
        return []
    formulas = [formula for path, formula in placed_formulas(setup) if path[0] not in OF_ALARMS]
    asked = names_of_kind(Cones(setup).of(formulas), "sensor")
    return [s.name for s in setup.sensors.values() if s.name in asked and s.reads == "pack-voltage" and s.cells is None]


def pack_remarks(setup: Setup) -> Iterator[Remark]:
    """That of what the pack's voltage decides, besides alarms, notices are judged for the cells of one pack alone."""
    others, cells = other_counts(setup), setup.battery.cells
    for sensor in asked_beside_alarms(setup) if others else ():
        name = next(iter(others.values()))
        yield Remark(
            "pack-assumed",
            f"not only alarms ask for {sensor}, and with pack {name} it shows other volts than with {cells} cells: dangers and "
            f"cautions are judged with each, notices, but for those of the battery and its alarms, with {cells} alone",
            Place(("packs", name)),
        )
