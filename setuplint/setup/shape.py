"""The shape of a file (FORMAT.md), read from `format.json`: a row for each key of each table; and where a file has another.

A row has its `type`, and with it

- number, whole: `range`, both ends in it, and `unit`
- choice: `choices`, the words; or the name of a list that is kept elsewhere (LISTS)
- text: `min` and `max`, in characters; word: a text that is a name; formula; name: `of` what
- flag, date
- list: `each` item, `min` and `max` of them; pair: `each` of the two
- map: `each` value, whatever its key; tables: the same, with names for keys
- either: `choices`, rows of which each takes another kind of value

In place of a type it may have a `table`, or be `as` the row of that name in a table above, but for what it says otherwise.
`says` is what the key means, `default` what holds where it is absent, `example` a value in TOML, and `what` how a message
calls what belongs there.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterable, Mapping
from decimal import Decimal
from functools import cache
from importlib import import_module
from math import isfinite

from setuplint.hints import TYPE_CHECKING, Any
from setuplint.named_tuple import NamedTuple
from setuplint.setup.model import Path
from setuplint.setup.smoothings import format_meaning, format_words

if TYPE_CHECKING:
    from setuplint.source.kept_tables import KeptTable

Node = dict[str, Any]
"""A row, or a table with its rows."""

LISTS = {"smoothings": (format_words, format_meaning)}
NAME = "^[a-z][a-z0-9]*(-[a-z0-9]+)*$"
_is_name = re.compile(NAME).fullmatch  # `$` alone would also hold before a line's end at the end of a text


def written() -> Node:
    """The data of `format.json`."""
    try:
        prepared: Node = import_module("setuplint.setup.prepared_format").FORMAT
        return prepared
    except ModuleNotFoundError:
        import json

    with open(os.path.join(os.path.dirname(__file__), "format.json"), encoding="utf-8") as file:
        found: Node = json.load(file)
    return found


def format_written() -> str:
    """The module `prepared_format`, as text: for the build. Python reads it sooner than JSON."""
    return f"FORMAT = {written()!r}\n"


@cache
def tables() -> dict[str, Node]:
    """The tables by name, their rows with tables and other rows in the places of their names."""
    made: dict[str, Node] = {}
    for name, table in written().items():
        keys = {key: _linked(row, made, key) for key, row in table["keys"].items()}
        made[name] = {"type": "table", "name": name, "required": (), **table, "keys": keys}
    return made


def _linked(node: Any, made: Mapping[str, Node], key: str = "") -> Any:
    if isinstance(node, str):
        return made[node]
    if "as" in node:
        return {**made[node["as"]]["keys"][key], **node}
    linked = {**made[node["table"]], **node} if "table" in node else {**node}
    if "each" in node:
        each = node["each"]
        linked["each"] = [_linked(one, made) for one in each] if isinstance(each, list) else _linked(each, made)
    if node.get("type") == "either":
        linked["choices"] = choices = [_linked(choice, made) for choice in node["choices"]]
        linked["kinds"] = {"text" if "choices" in each or "of" in each else each["type"]: each for each in choices}
    elif isinstance(node.get("choices"), str):
        words, meaning = LISTS[node["choices"]]
        linked |= {"choices": words(), "says": f"{node['says']}. {meaning()}"}
    return linked


def whole_file() -> Node:
    return tables()["Setup"]


def row_at(path: Path) -> Node:
    """What the format says of the value at a path: a row, or a table; empty where it has none."""
    node = whole_file()
    for step in path:
        node = below(node, step)
    return node


def below(node: Node, step: str | int) -> Node:
    """The same of a key or item of what a row or table describes."""
    kind, row = node.get("type"), None
    if kind == "either":
        return next((row for choice in node["choices"] if (row := below(choice, step))), {})
    if kind == "table":
        row = node["keys"].get(step)
    elif kind in ("map", "tables", "list"):
        row = node["each"]
    elif kind == "pair" and step in (0, 1):
        row = node["each"][step]
    return row or {}


# -- where a file is other than its shape


class Fault(NamedTuple):
    """A value that is other than its row says: what `error` it is, where, and the `field` around it, the nearest key that has a
    row. `notes` are what is said of that; `others`, among them, are the rows of other kinds that it may have instead."""

    error: str
    path: Path
    node: Node
    value: Any
    field: str
    notes: Mapping[str, Any]


def faults(values: Mapping[str, Any], kept: Mapping[int, KeptTable] | None = None) -> list[Fault]:
    """All of a file. `kept` are tables by the identity of their values: of those that had none nothing is looked at again."""
    found: list[Fault] = []
    node = whole_file()
    _look(node, values if kept is None else _without_known(node, values, kept), (), "", {}, found)
    return found


def _conforms(node: Node, value: Any) -> bool:
    found: list[Fault] = []
    _look(node, value, (), "", {}, found)
    return not found


def _without_known(top: Node, values: Mapping[str, Any], kept: Mapping[int, KeptTable]) -> dict[str, Any]:
    """The values without the named parts that are known to be in order; what is found to be so is noted."""
    left: dict[str, Any] = {}
    for kind, value in values.items():
        node = top["keys"].get(kind, {})
        if node.get("type") not in ("map", "tables") or type(value) is not dict:
            left[kind] = value
            continue
        left[kind] = {}
        for name, part in value.items():
            table = kept.get(id(part))
            if table is not None and "conforms" not in table.made:
                table.made["conforms"] = _conforms(node, {name: part})
            if table is None or not table.made["conforms"]:
                left[kind][name] = part
    return left


def _look(node: Node, value: Any, path: Path, field: str, notes: Mapping[str, Any], found: list[Fault]) -> None:
    """Note all that is wrong with a value."""
    kind = node["type"]
    if kind == "either":
        choice = node["kinds"].get(kind_of_value(value))
        if choice is None:
            found.append(Fault("type", path, node, value, field, notes))
        elif not _conforms(choice, value):
            others = [other for other in node["choices"] if other is not choice]
            _look(choice, value, path, field, {**notes, "others": others}, found)
    elif error := CHECKS[kind](node, value):
        found.append(Fault(error, path, node, value, field, notes))
    elif kind == "table":
        rows = node["keys"]
        for key, row in rows.items():
            if key in value:
                _look(row, value[key], (*path, key), key, row, found)
            elif key in node["required"]:
                found.append(Fault("missing", (*path, key), row, None, key, row))
        found += [Fault("unknown", (*path, key), node, value[key], field, notes) for key in value if key not in rows]
    elif kind == "pair":
        for n, row in enumerate(node["each"]):
            if n < len(value):
                _look(row, value[n], (*path, n), field, row, found)
            else:
                found.append(Fault("missing", (*path, n), row, None, field, notes))
    elif "each" in node:
        before, row = len(found), node["each"]
        inner = row if "example" in row else notes
        steps: Iterable[tuple[Any, Any]] = enumerate(value) if kind == "list" else value.items()
        for step, each in steps:
            if kind == "tables" and not _is_name(step):
                found.append(Fault("name", (*path, step), row, each, field, inner))
            _look(row, each, (*path, step), field, inner, found)
        if len(value) < node.get("min", 0) and len(found) == before:
            found.append(Fault("short", path, node, value, field, notes))


def kind_of_value(value: Any) -> str:
    if isinstance(value, bool):
        return "flag"
    if isinstance(value, int | Decimal | float):
        return "number"
    return "text" if isinstance(value, str) else "table" if isinstance(value, dict) else "other"


def _number(node: Node, value: Any) -> str:
    if type(value) not in (int, float, Decimal):
        return "type"
    low, high = node["range"]
    if value == value and low <= value <= high:
        return ""
    try:
        number = float(value)
    except OverflowError:
        return "type"
    return "amount" if not isfinite(number) else "" if low <= number <= high else "range"


def _whole_number(node: Node, value: Any) -> str:
    low, high = node["range"]
    return "type" if type(value) is not int else "" if low <= value <= high else "range"


def _text(node: Node, value: Any) -> str:
    if type(value) is not str:
        return "type"
    return "" if node.get("min", 0) <= len(value) <= node.get("max", len(value)) else "length"


def _word(_: Node, value: Any) -> str:
    return "type" if type(value) is not str else "" if _is_name(value) else "word"


def _choice_word(node: Node, value: Any) -> str:
    return "type" if type(value) is not str else "" if value in node["choices"] else "choice"


def _list(node: Node, value: Any) -> str:
    most = node["max"] if node["type"] == "list" else len(node["each"])
    return "type" if type(value) is not list else "long" if len(value) > most else ""


def _table(_: Node, value: Any) -> str:
    return "" if type(value) is dict else "type"


def _date(_: Node, value: Any) -> str:
    from datetime import date

    return "" if type(value) is date else "type"


CHECKS: Mapping[str, Callable[[Node, Any], str]] = {
    "number": _number,
    "whole": _whole_number,
    **dict.fromkeys(("text", "formula", "name"), _text),
    "word": _word,
    "choice": _choice_word,
    "flag": lambda _, value: "" if type(value) is bool else "type",
    "date": _date,
    **dict.fromkeys(("list", "pair"), _list),
    **dict.fromkeys(("table", "map", "tables"), _table),
}
"""By the type of a row: what is wrong with a value itself, before its parts are looked at; empty where nothing is."""
