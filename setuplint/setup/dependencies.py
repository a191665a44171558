"""Which condition stands on which: their order, and the loops among them, which are noted (MEANING.md 3).

The mode is one thing: a formula that names any mode stands on every mode's `when`.
"""

from __future__ import annotations

import heapq
from collections.abc import Collection, Iterable, Iterator, Mapping

from setuplint.dataclass import replace
from setuplint.named_tuple import NamedTuple
from setuplint.setup.formula_parser import Group, Written, parsed_formula
from setuplint.setup.formulas import Formula, Holds, ModeIs, Unknown, atoms
from setuplint.setup.model import Condition, Mode, Path, Setup
from setuplint.setup.notes import Notes
from setuplint.setup.problems import dotted

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


LONGEST_LOOP = 10  # names of a loop that a message shows

Conditions = Mapping[str, Condition]
Modes = Mapping[str, Mode]


def settled(notes: Notes, conditions: Conditions, modes: Modes) -> tuple[dict[str, Condition], dict[str, Mode]]:
    """Both without loops, the conditions in dependency order. A latch or toggle that rests on something unknown is
    unknown as a whole: memory never holds what is not known."""
    names, loops = dependency_order(conditions, modes)
    for loop in loops:
        _note_loop(notes, loop.way, loop.members, conditions, modes)
    looping = {name for loop in loops for name in loop.members}
    for name in looping - {MODE}:
        notes.damage(("conditions", name))
    found = {name: _looping(conditions[name]) if name in looping else conditions[name] for name in names}
    whens = {
        name: replace(mode, when=Unknown("the mode depends on itself"))
        if MODE in looping and looping.intersection(names_in(mode.when))
        else mode
        for name, mode in modes.items()
    }
    if notes.problems or notes.gone:
        for name, reason in unsettled_by(found, whens).items():
            if name != MODE and found[name].remembers:
                found[name] = Condition(name, Unknown(reason))
    return found, whens


def _looping(condition: Condition) -> Condition:
    return Condition(condition.name, Unknown(f"the condition {condition.name} depends on itself"))


def _note_loop(notes: Notes, way: list[str], members: Collection[str], conditions: Conditions, modes: Modes) -> None:
    steps = list(zip(way, [*way[1:], way[0]], strict=True))[:LONGEST_LOOP]
    places = [_mention(notes, one, other, conditions, modes) for one, other in steps]
    names = [name or "the mode" for name in [*way, way[0]]]
    if len(names) > LONGEST_LOOP:
        names[LONGEST_LOOP - 3 : -2] = ["..."]
    path, within = places[0]
    if way[0]:
        message = f"the condition {way[0]} depends on itself: {' → '.join(names)}"
    else:
        message = f"{dotted(path)} asks for the mode that it decides"
    others = sorted(name for name in members if name not in way and name != MODE)
    if others:
        shown = ", ".join(others[:LONGEST_LOOP]) + (" and more" if len(others) > LONGEST_LOOP else "")
        message += f"; by another way through it so {'does' if len(others) == 1 else 'do'} {shown}"
    related = tuple((at, f"and {at[1]} stands on this") for at, _ in places[1:])
    help = "take one of these names out of the formula that uses it"
    if MODE in way:
        help += "; naming any mode stands on the `when` of every mode"
    subject = ", ".join(name or "mode" for name in way[:LONGEST_LOOP])
    notes.add("condition-loop", path, message, help, subject=subject, within=within, related=related, lose=False)


def _mention(
    notes: Notes, one: str, other: str, conditions: Conditions, modes: Modes
) -> tuple[Path, tuple[int, int] | None]:
    """Where the condition (or MODE) `one` names `other`: the formula's path, and offsets in its text."""
    if one == MODE:
        name = next(mode.name for mode in modes.values() if other in names_in(mode.when))
        path: Path = ("modes", name, "when")
    else:
        path = ("conditions", one, "when" if other in names_in(conditions[one].when) else "until")
    return path, _offsets_of_name(parsed_formula(notes.value_at(path)), other)


def _offsets_of_name(written: Written, name: str) -> tuple[int, int] | None:
    """Where a condition's name (MODE: a mode) stands in a formula."""
    if isinstance(written, Group):
        return next(filter(None, (_offsets_of_name(item, name) for item in written.items)), None)
    found = written.kind == "mode" if name == MODE else written.kind == "name" and written.words[0].text == name
    return (written.start, written.end) if found else None
