"""Channels: their terms in every mode, with what `in` replaces (MEANING.md 5)."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from contextlib import suppress
from dataclasses import dataclass
from fractions import Fraction
from itertools import chain
from typing import Any

from setuplint.setup.fields import Fields, exact_number
from setuplint.setup.model import HUNDRED, ZERO, BySwitch, Channel, Line, Path, Term
from setuplint.setup.names import Names, known_names_hint
from setuplint.setup.notes import Notes
from setuplint.setup.problems import dotted, quoted, word_list

LINE_KEYS = ("from", "rate", "expo", "curve", "values", "mix", "ramp-up", "ramp-down")
STICK_KEYS = ("rate", "expo", "curve")
MOST_TERMS = 8  # in `mix`
SERVO_KEYS = ("reversed", "travel", "sub-trim", "low", "high")


@dataclass(slots=True)
class World:
    """What a channel's keys may name."""

    notes: Notes
    names: Names
    curves: Mapping[str, object]  # the good ones
    curve_names: Collection[str]  # the broken ones too
    modes: Collection[str]


class Lost(Exception):
    """What is asked for cannot be relied on; the problem is noted where there is a new one."""


Where = Mapping[str, Fields]
"""For each key of a line that is given or lost, the table it stands in: the channel's, or one of its `in`."""


def build_channel(fields: Fields, world: World) -> tuple[Channel, bool]:
    """The channel, and whether its output can be known where an override decides: how the servo is driven was read."""
    notes = world.notes
    own = {key: fields for key in LINE_KEYS if not fields.is_absent(key)}
    tables, lost_modes = _modes(fields, world)
    unclear = _check_mismatches(fields, own, world)
    for table in tables.values():
        _check_mismatches(table, {} if unclear else own, world)
    own_line = _line(own, world)
    lines = {}
    for mode in world.modes:
        if mode in lost_modes:
            lines[mode] = Line(None)
        elif mode in tables:
            table = tables[mode]
            lines[mode] = _line({**own, **{key: table for key in LINE_KEYS if not table.is_absent(key)}}, world)
        else:
            lines[mode] = own_line
    low, high = fields.number("low", Fraction(-150)), fields.number("high", Fraction(150))
    if low is not None and high is not None and low > high:
        at = "low" if fields.is_given("low") else "high"
        other = "high" if at == "low" else "low"
        notes.add(
            "not-a-setup", fields.path_of(at), f"low is above high in {dotted(fields.path)}", "swap them",
            related=((fields.path_of(other), f"{other} is here"),) if fields.is_given(other) else (),
        )  # fmt: skip
    travel = [
        exact_number(notes, (*fields.path_of("travel"), n), each)
        for n, each in enumerate(fields.get("travel") or (100, 100))
    ]
    known = not any(fields.is_lost(key) for key in SERVO_KEYS)
    if not known:
        own_line, lines = Line(None), {mode: Line(None) for mode in lines}
    made = Channel(
        name=fields.name,
        number=fields.get("number"),
        drives=fields.word("drives", "other"),
        own=own_line,
        lines=lines,
        reversed=fields.flag("reversed"),
        down=HUNDRED if travel[0] is None else travel[0],
        up=HUNDRED if travel[1] is None else travel[1],
        sub_trim=fields.number("sub-trim") or ZERO,
        low=Fraction(-150) if low is None else low,
        high=Fraction(150) if high is None else high,
    )
    return made, known


def _modes(fields: Fields, world: World) -> tuple[dict[str, Fields], set[str]]:
    """The tables of `in` by mode, and the modes of which it is not known what they change."""
    if "in" not in fields.table:
        gone = {mode for mode in world.modes if (*fields.path_of("in"), mode) in fields.notes.gone}
        return {}, set(world.modes) if fields.is_lost("in") else gone
    inner = fields.child("in")
    lost = {mode for mode in world.modes if inner.is_lost(mode)}
    tables = {}
    for mode in inner.table:
        tables[mode] = inner.child(mode)
        if mode in world.modes:
            lost.discard(mode)
            if tables[mode].absent_is_unknown:
                lost.add(mode)
        elif not world.names.may_be_missing("modes"):
            near = world.names.nearest.match(mode, world.modes)
            help = f"did you mean {near}?" if near else known_names_hint("modes", world.modes)
            path = inner.path_of(mode)
            message = f"there is no mode {quoted(mode)}"
            world.notes.add("unknown-name", path, message, help, subject=f"mode {mode}", key=True)
            if near:
                lost.add(near)
            elif len(lost) < len(world.modes):
                lost |= set(world.modes)
    return tables, lost


def kind_of_source(fields: Fields, world: World) -> str:
    """number, switch or stick (sticks and knobs); Lost if `from` is none of these."""
    source = fields.get("from")
    if source is None:
        raise Lost
    if not isinstance(source, str):
        return "number"
    kind = world.names.controls.get(source)
    if kind in ("stick", "knob"):
        return "stick"
    if kind == "switch":
        return kind
    path = fields.path_of("from")
    if kind is not None and kind != "broken":
        message = f"{quoted(source)} is a {kind}, where a stick, knob or switch belongs"
        world.notes.add("not-a-setup", path, message, "a channel reads a stick, knob or switch, or is a fixed number")
    elif kind is None and not world.names.may_be_missing("sticks", "knobs", "switches"):
        near = world.names.nearest.match(source, world.names.of("stick", "knob", "switch"))
        help = f"did you mean {near}?" if near else "declare it, or write a fixed number without quotes"
        no_name(world, path, "stick, knob or switch", source, help)
    raise Lost


def no_name(world: World, path: Path, what: str, name: str, help: str) -> None:
    subject = f"curve {name}" if what == "curve" else name
    world.notes.add("unknown-name", path, f"there is no {what} {quoted(name)}", help, subject=subject)


def _check_mismatches(table: Fields, own: Where, world: World) -> bool:
    """Keys that do not go with the `from` beside them, or with the one that an `in` leaves as it is; and every name.
    Whether there is such a key."""
    for item in _mix(table, world):
        _check_mismatches(item, {}, world)
    for key in STICK_KEYS:
        if table.is_given(key):
            with suppress(Lost):
                _setting(table, key, world)
    source = table if not table.is_absent("from") else own.get("from")
    try:
        kind = kind_of_source(source, world) if source else None
    except Lost:
        return False
    wrong = [key for key in _wrong_keys(kind) if table.is_given(key)] if kind else []
    if wrong:
        goes_with = "a switch" if wrong == ["values"] else "a stick or knob"
        goes = "goes" if len(wrong) == 1 else "go"
        words = word_list(wrong, "and")
        message = f"{words} {goes} with {goes_with}, and {dotted(table.path)} reads {_called(source, kind)}"
        related = tuple((table.path_of(key), "and this") for key in wrong[1:])
        world.notes.add(
            "not-a-setup", table.path_of(wrong[0]), message, f"leave {words} out, or read {goes_with}", related=related
        )
        for key in wrong:
            world.notes.lose(table.path_of(key))
    return bool(wrong)


def _wrong_keys(kind: str) -> tuple[str, ...]:
    return ("values",) if kind == "stick" else STICK_KEYS if kind == "switch" else (*STICK_KEYS, "values")


def _called(source: Fields | None, kind: str | None) -> str:
    written = source.get("from") if source else None
    return "a fixed number" if kind == "number" else f"the {'switch' if kind == 'switch' else 'stick'} {written}"


def _mix(table: Fields, world: World) -> list[Fields]:
    items = table.table.get("mix")
    if not isinstance(items, list) or len(items) > MOST_TERMS:
        return []
    return [Fields(world.notes, (*table.path_of("mix"), n), item) for n, item in enumerate(items)]


def _line(where: Where, world: World) -> Line:
    """The line of a mode. Without `from` it is not described; nor where something in it cannot be relied on."""
    try:
        up, down = (_ramp(where, key) for key in ("ramp-up", "ramp-down"))
        if "from" not in where:
            return Line(None, up, down)
        first = _term(where, world)
        mix = where.get("mix")
        items = _mix(mix, world) if mix else []
        if mix and (mix.is_lost("mix") or not isinstance(mix.table.get("mix"), list)):
            raise Lost
        terms = (first, *(_term({key: item for key in LINE_KEYS if not item.is_absent(key)}, world) for item in items))
        _check_twice(terms, [where["from"], *items], world)
    except Lost:
        return Line(None)
    return Line(terms, up, down)


def _ramp(where: Where, key: str) -> Fraction:
    seconds = where[key].number(key) if key in where else ZERO
    if seconds is None:
        raise Lost
    return seconds


def _check_twice(terms: tuple[Term, ...], places: list[Fields], world: World) -> None:
    """A stick or knob stands in one term of a line at most."""
    first: dict[Any, int] = {}
    for n, term in enumerate(terms):
        if term.kind != "stick":
            continue
        if term.source not in first:
            first[term.source] = n
            continue
        pair = [places[first[term.source]].path_of("from"), places[n].path_of("from")]
        # Point into the `in` that brings the second, where the other is the channel's own.
        pair.sort(key=lambda path: "in" in path[2:3])
        world.notes.add(
            "not-a-setup", pair[1], f"{quoted(str(term.source))} is read twice by {dotted(pair[1][:2])} in one mode",
            "make one term of the two: their rates add up", related=((pair[0], "and here"),), lose=False,
        )  # fmt: skip
        world.notes.damage(pair[1])
        raise Lost


def _inherited(where: Where, key: str) -> bool:
    """Whether an `in` brings its own `from` to a key that stays as it is in the channel."""
    source = where["from"]
    return source.path[2:3] == ("in",) and where[key].path == source.path[:2]


def _term(where: Where, world: World) -> Term:
    kind = kind_of_source(where["from"], world)
    written = where["from"].table["from"]
    if any(key in where and not _inherited(where, key) for key in _wrong_keys(kind)):
        raise Lost  # noted as a mismatch: it is not clear what was meant
    if kind == "switch":
        return Term(written, kind, values=_values(where, written, world))
    if kind == "stick":
        given = {key: _setting(where[key], key, world) for key in STICK_KEYS if key in where}
        return Term(written, kind, given.get("rate", HUNDRED), given.get("expo", ZERO), given.get("curve"))
    number = where["from"].number("from")
    if number is None:
        raise Lost
    return Term(number, kind)


def _values(where: Where, switch: str, world: World) -> dict[str, Fraction]:
    positions = world.names.positions[switch]
    source, fields = where["from"], where.get("values")
    if fields is not None and _inherited(where, "values") and fields.table.get("from") != switch:
        table = fields.table.get("values")
        fields = fields if table is None or set(table) == set(positions) else None
    if fields is not None and not fields.is_given("values"):
        raise Lost
    if fields is None:
        example = ", ".join(f"{word} = 0" for word in positions)
        world.notes.add(
            "not-a-setup", source.path_of("from"), f"{dotted(source.path)} reads the switch {switch}, without values",
            f"add values = {{ {example} }}", subject=dotted(source.path_of("values")), lose=False,
        )  # fmt: skip
        world.notes.damage(source.path_of("values"))
        raise Lost
    return _by_position(world, fields.path_of("values"), fields.table["values"], switch)


def _by_position(world: World, path: Path, table: Mapping[str, Any], switch: str) -> dict[str, Fraction]:
    """A number for every position of a switch and for nothing else."""
    notes, positions = world.notes, world.names.positions[switch]
    if path in notes.gone:
        raise Lost
    strange = [word for word in table if word not in positions]
    missing = [word for word in positions if word not in table]
    if strange and missing == list(positions):
        message = (
            f"{dotted(path)} is for {word_list(map(quoted, strange), 'and')}, and {switch} has none of these positions"
        )
        help = f"its positions are {word_list(positions, 'and')}"
        notes.add("unknown-name", path, message, help, subject=f"{dotted(path)}: {switch}")
        raise Lost
    unnamed = list(missing)
    for word in strange:
        near = world.names.nearest.match(word, unnamed) or (unnamed[0] if len(unnamed) == 1 else None)
        help = f"did you mean {near}?" if near else f"its positions are {word_list(positions, 'and')}"
        subject = f"{switch} is {word}"
        message = f"{switch} has no position {quoted(word)}"
        notes.add("unknown-name", (*path, word), message, help, subject=subject, key=True)
        if near:
            unnamed.remove(near)
    if unnamed:
        message = f"{dotted(path)} says nothing for {word_list(unnamed, 'and')} of the switch {switch}"
        notes.add("not-a-setup", path, message, f"add {unnamed[0]} = 0, or the number that is meant")
    good = [word for word in positions if word in table and (*path, word) not in notes.lost]
    numbers = {word: exact_number(notes, (*path, word), table[word]) for word in good}
    if strange or missing or None in numbers.values() or len(numbers) < len(positions):
        raise Lost
    return {word: number for word, number in numbers.items() if number is not None}


def _setting(fields: Fields, key: str, world: World) -> Any:
    """A rate or expo (a number, or one for each position of a switch) or a curve's name (None: straight)."""
    if key == "curve":
        return _curve(fields, world)
    value = fields.table.get(key)
    if not isinstance(value, dict):
        number = fields.number(key)
        if number is None:
            raise Lost
        return number
    inner = fields.child(key)
    switch = inner.text("switch")
    if switch is None:
        raise Lost
    kind = world.names.controls.get(switch)
    if kind == "switch":
        at = inner.table.get("at")
        if not isinstance(at, dict):
            raise Lost
        found = BySwitch(switch, _by_position(world, inner.path_of("at"), at, switch))
        if fields.is_lost(key):
            raise Lost
        return found
    path = inner.path_of("switch")
    if kind is not None and kind != "broken":
        message = f"{quoted(switch)} is a {kind}, where a switch belongs"
        world.notes.add("not-a-setup", path, message, f"name one of {word_list(world.names.of('switch'))}")
    elif kind is None and not world.names.may_be_missing("switches"):
        near = world.names.nearest.match(switch, world.names.of("switch"))
        no_name(world, path, "switch", switch, f"did you mean {near}?" if near else "declare it in [switches]")
    raise Lost


def _curve(fields: Fields, world: World) -> str | None:
    name = fields.text("curve")
    if name is None:
        raise Lost
    if name == "straight":
        return None
    if name in world.curves:
        return name
    if name not in world.curve_names and not world.names.may_be_missing("curves"):
        near = world.names.nearest.match(name, chain(world.curve_names, ("straight",)))
        no_name(
            world, fields.path_of("curve"), "curve", name, f"did you mean {near}?" if near else "declare it in [curves]"
        )
    raise Lost
