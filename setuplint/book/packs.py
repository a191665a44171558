"""The setup with another of its packs, and what is said of that in the pack's name."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from setuplint.book.rule_file import Rule
from setuplint.dataclass import dataclass, replace
from setuplint.engine.decider import Decider
from setuplint.findings import Finding, NotJudged, Place
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

    own, firsts = setup.battery.cells, dict[int, str]()
    for name, pack in setup.packs.items() if own is not None else ():
        if pack.cells not in (None, own):
            firsts.setdefault(pack.cells, name)
    if not firsts or not is_asked_beside_alarms(setup):
        return []
    return [(name, made) for name, made in with_packs(setup) if name in firsts.values()]


def is_asked_beside_alarms(setup: Setup) -> bool:
    """Whether not only alarms ask for a sensor that shows other volts with packs of other cells."""
    formulas = [formula for path, formula in placed_formulas(setup) if path[0] not in OF_ALARMS]
    asked = names_of_kind(Cones(setup).of(formulas), "sensor")
    return any(s.name in asked and s.reads == "pack-voltage" and s.cells is None for s in setup.sensors.values())


def agreed(rule: Rule, own: list[Finding], found: list[Finding]) -> tuple[list[Finding], list[Finding]]:
    """What stands of what was found so far and of what a rule finds with another pack. A notice without a case says "never" or
    "always": it must be so with both."""
    if rule.signal != "notice":
        return own, found
    one, two = ({x.subject for x in some if x.rule == rule.name} for some in (own, found))

    def stand(some: list[Finding]) -> list[Finding]:
        return [x for x in some if x.rule != rule.name or x.witness or x.steps or x.subject in one & two]

    return stand(own), stand(found)
