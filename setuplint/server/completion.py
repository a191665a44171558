"""What may come next at a place of the text, the text broken there as it is while one types."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from types import MappingProxyType
from typing import Any, NamedTuple

from setuplint.book.rule_file import Rule
from setuplint.server import format_schema
from setuplint.server.cursor import Cursor, cursor
from setuplint.server.names import CONTROLS, STICKS, TABLES, positions, value
from setuplint.server.words import Word, is_formula, words
from setuplint.setup.formulas import PREDICATES
from setuplint.source import Path, Span

Values = Mapping[str, Any]
LISTS = ("claims", "waivers")


class Choice(NamedTuple):
    """What may be written: `text` is put in place of what is typed, `kind` says what it is (key, table, word, formula, or the
    kind of a name), `about` what it means. Those `first` are most often wanted."""

    label: str
    kind: str
    about: str = ""
    text: str = ""
    first: bool = False


class Choices(NamedTuple):
    """All that may come, and the part of the text that it replaces."""

    replaces: Span
    found: list[Choice]


class Known(NamedTuple):
    """What is known besides: the paths of files that the text may extend, the rules with subjects that spoke, and all rules."""

    parts: Callable[[], Iterable[str]] = tuple
    spoken: Iterable[tuple[str, str]] = ()
    rules: Mapping[str, Rule] = MappingProxyType({})


def complete(values: Values, text: str, offset: int, known: Known | None = None) -> Choices:
    """The choices at an offset of a text. `values` are the set-up's as last read, for the names in them."""
    here = cursor(text, offset)
    start = here.start
    if here.kind == "value" and is_formula(here.path):
        if not here.quote:
            return Choices(Span(start, offset), [Choice('"', "formula", "a formula, in quotes", '""')])
        typed = here.typed
        start = offset - len(typed) + len(typed.rstrip("abcdefghijklmnopqrstuvwxyz0123456789-"))
        found = _formula(list(words(typed[: len(typed) - (offset - start)])), values, here.path)
        return Choices(Span(start, offset), list(found))
    if here.kind == "heading":
        return Choices(Span(start, offset), list(_headings(here, text, values)))
    if here.kind == "key":
        start -= 1 if here.quote else 0
        return Choices(Span(start, offset), list(_keys(here, values)))
    if here.kind == "value" and here.path:
        return Choices(Span(start, offset), list(_values(here, values, known or Known())))
    return Choices(Span(offset, offset), [])


def _headings(here: Cursor, text: str, values: Values) -> Iterator[Choice]:
    """Tables at the top; under one that holds named parts, names that are expected there."""
    path = here.path
    double = text[: here.start].rstrip().endswith("[[")
    closed = text.startswith("]", here.start + len(here.typed))
    if not path:
        for name, node in format_schema.schema()["properties"].items():
            found = format_schema.resolved(node)
            if name in LISTS:
                end = "" if closed and double else "]" if closed else "]]"
                yield Choice(name, "table", format_schema.about(found), f"{'' if double else '['}{name}{end}")
            elif format_schema.is_table(found) and not double:
                text = f"{name}." if name in TABLES else name if closed else f"{name}]"
                yield Choice(name, "table", format_schema.about(found), text)
    elif path == ("sticks",):
        yield from (Choice(name, "stick") for name in STICKS)
    elif len(path) == 3 and path[0] == "channels" and path[2] == "in":
        yield from (Choice(name, "mode") for name in _names(values, "modes"))
    elif len(path) == 2 and path[0] == "channels":
        yield Choice("in", "table", "what differs in a mode", "in.")


def _keys(here: Cursor, values: Values) -> Iterator[Choice]:
    """The keys of a table that it does not have yet, those first that it needs."""
    path = here.path
    there = value(values, path)
    taken = set(there) - {here.typed} if isinstance(there, dict) else set()
    if path == ("failsafe",):
        yield from _pairs(_names(values, "channels"), "channel", taken)
    elif path[:1] == ("channels",) and len(path) == 3 and path[2] == "in":
        yield from (Choice(name, "mode", text=name) for name in _names(values, "modes") if name not in taken)
    elif path[:1] == ("channels",) and path[-1] in ("values", "at"):
        yield from _pairs(positions(values, _switch(here, values)), "position", taken)
    else:
        for node in format_schema.choices(format_schema.at(path)):
            needed = node.get("required", [])
            for name, each in node.get("properties", {}).items():
                about = format_schema.resolved(each)
                if name in taken or (not path and (name in LISTS or name in TABLES)):
                    continue
                if not path and format_schema.is_table(about):
                    yield Choice(f"[{name}]", "table", format_schema.about(about), f"[{name}]")
                    continue
                more = name in ("in",)
                text = f"{name}." if more else f"{name} = "
                yield Choice(name, "key", format_schema.about(about), text, name in needed)
    if not path:
        for name in (*TABLES, *LISTS):
            node = format_schema.at((name,))
            text = f"[[{name}]]" if name in LISTS else f"[{name}."
            yield Choice(text, "table", format_schema.about(node), text)


def _pairs(names: Iterable[str], kind: str, taken: set[str]) -> Iterator[Choice]:
    return (Choice(name, kind, text=f"{name} = ") for name in names if name not in taken)


def _switch(here: Cursor, values: Values) -> str:
    """The switch whose positions are the keys of the table that the cursor is in."""
    key = "from" if here.path[-1] == "values" else "switch"
    ways = [(*here.path[:-1], key), *([(*here.path[:2], key)] if key == "from" else [])]
    found = (here.beside.get(way) or value(values, way) for way in ways)
    return next((name for name in found if isinstance(name, str)), "")


def _values(here: Cursor, values: Values, known: Known) -> Iterator[Choice]:
    """The words and names that a value may be; its quotes are added where they are not there yet."""
    path, last = here.path, here.path[-1]
    node = format_schema.at(path)
    named: list[tuple[str, str, str]] = []
    if last == "from" and path[0] == "channels":
        named = [(name, kind, "") for name, kind in _controls(values, ("sticks", "knobs", "switches"))]
    elif last == "curve" and path[0] == "channels":
        named = [*((name, "curve", "") for name in _names(values, "curves")), ("straight", "word", "without a curve")]
    elif last == "channel" and path[0] in ("overrides", "intent"):
        named = [(name, "channel", _drives(values, name)) for name in _names(values, "channels")]
    elif last == "switch" and path[0] == "channels":
        named = [(name, "switch", "") for name in _names(values, "switches")]
    elif last == "rule" and path[0] == "waivers":
        named = [(name, "rule", rule.title) for name, rule in known.rules.items()]
    elif path == ("extends",):
        named = [(each, "file", "a file with shared parts") for each in known.parts()]
    elif path[0] == "waivers" and path[2:3] == ("on",) and len(path) == 4:
        rule = value(values, (*path[:2], "rule"))
        there = value(values, path[:3])
        taken = [each for each in there if each != here.typed] if isinstance(there, list) else []
        taken += here.beside.values()
        spoken = [subject for each, subject in known.spoken if each == rule and subject not in taken]
        named = [(subject, "word", f"{rule} speaks of it") for subject in dict.fromkeys(spoken) if '"' not in subject]
    for name, kind, about in named:
        yield Choice(name, kind, about, name if here.quote else f'"{name}"')
    for word in format_schema.words(node):
        if here.quote and not word.startswith('"'):
            continue
        bare = word.strip('"')
        yield Choice(bare, "word", "", bare if here.quote else word)
    if last == "positions" or path[-2:-1] == ("positions",) or named:
        return
    for example in [] if here.quote or here.typed else node.get("examples", []):
        if isinstance(example, int | float) and not isinstance(example, bool):
            yield Choice(str(example), "example", format_schema.about(node), str(example))


def _drives(values: Values, channel: str) -> str:
    drives = value(values, ("channels", channel, "drives"))
    return f"drives {drives}" if isinstance(drives, str) else ""


def _names(values: Values, table: str) -> list[str]:
    parts = values.get(table)
    return list(parts) if isinstance(parts, dict) else []


def _controls(values: Values, tables: Iterable[str] = CONTROLS) -> Iterator[tuple[str, str]]:
    """Names with their kinds, each name once."""
    seen: set[str] = set()
    for table in tables:
        for name in (*_names(values, table), *(STICKS if table == "sticks" else ())):
            if name not in seen:
                seen.add(name)
                yield name, TABLES[table]


def _formula(before: list[Word], values: Values, path: Path) -> Iterator[Choice]:
    """What may follow the words before the one that is typed."""
    last = before[-1] if before else None
    claims = path[0] == "claims"
    if last is None or last.text in ("and", "or", "(") or (last.text == "not" and not _after_is(before)):
        yield from (Choice(name, kind, _what(values, kind, name), first=True) for name, kind in _controls(values))
        yield Choice("mode is", "keyword", "the flight mode", "mode is ")
        yield Choice("not", "keyword", text="not ")
        if claims:
            yield Choice("output", "keyword", "a channel's output against a number", "output ")
            yield from (Choice(each, "predicate") for each in PREDICATES)
        return
    if last.text == "is" or _after_is(before):
        subject = next((w.text for w in reversed(before) if w.text not in ("is", "not")), "")
        if subject == "mode":
            yield from (Choice(each, "mode") for each in _names(values, "modes"))
        elif subject in _names(values, "sensors"):
            yield Choice("lost", "keyword", "nothing is heard of it")
        else:
            yield from (Choice(each, "position", f"of {subject}") for each in positions(values, subject))
        if last.text == "is":
            yield Choice("not", "keyword", text="not ")
        return
    if last.text == "output":
        yield from (Choice(each, "channel", _drives(values, each)) for each in _names(values, "channels"))
    elif last.role == "channel":
        yield from _signs()
    elif (last.role == "control" and last.text in _names(values, "switches")) or last.text == "mode":
        yield Choice("is", "keyword", text="is ")
    elif last.role == "control" and last.text in (*_names(values, "sensors"), *_names(values, "knobs"), *STICKS):
        yield from _signs()
        if last.text in _names(values, "sensors"):
            yield Choice("is lost", "keyword", "nothing is heard of it")
    elif last.role != "operator":
        yield Choice("and", "keyword", text="and ")
        yield Choice("or", "keyword", text="or ")


def _after_is(before: list[Word]) -> bool:
    return len(before) > 1 and before[-1].text == "not" and before[-2].text == "is"


def _signs() -> Iterator[Choice]:
    return (Choice(sign, "operator", text=f"{sign} ") for sign in ("<", "<=", ">", ">="))


def _what(values: Values, kind: str, name: str) -> str:
    """What a control is, in a word or two."""
    if kind == "switch":
        return ", ".join(positions(values, name))
    if kind == "sensor":
        return str(value(values, ("sensors", name, "reads")) or "")
    return ""
