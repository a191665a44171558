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


def pack_remarks(setup: Setup) -> Iterator[Remark]:
    """That what the pack's voltage decides, besides alarms, is judged for the cells of one pack alone."""
    cells = setup.battery.cells
    others = [name for name, pack in setup.packs.items() if pack.cells not in (None, cells)]
    if not others or cells is None:
        return
    formulas = [formula for path, formula in placed_formulas(setup) if path[0] not in OF_ALARMS]
    asked = names_of_kind(Cones(setup).of(formulas), "sensor")
    for sensor in setup.sensors.values():
        if sensor.name in asked and sensor.reads == "pack-voltage" and sensor.cells is None:
            other = f"with pack {others[0]} it shows other volts than with {cells} cells"
            rest = f"but for the rules of the battery and its alarms all is judged with {cells}"
            yield Remark(
                "pack-assumed",
                f"not only alarms ask for {sensor.name}, and {other}: {rest}",
                Place(("packs", others[0])),
            )
