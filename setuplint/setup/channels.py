"""Channels: their terms in every mode, with what `in` replaces (MEANING.md 5)."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from contextlib import suppress
from fractions import Fraction
from itertools import chain

from setuplint.dataclass import dataclass, replace
from setuplint.hints import Any
from setuplint.setup.fields import Fields, exact_number
from setuplint.setup.model import HUNDRED, ZERO, BySwitch, Channel, Lending, Line, Path, Term, Trainer, pupil_name
from setuplint.setup.names import Names, known_names_hint
from setuplint.setup.notes import Notes
from setuplint.setup.problems import dotted, quoted, word_list

LINE_KEYS = ("from", "rate", "expo", "curve", "values", "mix", "ramp-up", "ramp-down")
STICK_KEYS = ("rate", "expo", "curve")
MOST_TERMS = 8  # in `mix`
SERVO_KEYS = ("reversed", "travel", "sub-trim", "low", "high")


@dataclass(slots=True)
class Scope:
    """What a channel's keys may name."""

    notes: Notes
    names: Names
    curves: Mapping[str, object]  # the good ones
    curve_names: Collection[str]  # the broken ones too
    modes: Collection[str]


class Unreliable(Exception):
    """What is asked for cannot be relied on; the problem is noted where there is a new one."""


LineKeys = Mapping[str, Fields]
"""For each key of a line that is given or lost, the table it stands in: the channel's, or one of its `in`."""


def channel_and_known(fields: Fields, scope: Scope) -> tuple[Channel, bool]:
    """The channel, and whether its output can be known where an override decides: how the servo is driven was read."""
    own, lines = _own_and_lines(fields, scope)
    low, high = _limits(fields)
    if fields.is_lost("drives"):
        fields.notes.damage(fields.path_of("drives"))  # of a channel that is no table too
    travel = [
        exact_number(fields.notes, (*fields.path_of("travel"), n), each)
        for n, each in enumerate(fields.get("travel") or (100, 100))
    ]
    channel = Channel(
        name=fields.name,
        number=fields.get("number"),
        drives=fields.word("drives", "other"),
        own=own,
        lines=lines,
        reversed=fields.flag("reversed"),
        down=HUNDRED if travel[0] is None else travel[0],
        up=HUNDRED if travel[1] is None else travel[1],
        sub_trim=fields.number("sub-trim") or ZERO,
        low=low,
        high=high,
    )
    known = not any(fields.is_lost(key) for key in SERVO_KEYS)
    return (channel if known else undescribed(channel)), known


def undescribed(channel: Channel) -> Channel:
    """The channel with no line of it known."""
    return channel.with_lines(lambda line: replace(line, terms=None))


def _own_and_lines(fields: Fields, scope: Scope) -> tuple[Line, dict[str, Line]]:
    """The channel's own line, and its line in each mode."""
    own = {key: fields for key in LINE_KEYS if not fields.is_absent(key)}
    tables, lost_modes = _modes(fields, scope)
    unclear = _check_mismatches(fields, own, scope)
    for table in tables.values():
        _check_mismatches(table, {} if unclear else own, scope)
    own_line = _line(own, scope)
    lines = {}
    for mode in scope.modes:
        if mode in lost_modes:
            lines[mode] = Line(None)
        elif mode in tables:
            table = tables[mode]
            lines[mode] = _line(own | {key: table for key in LINE_KEYS if not table.is_absent(key)}, scope)
        else:
            lines[mode] = own_line
    if scope.names.may_be_missing("modes") and tables.keys() - lines.keys():
        own_line = Line(None)  # where no mode holds that could be read one may hold that could not
    return own_line, lines


def _limits(fields: Fields) -> tuple[Fraction, Fraction]:
    """`low` and `high`, noted where they are the wrong way round."""
    low, high = fields.number("low", Fraction(-150)), fields.number("high", Fraction(150))
    if low is not None and high is not None and low > high:
        at = "low" if fields.is_given("low") else "high"
        other = "high" if at == "low" else "low"
        fields.note_wrong(at, f"low is above high in {dotted(fields.path)}", "swap them", other)
    return Fraction(-150) if low is None else low, Fraction(150) if high is None else high


def _modes(fields: Fields, scope: Scope) -> tuple[dict[str, Fields], set[str]]:
    """The tables of `in` by mode, and the modes of which it is not known what they change."""
    if "in" not in fields.table:
        gone = {mode for mode in scope.modes if (*fields.path_of("in"), mode) in fields.notes.gone}
        return {}, set(scope.modes) if fields.is_lost("in") else gone
    inner = fields.child("in")
    lost = {mode for mode in scope.modes if inner.is_lost(mode)}
    tables = {}
    for mode in inner.table:
        tables[mode] = inner.child(mode)
        if mode in scope.modes:
            lost.discard(mode)
            if tables[mode].absent_is_unknown:
                lost.add(mode)
        elif not scope.names.may_be_missing("modes"):
            near = scope.names.nearest.match(mode, scope.modes)
            help = f"did you mean {near}?" if near else known_names_hint("modes", scope.modes)
            path = inner.path_of(mode)
            message = f"there is no mode {quoted(mode)}"
            scope.notes.add("unknown-name", path, message, help, subject=f"mode {mode}", key=True)
            if near:
                lost.add(near)
            elif len(lost) < len(scope.modes):
                lost |= set(scope.modes)
    return tables, lost


def kind_of_source(fields: Fields, scope: Scope) -> str:
    """number, switch or stick (sticks and knobs); Unreliable if `from` is none of these."""
    source = fields.get("from")
    if source is None:
        raise Unreliable
    if not isinstance(source, str):
        return "number"
    kind = scope.names.controls.get(source)
    if kind in ("stick", "knob"):
        return "stick"
    if kind == "switch":
        return kind
    path = fields.path_of("from")
    if kind is not None and kind != "broken":
        message = f"{quoted(source)} is a {kind}, where a stick, knob or switch belongs"
        scope.notes.add("not-a-setup", path, message, "a channel reads a stick, knob or switch, or is a fixed number")
    elif kind is None and not scope.names.may_be_missing("sticks", "knobs", "switches"):
        known, otherwise = (
            scope.names.of_kinds("stick", "knob", "switch"),
            "declare it, or write a fixed number without quotes",
        )
        _no_name(scope, path, "stick, knob or switch", source, known, otherwise)
    raise Unreliable


def _no_name(scope: Scope, path: Path, what: str, name: str, known: Iterable[str], otherwise: str) -> None:
    near = scope.names.nearest.match(name, known)
    help = f"did you mean {near}?" if near else otherwise
    subject = f"curve {name}" if what == "curve" else name
    scope.notes.add("unknown-name", path, f"there is no {what} {quoted(name)}", help, subject=subject)


def _check_mismatches(table: Fields, own: LineKeys, scope: Scope) -> bool:
    """Keys that do not go with the `from` beside them, or with the one that an `in` leaves as it is; and every name.
    Whether there is such a key."""
    for item in _mix(table, scope):
        _check_mismatches(item, {}, scope)
    for key in STICK_KEYS:
        if table.is_given(key):
            with suppress(Unreliable):
                _setting(table, key, scope)
    source = table if not table.is_absent("from") else own.get("from")
    try:
        kind = kind_of_source(source, scope) if source else None
    except Unreliable:
        return False
    wrong = [key for key in _wrong_keys(kind) if table.is_given(key)] if kind else []
    if wrong:
        goes_with = "a switch" if wrong == ["values"] else "a stick or knob"
        goes = "goes" if len(wrong) == 1 else "go"
        words = word_list(wrong, "and")
        message = f"{words} {goes} with {goes_with}, and {dotted(table.path)} reads {_called(source, kind)}"
        related = tuple((table.path_of(key), "and this") for key in wrong[1:])
        scope.notes.add(
            "not-a-setup", table.path_of(wrong[0]), message, f"leave {words} out, or read {goes_with}", related=related
        )
        for key in wrong:
            scope.notes.lose(table.path_of(key))
    return bool(wrong)


def _wrong_keys(kind: str) -> tuple[str, ...]:
    return ("values",) if kind == "stick" else STICK_KEYS if kind == "switch" else (*STICK_KEYS, "values")


def _called(source: Fields | None, kind: str | None) -> str:
    written = source.get("from") if source else None
    return "a fixed number" if kind == "number" else f"the {'switch' if kind == 'switch' else 'stick'} {written}"


def _mix(table: Fields, scope: Scope) -> list[Fields]:
    items = table.table.get("mix")
    if not isinstance(items, list) or len(items) > MOST_TERMS:
        return []
    return [Fields(scope.notes, (*table.path_of("mix"), n), item) for n, item in enumerate(items)]


def _line(keys: LineKeys, scope: Scope) -> Line:
    """The line of a mode. Without `from` it is not described; nor where something in it cannot be relied on."""
    up = down = ZERO
    try:
        up, down = (_ramp(keys, key) for key in ("ramp-up", "ramp-down"))
        if "from" not in keys:
            return Line(None, up, down)
        first = _term(keys, scope)
        mix = keys.get("mix")
        items = _mix(mix, scope) if mix else []
        if mix and (mix.is_lost("mix") or not isinstance(mix.table.get("mix"), list)):
            raise Unreliable
        terms = (first, *(_term({key: item for key in LINE_KEYS if not item.is_absent(key)}, scope) for item in items))
        _check_twice(terms, [keys["from"], *items], scope)
    except Unreliable:
        return Line(None, up, down)
    return Line(terms, up, down)


def _ramp(keys: LineKeys, key: str) -> Fraction:
    seconds = keys[key].number(key) if key in keys else ZERO
    if seconds is None:
        raise Unreliable
    return seconds


def _check_twice(terms: tuple[Term, ...], places: list[Fields], scope: Scope) -> None:
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
        scope.notes.add(
            "not-a-setup", pair[1], f"{quoted(str(term.source))} is read twice by {dotted(pair[1][:2])} in one mode",
            "make one term of the two: their rates add up", related=((pair[0], "and here"),), lose=False,
        )  # fmt: skip
        scope.notes.damage(pair[1])
        raise Unreliable


def _inherited(keys: LineKeys, key: str) -> bool:
    """Whether an `in` brings its own `from` to a key that stays as it is in the channel."""
    source = keys["from"]
    return source.path[2:3] == ("in",) and keys[key].path == source.path[:2]


def _term(keys: LineKeys, scope: Scope) -> Term:
    kind = kind_of_source(keys["from"], scope)
    written = keys["from"].table["from"]
    if any(key in keys and not _inherited(keys, key) for key in _wrong_keys(kind)):
        raise Unreliable  # noted as a mismatch: it is not clear what was meant
    if kind == "switch":
        return Term(written, kind, values=_values(keys, written, scope))
    if kind == "stick":
        given = {key: _setting(keys[key], key, scope) for key in STICK_KEYS if key in keys}
        return Term(written, kind, given.get("rate", HUNDRED), given.get("expo", ZERO), given.get("curve"))
    number = keys["from"].number("from")
    if number is None:
        raise Unreliable
    return Term(number, kind)


def _values(keys: LineKeys, switch: str, scope: Scope) -> dict[str, Fraction]:
    positions = scope.names.positions[switch]
    source, fields = keys["from"], keys.get("values")
    if fields is not None and _inherited(keys, "values") and fields.table.get("from") != switch:
        table = fields.table.get("values")
        fields = fields if table is None or set(table) == set(positions) else None
    if fields is not None and not fields.is_given("values"):
        raise Unreliable
    if fields is None:
        example = ", ".join(f"{word} = 0" for word in positions)
        scope.notes.add(
            "not-a-setup", source.path_of("from"), f"{dotted(source.path)} reads the switch {switch}, without values",
            f"add values = {{ {example} }}", subject=dotted(source.path_of("values")), lose=False,
        )  # fmt: skip
        scope.notes.damage(source.path_of("values"))
        raise Unreliable
    return _by_position(scope, fields.path_of("values"), fields.table["values"], switch)


def _by_position(scope: Scope, path: Path, table: Mapping[str, Any], switch: str) -> dict[str, Fraction]:
    """A number for every position of a switch and for nothing else."""
    notes, positions = scope.notes, scope.names.positions[switch]
    if path in notes.gone:
        raise Unreliable
    known = f"its positions are {word_list(positions, 'and')}"
    strange = [word for word in table if word not in positions]
    missing = [word for word in positions if word not in table]
    if strange and missing == list(positions):
        message = (
            f"{dotted(path)} is for {word_list(map(quoted, strange), 'and')}, and {switch} has none of these positions"
        )
        notes.add("unknown-name", path, message, known, subject=f"{dotted(path)}: {switch}")
        raise Unreliable
    unnamed = list(missing)
    for word in strange:
        near = scope.names.nearest.match(word, unnamed) or (unnamed[0] if len(unnamed) == 1 else None)
        help, message = f"did you mean {near}?" if near else known, f"{switch} has no position {quoted(word)}"
        notes.add("unknown-name", (*path, word), message, help, subject=f"{switch} is {word}", key=True)
        if near:
            unnamed.remove(near)
    if unnamed:
        message = f"{dotted(path)} says nothing for {word_list(unnamed, 'and')} of the switch {switch}"
        notes.add("not-a-setup", path, message, f"add {unnamed[0]} = 0, or the number that is meant")
    good = [word for word in positions if word in table and (*path, word) not in notes.lost]
    numbers = {word: exact_number(notes, (*path, word), table[word]) for word in good}
    if strange or missing or None in numbers.values() or len(numbers) < len(positions):
        raise Unreliable
    return {word: number for word, number in numbers.items() if number is not None}


def _setting(fields: Fields, key: str, scope: Scope) -> Any:
    """A rate or expo (a number, or one for each position of a switch) or a curve's name (None: straight)."""
    if key == "curve":
        return _curve(fields, scope)
    value = fields.table.get(key)
    if not isinstance(value, dict):
        number = fields.number(key)
        if number is None:
            raise Unreliable
        return number
    inner = fields.child(key)
    switch = inner.text("switch")
    if switch is None:
        raise Unreliable
    kind = scope.names.controls.get(switch)
    if kind == "switch":
        at = inner.table.get("at")
        if not isinstance(at, dict):
            raise Unreliable
        found = BySwitch(switch, _by_position(scope, inner.path_of("at"), at, switch))
        if fields.is_lost(key):
            raise Unreliable
        return found
    path = inner.path_of("switch")
    if kind is not None and kind != "broken":
        message = f"{quoted(switch)} is a {kind}, where a switch belongs"
        scope.notes.add("not-a-setup", path, message, f"name one of {word_list(scope.names.of_kinds('switch'))}")
    elif kind is None and not scope.names.may_be_missing("switches"):
        _no_name(scope, path, "switch", switch, scope.names.of_kinds("switch"), "declare it in [switches]")
    raise Unreliable


def _curve(fields: Fields, scope: Scope) -> str | None:
    name = fields.text("curve")
    if name is None:
        raise Unreliable
    if name == "straight":
        return None
    if name in scope.curves:
        return name
    if name not in scope.curve_names and not scope.names.may_be_missing("curves"):
        known = chain(scope.curve_names, ("straight",))
        _no_name(scope, fields.path_of("curve"), "curve", name, known, "declare it in [curves]")
    raise Unreliable


def lent_channel(channel: Channel, trainer: Trainer) -> Channel:
    """The same, with the pupil's places of its sticks."""

    def term(each: Term) -> Term:
        source = each.source
        if each.kind != "stick" or not isinstance(source, str) or source not in trainer.sticks:
            return each
        return replace(each, lending=Lending(trainer.lent, pupil_name(source)))

    def line(each: Line) -> Line:
        return each if each.terms is None else replace(each, terms=tuple(map(term, each.terms)))

    return channel.with_lines(line)
