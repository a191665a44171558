"""The shape of a file as a JSON Schema, for editors."""

from __future__ import annotations

import tomllib
from datetime import date

from setuplint.setup.problems import capitalised
from setuplint.setup.shape import NAME, Node, tables

TYPES = {
    "number": "number", "whole": "integer", "flag": "boolean", "list": "array", "pair": "array", "map": "object",
    "tables": "object",
}  # fmt: skip


def json_schema() -> Node:
    """The format as JSON Schema 2020-12, for editors that check TOML by one: dates are texts, and a whole number may be
    written with a point. Names that nothing declares, and all else that is about more than one key, it cannot see."""
    *others, (_, whole) = tables().items()
    head = {"$schema": "https://json-schema.org/draft/2020-12/schema", "$id": "urn:setuplint:setup:1"}
    defs = {name: {"title": name, **_table(table)} for name, table in sorted(others)}
    return {**head, "title": "setuplint set-up", "$defs": defs, **_table(whole)}


def _table(table: Node) -> Node:
    rows = {key: {"title": key, **_row(row)} for key, row in table["keys"].items()}
    required = {"required": list(table["required"])} if table["required"] else {}
    return {
        "additionalProperties": False, "description": table["about"], "properties": rows, **required, "type": "object",
    }  # fmt: skip


def _row(row: Node) -> Node:
    """The description is what editors show that know no more: it has the unit, the range and what holds where a key is absent."""
    said = description(row)
    made = _kind(row) | ({"description": said} if said and said != row.get("about") else {})
    closed = {"additionalProperties": False} if row["type"] == "tables" else {}
    return {**dict(sorted(made.items())), **_example(row.get("example", "")), **closed}


def _kind(row: Node) -> Node:
    """The keywords for what a value may be."""
    kind, each = row["type"], row.get("each", {})
    made: Node = {"type": TYPES.get(kind, "string")}
    if kind == "table":
        return {"$ref": f"#/$defs/{row['name']}"}
    if kind == "either":
        return {"anyOf": [_row(choice) for choice in row["choices"]]}
    if kind == "choice":
        return made | ({"enum": row["choices"]} if len(row["choices"]) > 1 else {"const": row["choices"][0]})
    if kind == "pair":
        return made | {"prefixItems": [_row(one) for one in each], "minItems": 2, "maxItems": 2}
    if kind in ("number", "whole"):
        return made | dict(zip(("minimum", "maximum"), row["range"], strict=True))
    if kind == "date":
        return made | {"format": "date"}
    if kind == "word":
        return made | {"pattern": NAME}
    if kind == "list":
        return made | {"items": _row(each), **_sizes(row, "Items")}
    if kind == "map":
        return made | {"additionalProperties": _row(each)}
    if kind == "tables":
        return made | {"patternProperties": {NAME: _row(each)}}
    return made | _sizes(row, "Length")


def _sizes(row: Node, of: str) -> Node:
    return {f"{key}{of}": row[key] for key in ("min", "max") if key in row}


def description(row: Node) -> str:
    """What it means, with its unit and what it may be, in sentences; of a table by itself, what it is."""
    if "says" not in row:
        return str(row.get("about", "")) or (f"{capitalised(row['what'])}." if row.get("type") == "pair" else "")
    sentences: list[str] = [row["says"]]
    if row["type"] == "choice" and len(row["choices"]) > 1:
        sentences[0] += f". One of: {', '.join(row['choices'])}"
    if row["type"] in ("number", "whole"):
        low, high = row["range"]
        sentences.append(f"unit: {row['unit']}" if "unit" in row else "no unit")
        whole = "whole number " if row["type"] == "whole" else ""
        sentences.append(f"always {low}" if low == high else f"{whole}from {low:,} to {high:,}")
    if "default" in row:
        sentences.append(f"default: {row['default']}")
    return "".join(f"{capitalised(words)}. " for words in sentences if words).rstrip()


def _example(text: str) -> Node:
    """A value in TOML as the keyword that editors offer; a heading is no value."""
    try:
        value = tomllib.loads(f"x = {text}")["x"]
    except tomllib.TOMLDecodeError:
        return {}
    if value == [text.strip("[]")] or (isinstance(value, list) and text.startswith("[[") and not value):
        return {}
    return {"examples": [value.isoformat() if isinstance(value, date) else value]}
