"""The setup with another of its packs, and what is said of that in the pack's name."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator

from setuplint.book.rule_file import Rule
from setuplint.budget import PACK, PART
from setuplint.dataclass import dataclass, replace
from setuplint.engine.decider import Decider
from setuplint.findings import Finding, NotJudged, Place
from setuplint.setup.cone import Cones, names_of_kind
from setuplint.setup.model import Setup
from setuplint.setup.packs import with_packs
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

    @property
    def unread(self) -> str:
        """Why it is not known how many cells it has, in words."""
        return f"packs.{self.pack}.cells cannot be read" if self.pack else "packs cannot be read"


class Packs:
    """The packs that a setup is flown with, for one rule after the other."""

    def __init__(self, setup: Setup) -> None:
        self.setup = setup
        self.deciders: dict[int | None, Decider] = {}  # for other numbers of cells than the battery's
        self._spoken: dict[str, set[tuple[str, str]]] = {}
        self._of_other_counts: list[tuple[str, Setup]] | None = None  # None: not asked for yet

    def each(self, decider: Decider) -> Iterator[PackView]:
        """The setup with each of its packs; the decider is that of the battery. OutOfBudget."""
        for name, setup in with_packs(self.setup):
            decider.charge(PACK + len(setup.declared) // PART)
            yield self._view(name, setup, decider)

    def of_other_counts(self, decider: Decider) -> Iterator[PackView]:
        """One pack of each other number of cells, where more than alarms asks for their voltage. OutOfBudget."""
        if self._of_other_counts is None:
            decider.charge(len(self.setup.packs) * PACK + len(self.setup.declared) // PART)
            self._of_other_counts = of_other_counts(self.setup)
        yield from (self._view(*each, decider) for each in self._of_other_counts)

    def _view(self, name: str, setup: Setup, decider: Decider) -> PackView:
        """The setup with one of them, which has been put in the battery's place. Of what the engine is asked only the number of
        cells makes a difference."""
        cells, own = setup.battery.cells, self.setup.battery.cells
        if cells != own and cells not in self.deciders:
            self.deciders[cells] = decider.of_variant(setup)
        spoken = self._spoken.setdefault(name, set())
        return PackView(name, setup, self.deciders.get(cells, decider), spoken, cells != own)


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
            return f"packs.{view.pack}.{key}" if view.pack else view.unread
        return because if usual or because in known else f"{because}, with pack {view.pack}"

    return [replace(note, because=named(note.because)) for note in notes]


def of_other_counts(setup: Setup) -> list[tuple[str, Setup]]:
    """The setup with the first pack of each number of cells that the battery has not, one that cannot be read being another,
    where more than alarms asks for their voltage. Of packs of which not even the names are known it is one without a name."""
    own, firsts = setup.battery.cells, dict[int | None, str]()
    for name, pack in setup.packs.items() if own is not None else ():
        if pack.cells != own:
            firsts.setdefault(pack.cells, name)
    is_lost = own is not None and setup.is_broken("packs")
    if not (firsts or is_lost) or not is_asked_beside_alarms(setup):
        return []
    lost = replace(setup, battery=replace(setup.battery, cells=None), broken=setup.broken | {("battery", "cells")})
    return [*with_packs(setup, firsts.values()), *([("", lost)] if is_lost else [])]


def is_asked_beside_alarms(setup: Setup) -> bool:
    """Whether not only alarms ask for a sensor that shows other volts with packs of other cells."""
    formulas = [formula for path, formula in placed_formulas(setup) if path[0] not in OF_ALARMS]
    asked = names_of_kind(Cones(setup).of(formulas), "sensor")
    return any(s.name in asked and s.reads == "pack-voltage" and s.cells is None for s in setup.sensors.values())


def unsure_notes(rule: Rule, own: list[Finding], found: list[Finding], view: PackView) -> list[NotJudged]:
    """What is not judged of a rule where a pack's voltage may be any: what it finds then and else does not, and of what is
    "never" so, what it does not find then."""
    one, two = ({x.subject for x in some if x.rule == rule.name} for some in (own, found))
    unsure = one ^ two if rule.signal == "notice" else two - one
    return [NotJudged(rule.name, view.unread, subject, rule.signal) for subject in sorted(unsure)]


def agreed(rule: Rule, own: list[Finding], found: list[Finding]) -> tuple[list[Finding], list[Finding]]:
    """What stands of what was found so far and of what a rule finds with another pack. A notice without a case says "never" or
    "always": it must be so with both."""
    if rule.signal != "notice":
        return own, found
    one, two = ({x.subject for x in some if x.rule == rule.name} for some in (own, found))

    def stand(some: list[Finding]) -> list[Finding]:
        return [x for x in some if x.rule != rule.name or x.witness or x.steps or x.subject in one & two]

    return stand(own), stand(found)
