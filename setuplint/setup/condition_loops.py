"""Conditions and modes put in dependency order: loops are noted, and what rests on one is unknown."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from setuplint.dataclass import replace
from setuplint.setup.dependencies import MODE, dependency_order, names_in, unsettled_by
from setuplint.setup.formula_parser import Group, Written, parsed_formula
from setuplint.setup.formulas import Unknown
from setuplint.setup.model import Condition, Mode, Path
from setuplint.setup.notes import Notes
from setuplint.setup.problems import dotted

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
