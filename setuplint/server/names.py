"""The names in the texts of a set-up: where each part is declared, where it is used, and what stands at a place.

A name is a kind and a word: ("switch", "hold"); a position is of its switch: ("position", "on", "hold").
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

from setuplint.server.words import is_formula, words
from setuplint.setup import Texts
from setuplint.setup.declarations import DEFAULT_POSITIONS
from setuplint.source import Document, Path, Span

STICKS = ("throttle", "aileron", "elevator", "rudder")
TABLES = {
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
}
PLURALS = {kind: table for table, kind in TABLES.items()}
CONTROLS = ("switches", "sensors", "conditions", "knobs", "sticks")  # they share one space of names
RULE = "rule"  # a waiver's
Values = Mapping[str, Any]


class Name(NamedTuple):
    """A part, by kind and word; `of` is a position's switch."""

    kind: str
    word: str
    of: str = ""


class Use(NamedTuple):
    """A name at a place of a text; `declares`: here it is declared. `path` is the key or value that it stands in."""

    name: Name
    document: Document
    span: Span
    path: Path
    declares: bool = False


def walk(document: Document) -> Iterator[tuple[Path, Any]]:
    """Every key and item with its value, from the top downwards."""
    return _walk(document.values, ())


def _walk(values: Any, path: Path) -> Iterator[tuple[Path, Any]]:
    items = values.items() if isinstance(values, dict) else enumerate(values)
    for step, found in items:
        here = (*path, step)
        yield here, found
        if isinstance(found, dict | list):
            yield from _walk(found, here)


def value(values: Any, path: Path) -> Any:
    """What stands at a path; None where nothing does."""
    for step in path:
        try:
            values = values[step]
        except (KeyError, IndexError, TypeError):
            return None
    return values


def uses(texts: Texts) -> list[Use]:
    """Every name in every text of a set-up, declarations included."""
    return [use for document in texts for use in of_text(document, texts.values)]


def of_text(document: Document, values: Values) -> Iterator[Use]:
    """Every name in one text; `values` are those of all texts together."""
    for path, found in walk(document):
        named = _key(path, values) if isinstance(path[-1], str) else None
        if named is not None:
            yield from (Use(named[0], document, span, path, named[1]) for span in document.key_spans(path))
        if not isinstance(found, str):
            continue
        if is_formula(path):
            yield from _in_formula(document, path, found, values)
            continue
        referred = _value(path, found, values)
        if referred is not None:
            yield Use(referred[0], document, within(document, path, 0, len(found)), path, referred[1])


def _key(path: Path, values: Values) -> tuple[Name, bool] | None:
    """What a key names, and whether it declares it."""
    word, table = str(path[-1]), path[0]
    if len(path) == 2 and table in TABLES:
        return Name(TABLES[str(table)], word), True
    if len(path) == 2 and table == "failsafe":
        return Name("channel", word), False
    if table != "channels" or len(path) < 4:
        return None
    if len(path) == 4 and path[2] == "in":
        return Name("mode", word), False
    if path[-2] in ("values", "at"):
        switch = _switch_of(path, values)
        return (Name("position", word, switch), False) if switch else None
    return None


def _switch_of(path: Path, values: Values) -> str | None:
    """The switch whose positions are the keys of `values` or `at`; a mode's line takes its own channel's `from`."""
    holder = value(values, path[:-2])
    switch = holder.get("from" if path[-2] == "values" else "switch") if isinstance(holder, dict) else None
    if switch is None and path[-2] == "values" and path[2] == "in":
        switch = value(values, (*path[:2], "from"))
    return switch if isinstance(switch, str) else None


def _value(path: Path, word: str, values: Values) -> tuple[Name, bool] | None:
    """What a text that is no formula names, and whether it declares it."""
    table, last = path[0], path[-1]
    if table == "channels" and len(path) > 2:
        if last in ("curve", "switch"):
            return (Name(str(last), word), False) if word != "straight" else None
        if last == "from":
            named = control(values, word)
            return None if named is None else (named, False)
    if last == "channel" and table in ("overrides", "intent"):
        return Name("channel", word), False
    if len(path) == 4 and table == "switches" and path[2] == "positions":
        return Name("position", word, str(path[1])), True
    if len(path) == 3 and table == "waivers" and last == "rule":
        return Name(RULE, word), False
    return None


def control(values: Values, word: str) -> Name | None:
    """The stick, knob, switch, sensor or condition of that name."""
    for table in CONTROLS:
        parts = values.get(table)
        if isinstance(parts, dict) and word in parts:
            return Name(TABLES[table], word)
    return Name("stick", word) if word in STICKS else None


def _in_formula(document: Document, path: Path, text: str, values: Values) -> Iterator[Use]:
    for word in words(text):
        named: Name | None = None
        if word.role in ("control", "stick"):
            named = control(values, word.text)
        elif word.role in ("mode", "channel", "position"):
            named = Name(word.role, word.text, word.of)
        if named is not None:
            yield Use(named, document, within(document, path, word.start, word.end), path)


def within(document: Document, path: Path, start: int, end: int) -> Span:
    """The place of a part of the string at a path."""
    whole = document.value_span(path)
    assert whole is not None
    text = document.text
    if text[whole.start] != text[whole.start + 1] and "\\" not in text[whole.start : whole.end]:
        return Span(whole.start + 1 + start, whole.start + 1 + end)  # most strings
    return Span(document.string_offset(path, start), document.string_offset(path, end))


def path_at(document: Document, offset: int) -> Path | None:
    """The innermost key or value that an offset is in, or just after."""
    best: tuple[int, Path] | None = None
    for path, _ in walk(document):
        for span in (*document.key_spans(path), document.value_span(path)):
            if span is not None and span.start <= offset <= span.end:
                size = span.end - span.start
                if best is None or size <= best[0]:
                    best = size, path
    return None if best is None else best[1]


def positions(values: Values, switch: str) -> list[str]:
    """A switch's positions, those that its kind has where it says none."""
    part = value(values, ("switches", switch))
    if not isinstance(part, dict):
        return []
    given = part.get("positions")
    if isinstance(given, list):
        return [word for word in given if isinstance(word, str)]
    return list(DEFAULT_POSITIONS.get(str(part.get("kind")), ()))
