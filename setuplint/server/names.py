"""The names in a text: where each part is declared, where it is used, and what stands under the cursor.

A name is a kind and a word: ("switch", "hold"); a position is of its switch: ("position", "on", "hold").
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

from setuplint.setup import Texts
from setuplint.setup.formulas import FormulaError, tokens
from setuplint.setup.parts import DEFAULT_POSITIONS
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
CONTROLS = ("switches", "sensors", "conditions", "knobs", "sticks")  # they share one space of names
FORMULAS = frozenset(("when", "until", "runs", "requires", "hold", "stop", "rescue", "never", "always"))


class Name(NamedTuple):
    """A part, by kind and word; `of` is a position's switch."""

    kind: str
    word: str
    of: str = ""


class Use(NamedTuple):
    """A name at a place of a text; `declares`: here it is declared."""

    name: Name
    document: Document
    span: Span
    declares: bool = False


def walk(document: Document) -> Iterator[Path]:
    """Every key and item, from the top downwards."""

    def inside(values: Any, path: Path) -> Iterator[Path]:
        steps: list[str | int] = list(values) if isinstance(values, dict) else list(range(len(values)))
        for step in steps:
            here = (*path, step)
            yield here
            if isinstance(values[step], dict | list):
                yield from inside(values[step], here)

    yield from inside(document.values, ())


def value(values: Any, path: Path) -> Any:
    """What stands at a path; None where nothing does."""
    for step in path:
        try:
            values = values[step]
        except (KeyError, IndexError, TypeError):
            return None
    return values


def is_formula(path: Path, found: Any) -> bool:
    return isinstance(found, str) and len(path) >= 2 and path[-1] in FORMULAS


def uses(texts: Texts) -> list[Use]:
    """Every name in every text of a set-up, declarations included."""
    return [use for document in texts for use in _uses(document, texts.values)]


def _uses(document: Document, values: Mapping[str, Any]) -> Iterator[Use]:
    for path in walk(document):
        found = value(document.values, path)
        key = document.key_span(path)
        if key is not None:
            named = _key(path, values)
            if named is not None:
                yield Use(named[0], document, key, named[1])
        if is_formula(path, found):
            yield from _in_formula(document, path, found, values)
        elif isinstance(found, str):
            referred = _value(path, found, values)
            span = document.value_span(path)
            if referred is not None and span is not None:
                yield Use(referred[0], document, _within(document, path, 0, len(found)), referred[1])


def _key(path: Path, values: Mapping[str, Any]) -> tuple[Name, bool] | None:
    """What a key names, and whether it declares it."""
    word = str(path[-1])
    if len(path) == 2 and path[0] in TABLES:
        return Name(TABLES[str(path[0])], word), True
    if len(path) == 4 and path[0] == "channels" and path[2] == "in":
        return Name("mode", word), False
    if len(path) == 2 and path[0] == "failsafe":
        return Name("channel", word), False
    if len(path) >= 4 and path[0] == "channels" and path[-2] in ("values", "at"):
        holder = value(values, path[:-2])
        switch = holder.get("from" if path[-2] == "values" else "switch") if isinstance(holder, dict) else None
        if path[-2] == "values" and not isinstance(switch, str):
            switch = value(values, (*path[:2], "from"))
        return (Name("position", word, switch), False) if isinstance(switch, str) else None
    return None


def _value(path: Path, word: str, values: Mapping[str, Any]) -> tuple[Name, bool] | None:
    """What a text value names, and whether it declares it."""
    last = path[-1]
    if last == "curve" and path[0] == "channels":
        return Name("curve", word), False
    if last == "channel" and path[0] in ("overrides", "intent"):
        return Name("channel", word), False
    if last == "switch" and path[0] == "channels":
        return Name("switch", word), False
    if last == "from" and path[0] == "channels":
        named = control(values, word)
        return None if named is None else (named, False)
    if len(path) == 4 and path[0] == "switches" and path[2] == "positions":
        return Name("position", word, str(path[1])), True
    return None


def control(values: Mapping[str, Any], word: str) -> Name | None:
    """The stick, knob, switch, sensor or condition of that name."""
    for table in CONTROLS:
        parts = values.get(table)
        if isinstance(parts, dict) and word in parts:
            return Name(TABLES[table], word)
    return Name("stick", word) if word in STICKS else None


def _in_formula(document: Document, path: Path, text: str, values: Mapping[str, Any]) -> Iterator[Use]:
    try:
        found = tokens(text)
    except FormulaError as error:
        try:
            found = tokens(text[: error.start])
        except FormulaError:
            return
    before: list[str] = []
    for token in found:
        if token.kind == "name":
            named = in_formula(before, token.text, values)
            if named is not None:
                yield Use(named, document, _within(document, path, token.start, token.end))
        before.append(token.text)


def in_formula(before: list[str], word: str, values: Mapping[str, Any]) -> Name | None:
    """What a word of a formula stands for, by the words before it."""
    back = before[:-1] if before[-1:] == ["not"] and before[-2:-1] == ["is"] else before
    if back[-1:] == ["is"] and len(back) > 1:
        if back[-2] == "mode":
            return Name("mode", word)
        return None if word == "lost" else Name("position", word, back[-2])
    if before[-1:] == ["output"]:
        return Name("channel", word)
    return control(values, word)


def _within(document: Document, path: Path, start: int, end: int) -> Span:
    return Span(document.string_offset(path, start), document.string_offset(path, end))


def at(texts: Texts, document: Document, offset: int) -> Use | None:
    """The name that an offset of one of the texts is in, or just after."""
    found = [use for use in uses(texts) if use.document is document and use.span.start <= offset <= use.span.end]
    return min(found, key=lambda use: use.span.end - use.span.start, default=None)


def path_at(document: Document, offset: int) -> Path | None:
    """The innermost key or value that an offset is in."""
    best: tuple[int, Path] | None = None
    for path in walk(document):
        for span in (document.key_span(path), document.value_span(path)):
            if span is not None and span.start <= offset <= span.end:
                size = span.end - span.start
                if best is None or size <= best[0]:
                    best = size, path
    return None if best is None else best[1]


def of(texts: Texts, name: Name) -> list[Use]:
    """Every place of a name, those that declare it first."""
    found = [use for use in uses(texts) if use.name == name]
    return sorted(found, key=lambda use: not use.declares)


def positions(values: Mapping[str, Any], switch: str) -> list[str]:
    """A switch's positions, those that its kind has where it says none."""
    part = value(values, ("switches", switch))
    if not isinstance(part, dict):
        return []
    given = part.get("positions")
    if isinstance(given, list):
        return [word for word in given if isinstance(word, str)]
    return list(DEFAULT_POSITIONS.get(str(part.get("kind")), ()))
