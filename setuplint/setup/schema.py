"""What is made of the models: a JSON Schema for editors, and `core_schema.json`, by which files are checked.

Importing pydantic takes most of a short run, so that the checks are kept as data:

    python -m setuplint.setup.schema    writes core_schema.json again, after a change of the shapes or a new pydantic-core
"""

from __future__ import annotations

import json
import tomllib
from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Any, cast

import pydantic_core
from pydantic import TypeAdapter

from setuplint.setup.format_tables import FILE


def adapter() -> TypeAdapter[Any]:
    return TypeAdapter(FILE)


def core_schema_data() -> dict[str, Any]:
    """The models as a schema for pydantic-core, made of plain data, the same in every run."""
    schema = cast(dict[str, Any], adapter().core_schema)
    shared: dict[str, Any] = {}
    if schema["type"] == "definitions":
        shared = {each["ref"]: each for each in schema["definitions"]}
        schema = schema["schema"]
    plain: dict[str, Any] = _plain(schema, shared)
    return plain


LABELS = {"float": "number", "str": "text", "literal": "text", "typed-dict": "table"}
"""How the choices of a union are called in the places of errors."""


def _plain(node: Any, shared: Mapping[str, Any]) -> Any:
    if isinstance(node, list):
        return [_plain(item, shared) for item in node]
    if not isinstance(node, dict):
        return node
    if node.get("type") == "definition-ref":
        return _plain(shared[node["schema_ref"]], shared)
    made = {}
    for key, value in node.items():
        if key == "metadata":
            notes = value.get("pydantic_js_extra", {}).get("x-setuplint")
            if notes:
                made[key] = notes
        elif key == "choices":
            choices = [_plain(choice, shared) for choice in value]
            made[key] = [[choice, LABELS[choice["type"]]] for choice in choices]
        elif key not in ("cls", "ref", "computed_fields"):
            made[key] = _plain(value, shared)
    if "words" in made.get("metadata", ()):
        made["schema"]["expected"] = []
    return made


def json_schema() -> dict[str, Any]:
    """The format as JSON Schema 2020-12, for editors that check TOML by one: dates are texts, and a whole number may be
    written with a point. Names that nothing declares, and all else that is about more than one key, it cannot see."""
    made = cast(dict[str, Any], _readable(adapter().json_schema()))
    head = {"$schema": "https://json-schema.org/draft/2020-12/schema", "$id": "urn:setuplint:setup:1"}
    return {**head, "title": "setuplint set-up", **{key: value for key, value in made.items() if key != "title"}}


def _readable(node: Any, title: str = "") -> Any:
    if isinstance(node, list):
        return [_readable(item) for item in node]
    if not isinstance(node, dict):
        return node
    made: dict[str, Any] = {"title": title} if title else {}
    for key, value in node.items():
        if key == "title" and isinstance(value, str):
            continue  # made of a class's name
        if key in ("properties", "$defs"):
            made[key] = {name: _readable(each, name) for name, each in value.items()}
        elif key == "x-setuplint":
            made |= _example(value.get("example", ""))
        else:
            made[key] = _readable(value)
    if "patternProperties" in made:
        made["additionalProperties"] = False
    return made


def _example(text: str) -> dict[str, Any]:
    """A value in TOML as the keyword that editors offer; a heading is no value."""
    try:
        value = tomllib.loads(f"x = {text}")["x"]
    except tomllib.TOMLDecodeError:
        return {}
    if value == [text.strip("[]")] or (isinstance(value, list) and text.startswith("[[") and not value):
        return {}
    return {"examples": [value.isoformat() if isinstance(value, date) else value]}


def generated() -> str:
    """The text of core_schema.json for the installed pydantic-core."""
    return json.dumps({"pydantic-core": pydantic_core.__version__, "schema": core_schema_data()}, indent=1) + "\n"


if __name__ == "__main__":
    Path(__file__).with_name("core_schema.json").write_text(generated(), encoding="utf-8")
