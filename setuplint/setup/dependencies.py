"""Which condition stands on which: their order, and the loops among them (MEANING.md 3).

The mode is one thing: a formula that names any mode stands on every mode's `when`.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Iterator, Mapping

from setuplint.named_tuple import NamedTuple
from setuplint.setup.formulas import Formula, Holds, ModeIs, Unknown, atoms
from setuplint.setup.model import Condition, Mode, Setup

MODE = ""
"""Stands among the conditions' names for the mode."""

Needs = dict[str, list[str]]


class Loop(NamedTuple):
    way: list[str]  # the shortest, from one back to itself, MODE where it goes through the mode
    members: frozenset[str]  # all that depend on themselves together


class Order(NamedTuple):
    names: list[str]  # every condition after those it stands on
    loops: list[Loop]


def names_in(formula: Formula | None) -> list[str]:
    """The conditions that a formula names, and MODE if it names a mode; in the order written."""
    if formula is None:
        return []
    found: dict[str, None] = {}
    for atom in atoms(formula):
        if isinstance(atom, Holds):
            found[atom.condition] = None
        elif isinstance(atom, ModeIs):
            found[MODE] = None
    return list(found)


def atoms_behind(
    setup: Setup, formulas: Iterable[Formula | None], *, until: bool = False, modes: bool = False
) -> Iterator[Formula]:
    """The atoms of formulas and of the conditions that they stand on; with `until` of what ends these too, with `modes` of
    what modes stand on."""
    left, met = list(formulas), set[str]()
    for formula in left:  # which grows
        for atom in atoms(formula) if formula is not None else ():
            yield atom
            if isinstance(atom, Holds) and atom.condition not in met:
                met.add(atom.condition)
                condition = setup.conditions[atom.condition]
                left += [condition.when, condition.until if until else None]
            elif isinstance(atom, ModeIs) and modes and MODE not in met:
                met.add(MODE)
                left += [mode.when for mode in setup.modes.values()]


def direct_needs(conditions: Mapping[str, Condition], modes: Mapping[str, Mode]) -> Needs:
    """What each condition, and the mode, stands on directly."""
    found = {MODE: _merged(*(names_in(mode.when) for mode in modes.values()))}
    for condition in conditions.values():
        found[condition.name] = _merged(names_in(condition.when), names_in(condition.until))
    return found


def _merged(*lists: Iterable[str]) -> list[str]:
    return list(dict.fromkeys(name for names in lists for name in names))


def dependency_order(conditions: Mapping[str, Condition], modes: Mapping[str, Mode]) -> Order:
    needed = direct_needs(conditions, modes)
    names = _topological_order(needed)
    if len(names) == len(needed):
        return Order([name for name in names if name != MODE], [])
    import networkx  # slow to import, and rarely is there a loop

    done = set(names)
    rest = {name: [n for n in on if n not in done] for name, on in needed.items() if name not in done}
    place = {name: n for n, name in enumerate(needed)}
    loops = []
    for members in networkx.strongly_connected_components(networkx.DiGraph(rest)):
        inside = frozenset(members)
        start = min(members, key=lambda name: (name == MODE, place[name]))
        if len(members) == 1 and start not in rest[start]:
            continue
        loops.append(Loop(_shortest_loop(start, rest, inside), inside))
        for name in members:
            needed[name] = [n for n in needed[name] if n not in inside]
    loops.sort(key=lambda loop: place[loop.way[0]])
    return Order([name for name in _topological_order(needed) if name != MODE], loops)


def _topological_order(needed: Needs) -> list[str]:
    """Those whose needs can be met, each as early as its place in the file allows."""
    place = {name: n for n, name in enumerate(needed)}
    wanted_by: dict[str, list[str]] = {name: [] for name in needed}
    missing = {name: len(on) for name, on in needed.items()}
    for name, on in needed.items():
        for other in on:
            wanted_by[other].append(name)
    ready = [(place[name], name) for name, count in missing.items() if count == 0]
    heapq.heapify(ready)
    done = []
    while ready:
        _, name = heapq.heappop(ready)
        done.append(name)
        for other in wanted_by[name]:
            missing[other] -= 1
            if missing[other] == 0:
                heapq.heappush(ready, (place[other], other))
    return done


def _shortest_loop(start: str, needed: Needs, inside: frozenset[str]) -> list[str]:
    """The shortest way from `start` back to itself."""
    came: dict[str, str] = {}
    queue = [start]
    for name in queue:
        for other in needed[name]:
            if other == start:
                way = [name]
                while way[-1] != start:
                    way.append(came[way[-1]])
                return way[::-1]
            if other in inside and other not in came:
                came[other] = name
                queue.append(other)
    raise AssertionError("no way back")


def unsettled_by(conditions: Mapping[str, Condition], modes: Mapping[str, Mode]) -> dict[str, str]:
    """The conditions (and MODE) that stand on something unknown, directly or not, with what that is. `conditions` are
    in dependency order."""
    found: dict[str, str] = {}

    def look(name: str, *formulas: Formula | None) -> None:
        for formula in formulas:
            for atom in atoms(formula) if formula is not None else ():
                if isinstance(atom, Unknown):
                    found.setdefault(name, atom.because)
                on = atom.condition if isinstance(atom, Holds) else MODE if isinstance(atom, ModeIs) else None
                if on in found:
                    found.setdefault(name, found[on])

    whens = [mode.when for mode in modes.values()]
    before_mode = {name for when in whens for name in names_in(when)} - {MODE}
    mode_is_next = True
    for condition in conditions.values():
        if mode_is_next and not before_mode:
            look(MODE, *whens)
            mode_is_next = False
        look(condition.name, condition.when, condition.until)
        before_mode.discard(condition.name)
    if mode_is_next:
        look(MODE, *whens)
    return found
