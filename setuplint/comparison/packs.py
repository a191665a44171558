"""Two setups that are flown with packs of several counts of cells: what differs with another pack alone."""

from __future__ import annotations

from collections.abc import Collection, Iterator

from setuplint.budget import PACK, PART, OutOfBudget, Spent
from setuplint.comparison.behaviour import Behaviour
from setuplint.comparison.changes import CraftChange, NotCompared
from setuplint.comparison.joined import joined_setups
from setuplint.comparison.matching import Matching
from setuplint.setup.model import Setup
from setuplint.setup.packs import of_pack, other_counts

MOST_NAMED = 5  # parts that differ with one pack alone


def differing_with_packs(old: Setup, new: Setup, told: Behaviour, spent: Spent) -> Iterator[NotCompared]:
    """What is compared is the battery's count of cells. With one pack of each other count that both have the same is asked again,
    and what comes out besides is named: its case is seen with that pack in the battery's place."""
    known = {_key(each) for each in told.changes}
    for name, cells in other_counts(old, new).items():
        try:
            spent.charge(sum(len(each.packs) * PACK + len(each.declared) // PART for each in (old, new)))
            behaviour = _compared(of_pack(old, name), of_pack(new, name), told.matching, spent)
        except OutOfBudget as end:
            yield NotCompared(f"pack {name}", str(end))
            return
        more = list(dict.fromkeys(_words(each) for each in behaviour.changes if _key(each) not in known))
        if more:
            named = ", ".join(more[:MOST_NAMED]) + (" and others" if len(more) > MOST_NAMED else "")
            with_it = f"with {cells} cells there are more differences: {named}"
            yield NotCompared(f"pack {name}", f"{with_it}; put it into [battery] of both to see them")
        yield from _open_with(name, behaviour.open, told.open)


def _compared(old: Setup, new: Setup, matching: Matching, spent: Spent) -> Behaviour:
    behaviour = Behaviour(joined_setups(old, new, matching, spent), matching, spent)
    behaviour.run()
    return behaviour


def _open_with(name: str, found: Collection[NotCompared], told: Collection[NotCompared]) -> Iterator[NotCompared]:
    for each in found:
        if each not in told:
            yield NotCompared(f"pack {name}", f"{each.subject}: {each.because}" if each.subject else each.because)


def _key(change: CraftChange) -> tuple[str, ...]:
    return change.kind, change.subject, change.was_by, change.by


def _words(change: CraftChange) -> str:
    kind = "channel" if change.kind == "output" else change.kind
    return " ".join(filter(None, (kind, change.subject)))
