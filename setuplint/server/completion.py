"""What may come next at a place of the text, the text broken there as it is while one types."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from functools import cache
from typing import Any, NamedTuple

from setuplint.server.names import CONTROLS, FORMULAS, STICKS, positions
from setuplint.setup import Texts
from setuplint.setup.formulas import PREDICATES
from setuplint.setup.schema import json_schema

HEADING = re.compile(r"^[ \t]*\[\[?[ \t]*([a-z0-9.\"-]*)", re.MULTILINE)
KEY = re.compile(r"^[ \t]*([a-z0-9.-]*)$")
VALUE = re.compile(r"^[ \t]*([a-z0-9.\"-]+)[ \t]*=[ \t]*(.*)$")
WORDS = re.compile(r"[a-z][a-z0-9-]*|<=|>=|<|>|\(|\)|-?[0-9.]+")


class Choice(NamedTuple):
    """What may be written, and what it is; `text` where something else than the label is put in."""

    label: str
    about: str = ""
    text: str = ""


def complete(texts: Texts, text: str, offset: int) -> list[Choice]:
    """The choices at an offset. `texts` are the set-up's as last read, for the names in them."""
    start = text.rfind("\n", 0, offset) + 1
    line = text[start:offset]
    if line.lstrip().startswith("#"):
        return []
    if line.lstrip().startswith("["):
        return [Choice(name, about) for name, about in _tables()]
    path = _heading(text, start)
    value = VALUE.match(line)
    if value is None:
        return list(_keys(path)) if KEY.match(line) else []
    return list(_values((*path, *value.group(1).replace('"', "").split(".")), value.group(2), texts.values))


def _heading(text: str, start: int) -> tuple[str, ...]:
    """The path of the heading that a line stands under."""
    last = None
    for found in HEADING.finditer(text, 0, start):
        last = found
    return tuple(last.group(1).replace('"', "").split(".")) if last is not None else ()


@cache
def _schema() -> dict[str, Any]:
    return json_schema()


def _part(path: tuple[str, ...]) -> dict[str, Any]:
    """The schema of the table at a path; empty where there is none."""
    node: Any = _schema()
    for step in path:
        node = _resolved(node)
        if "items" in node and "properties" not in node:
            node = _resolved(node["items"])
        properties = node.get("properties", {})
        if step in properties:
            node = properties[step]
            continue
        more = [node.get("additionalProperties"), *(node.get("patternProperties") or {}).values()]
        node = next((each for each in more if isinstance(each, dict)), {})
    return _resolved(node)


def _resolved(node: Any) -> dict[str, Any]:
    for _ in range(20):
        if not isinstance(node, dict):
            return {}
        if "$ref" in node:
            found: Any = _schema()
            for step in node["$ref"].removeprefix("#/").split("/"):
                found = found.get(step, {})
            node = {**found, **{key: each for key, each in node.items() if key != "$ref"}}
            continue
        break
    return node if isinstance(node, dict) else {}


def _tables() -> Iterator[tuple[str, str]]:
    for name, node in _schema().get("properties", {}).items():
        found = _resolved(node)
        if found.get("type") in ("object", "array"):
            yield name, str(found.get("description", ""))


def _keys(path: tuple[str, ...]) -> Iterator[Choice]:
    part = _part(path)
    if "items" in part:
        part = _resolved(part["items"])
    for name, node in part.get("properties", {}).items():
        yield Choice(name, str(_resolved(node).get("description", "")), f"{name} = ")


def _values(path: tuple[str, ...], typed: str, values: Mapping[str, Any]) -> Iterator[Choice]:
    quoted = typed.startswith('"')
    if path[-1] in FORMULAS and len(path) > 1 and quoted:
        yield from _formula(typed[1:], values, claims=path[0] == "claims")
        return
    found: Iterator[Choice]
    if path[-1] == "from":
        found = (Choice(each, kind) for kind, each in _controls(values, ("switches", "knobs", "sticks")))
    elif path[-1] == "curve":
        found = (Choice(each, "curve") for each in (*_names(values, "curves"), "straight"))
    elif path[-1] == "channel":
        found = (Choice(each, "channel") for each in _names(values, "channels"))
    elif path[-1] == "switch":
        found = (Choice(each, "switch") for each in _names(values, "switches"))
    elif path[-1] == "rule":
        from setuplint.checks import book

        found = (Choice(each, rule.title) for each, rule in book.rules().items())
    elif path[0] == "failsafe":
        found = (Choice(each) for each in ("keep", "unit", "none"))
    else:
        found = (Choice(str(each)) for each in _words(_part(path)))
    for choice in found:
        plain = choice.label in ("true", "false")
        yield choice._replace(text=choice.label if quoted or plain else f'"{choice.label}"')


def _words(part: dict[str, Any]) -> list[str]:
    """The words that a value may be."""
    if part.get("type") == "boolean":
        return ["true", "false"]
    found = [each for each in part.get("enum", []) if isinstance(each, str)]
    for key in ("anyOf", "oneOf"):
        for each in part.get(key, []):
            found += _words(_resolved(each))
    return found + ([part["const"]] if isinstance(part.get("const"), str) else [])


def _names(values: Mapping[str, Any], table: str) -> list[str]:
    parts = values.get(table)
    return list(parts) if isinstance(parts, dict) else []


def _controls(values: Mapping[str, Any], tables: tuple[str, ...] = CONTROLS) -> Iterator[tuple[str, str]]:
    seen = set()
    for table in tables:
        for name in (*_names(values, table), *(STICKS if table == "sticks" else ())):
            if name not in seen:
                seen.add(name)
                yield table.removesuffix("es" if table == "switches" else "s"), name


def _formula(typed: str, values: Mapping[str, Any], *, claims: bool) -> Iterator[Choice]:
    """What may follow in a formula."""
    words = WORDS.findall(typed)
    if words and not typed.endswith((" ", "(")):
        words = words[:-1]  # it is being typed
    last = words[-1] if words else ""
    before = words[-2] if len(words) > 1 else ""
    if last == "not" and before == "is":
        last, before = "is", words[-3] if len(words) > 2 else ""
    if last == "is":
        if before == "mode":
            yield from (Choice(each, "mode") for each in _names(values, "modes"))
        elif before in _names(values, "sensors"):
            yield Choice("lost", "the sensor is lost")
        else:
            yield from (Choice(each, f"position of {before}") for each in positions(values, before))
        return
    if last == "output":
        yield from (Choice(each, "channel") for each in _names(values, "channels"))
        return
    if last in ("", "and", "or", "not", "("):
        yield from (Choice(name, kind) for kind, name in _controls(values))
        yield from (Choice("not"), Choice("mode is", "the flight mode"))
        if claims:
            yield Choice("output", "a channel's output against a number")
            yield from (Choice(each, "predicate") for each in PREDICATES)
        return
    if last in _names(values, "switches") or last == "mode":
        yield Choice("is")
    elif last in (*_names(values, "sensors"), *_names(values, "knobs"), *STICKS):
        yield from (Choice(each) for each in ("<", "<=", ">", ">="))
        if last in _names(values, "sensors"):
            yield Choice("is lost")
    else:
        yield from (Choice("and"), Choice("or"))
