"""Does a file have the shape that `core_schema.json` says? A yes or "perhaps not", by plain Python.

Nearly every file conforms, and to import pydantic-core takes longer than to look at one. So it is asked only where this does not
say yes: it alone says what is wrong, and whether anything is. This must never say yes where it would not.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Mapping
from decimal import Decimal
from functools import cache
from importlib import import_module

from setuplint.hints import TYPE_CHECKING, Any
from setuplint.setup.smoothings import format_words

if TYPE_CHECKING:
    from setuplint.source.kept_tables import KeptTable

SchemaNode = dict[str, Any]
"""A part of the core schema."""

WORDS: Mapping[str, Callable[[], list[str]]] = {"smoothings": format_words}
"""Choices that are kept elsewhere, so that one more is no change of the recorded data."""


@cache
def recorded() -> SchemaNode:
    """The data of `core_schema.json`: `schema`, and the version of pydantic-core that it was made with."""
    try:
        prepared: SchemaNode = import_module("setuplint.setup.prepared_schema").CORE
        return prepared
    except ModuleNotFoundError:
        import json

    with open(os.path.join(os.path.dirname(__file__), "core_schema.json"), encoding="utf-8") as file:
        found: SchemaNode = json.load(file)
    return found


def schema_written() -> str:
    """The module `prepared_schema`, as text: for the build. Python reads it sooner than JSON."""
    return f"CORE = {recorded()!r}\n"


def recorded_schema() -> SchemaNode:
    """The shape of a file, but for choices that are kept elsewhere (WORDS)."""
    schema: SchemaNode = recorded()["schema"]
    return schema


def conforms(values: Mapping[str, Any], kept: Mapping[int, KeptTable] | None = None) -> bool:
    """Whether the values of a file certainly have the recorded shape. `kept` are tables by the identity of their values: of those
    that had it nothing is looked at again."""
    schema = recorded_schema()
    return _conforms(schema, values if kept is None else _without_known(schema, values, kept))


def _without_known(schema: SchemaNode, values: Mapping[str, Any], kept: Mapping[int, KeptTable]) -> Mapping[str, Any]:
    """The values without the named parts that are known to conform; what is found to be so is noted."""
    left: dict[str, Any] = {}
    for kind, value in values.items():
        node = schema["fields"].get(kind, {}).get("schema", {})
        if node.get("type") != "dict" or type(value) is not dict:
            left[kind] = value
            continue
        left[kind] = {}
        for name, part in value.items():
            table = kept.get(id(part))
            if table is not None and "conforms" not in table.made:
                table.made["conforms"] = _tables(node, {name: part})
            if table is None or not table.made["conforms"]:
                left[kind][name] = part
    return left


def _conforms(node: SchemaNode, value: Any) -> bool:
    return CHECKS[node["type"]](node, value)


def _table(node: SchemaNode, value: Any) -> bool:
    if type(value) is not dict:
        return False
    fields = node["fields"]
    for key, item in value.items():
        field = fields.get(key)
        if field is None:
            return False
        words = field.get("metadata", {}).get("words")
        if item not in WORDS[words]() if words else not _conforms(field["schema"], item):
            return False
    return all(key in value for key, field in fields.items() if field["required"])


def _tables(node: SchemaNode, value: Any) -> bool:
    keys, values = node["keys_schema"], node["values_schema"]
    return type(value) is dict and all(_conforms(keys, key) and _conforms(values, item) for key, item in value.items())


def _list(node: SchemaNode, value: Any) -> bool:
    if type(value) is not list or not node.get("min_length", 0) <= len(value) <= node.get("max_length", len(value)):
        return False
    return all(_conforms(node["items_schema"], item) for item in value)


def _pair(node: SchemaNode, value: Any) -> bool:
    items = node["items_schema"]
    return type(value) is list and len(value) == len(items) and all(map(_conforms, items, value))


def _number(node: SchemaNode, value: Any) -> bool:
    is_number = (
        type(value) in (int, float, Decimal) and value == value
    )  # a decimal that is no number compares with none
    return is_number and bool(node["ge"] <= value <= node["le"])


def _whole_number(node: SchemaNode, value: Any) -> bool:
    return type(value) is int and bool(node["ge"] <= value <= node["le"])


def _text(node: SchemaNode, value: Any) -> bool:
    if type(value) is not str or not node.get("min_length", 0) <= len(value) <= node.get("max_length", len(value)):
        return False
    # `$` of Python also holds before a line's end at the end of a text
    return "pattern" not in node or _pattern(node["pattern"]).fullmatch(value) is not None


def _date(node: SchemaNode, value: Any) -> bool:
    from datetime import date

    return type(value) is date


@cache
def _pattern(text: str) -> re.Pattern[str]:
    return re.compile(text)


CHECKS: Mapping[str, Callable[[SchemaNode, Any], bool]] = {
    "typed-dict": _table,
    "dict": _tables,
    "list": _list,
    "tuple": _pair,
    "union": lambda node, value: any(_conforms(choice, value) for choice, _ in node["choices"]),
    "float": _number,
    "int": _whole_number,
    "str": _text,
    "literal": lambda node, value: type(value) in (str, int) and value in node["expected"],
    "bool": lambda node, value: type(value) is bool,
    "date": _date,
}
