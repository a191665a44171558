"""The names in the texts of a setup: where each is declared, and where it is used.

A name is a kind and a word: ("switch", "hold"). A position belongs to its switch: ("position", "on", "hold").
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from setuplint.named_tuple import NamedTuple
from setuplint.server.formula_words import formula_words, is_formula
from setuplint.server.table_pieces import Entry, TablePiece, pieces, span_within
from setuplint.setup import Texts
from setuplint.setup.declarations import DEFAULT_POSITIONS, STICKS
from setuplint.setup.kept_parts import same_basis
from setuplint.setup.problems import value_at
from setuplint.source import Document, Path, Span

KIND_OF_TABLE = {
    "sticks": "stick",
    "knobs": "knob",
    "switches": "switch",
    "sensors": "sensor",
    "conditions": "condition",
    "modes": "mode",
    "curves": "curve",
    "channels": "channel",
    "overrides": "override",
    "alarms": "alarm",
    "timers": "timer",
    "packs": "pack",
}
TABLE_OF_KIND = {kind: table for table, kind in KIND_OF_TABLE.items()}
CONTROL_TABLES = ("switches", "sensors", "conditions", "knobs", "sticks")  # a name may be in one of them only
RULE = "rule"  # the kind of a waiver's rule
Values = Mapping[str, Any]


class Name(NamedTuple):
    """A part by kind and word; `of` is a position's switch."""

    kind: str
    word: str
    of: str = ""


class Occurrence(NamedTuple):
    """A name at a place of a text. `declares`: it is declared here. `path` is the key or value that it is in."""

    name: Name
    document: Document
    span: Span
    path: Path
    declares: bool = False


def occurrences(texts: Texts) -> list[Occurrence]:
    """Every name in every text of a setup, declarations included."""
    return [each for document in texts for each in _document_occurrences(document, texts.values)]


def _document_occurrences(document: Document, values: Values) -> Iterator[Occurrence]:
    """Every name in one text; `values` are those of all texts together."""
    basis = same_basis(document.kept, "controls", [[*declarations(values, table)] for table in CONTROL_TABLES])

    def names(found: list[Entry], start: int) -> list[tuple[Name, int, int, Path, bool]]:
        named = _named_entries(document, found, values)  # nothing that is kept may hold the document
        return [(each.name, each.span.start - start, each.span.end - start, each.path, each.declares) for each in named]

    for each in pieces(document):
        if isinstance(each, TablePiece):
            start = each.start
            for name, first, end, path, declares in each.made("names", names, basis):
                yield Occurrence(name, document, Span(first + start, end + start), path, declares)
        else:
            yield from _named_entries(document, each, values)


def _named_entries(document: Document, found: Iterable[Entry], values: Values) -> Iterator[Occurrence]:
    for path, value in found:
        key = _name_in_key(path, values) if isinstance(path[-1], str) else None
        if key is not None:
            yield from (Occurrence(key[0], document, span, path, key[1]) for span in document.key_spans(path))
        if not isinstance(value, str):
            continue
        if is_formula(path):
            yield from _formula_occurrences(document, path, value, values)
            continue
        named = _name_in_value(path, value, values)
        if named is not None:
            yield Occurrence(named[0], document, span_within(document, path, 0, len(value)), path, named[1])


def _name_in_key(path: Path, values: Values) -> tuple[Name, bool] | None:
    """The name that a key is, and whether it declares it."""
    word, table = str(path[-1]), path[0]
    if len(path) == 2 and table in KIND_OF_TABLE:
        return Name(KIND_OF_TABLE[str(table)], word), True
    if len(path) == 2 and table == "failsafe":
        return Name("channel", word), False
    if table != "channels" or len(path) < 4:
        return None
    if len(path) == 4 and path[2] == "in":
        return Name("mode", word), False
    if path[-2] in ("values", "at"):
        switch = _switch_of_positions(path, values)
        return (Name("position", word, switch), False) if switch else None
    return None


def _switch_of_positions(path: Path, values: Values) -> str | None:
    """The switch whose positions are the keys of `values` or `at`; a mode's line takes its channel's `from`."""
    holder = value_at(values, path[:-2])
    switch = holder.get("from" if path[-2] == "values" else "switch") if isinstance(holder, dict) else None
    if switch is None and path[-2] == "values" and path[2] == "in":
        switch = value_at(values, (*path[:2], "from"))
    return switch if isinstance(switch, str) else None


def _name_in_value(path: Path, word: str, values: Values) -> tuple[Name, bool] | None:
    """The name that a string (not a formula) is, and whether it declares it."""
    table, last = path[0], path[-1]
    if table == "channels" and len(path) > 2:
        if last in ("curve", "switch"):
            return (Name(str(last), word), False) if word != "straight" else None
        if last == "from":
            named = control_name(values, word)
            return None if named is None else (named, False)
    if last == "channel" and table in ("overrides", "intent"):
        return Name("channel", word), False
    if len(path) == 3 and table == "trainer":
        return (Name("stick", word), False) if word in STICKS else None
    if len(path) == 4 and table == "switches" and path[2] == "positions":
        return Name("position", word, str(path[1])), True
    if len(path) == 3 and table == "waivers" and last == "rule":
        return Name(RULE, word), False
    return None


def control_name(values: Values, word: str) -> Name | None:
    """The stick, knob, switch, sensor or condition of that name."""
    for table in CONTROL_TABLES:
        if word in declarations(values, table):
            return Name(KIND_OF_TABLE[table], word)
    return Name("stick", word) if word in STICKS else None


def declarations(values: Values, table: str) -> Values:
    """What a table declares, by name; empty where it is missing or no table."""
    found = values.get(table)
    return found if isinstance(found, dict) else {}


def _formula_occurrences(document: Document, path: Path, text: str, values: Values) -> Iterator[Occurrence]:
    for word in formula_words(text):
        named: Name | None = None
        if word.role in ("control", "stick"):
            named = control_name(values, word.text)
        elif word.role in ("mode", "channel", "position"):
            named = Name(word.role, word.text, word.of)
        if named is not None:
            yield Occurrence(named, document, span_within(document, path, word.start, word.end), path)


def switch_positions(values: Values, switch: str) -> list[str]:
    """A switch's positions; those of its kind where it gives none."""
    table = value_at(values, ("switches", switch))
    if not isinstance(table, dict):
        return []
    given = table.get("positions")
    if isinstance(given, list):
        return [word for word in given if isinstance(word, str)]
    return list(DEFAULT_POSITIONS.get(str(table.get("kind")), ()))
