"""What is made of the models: a JSON Schema for editors, and `core_schema.json`, by which files are checked.

Importing pydantic takes most of a short run, so that the checks are kept as data:

    python -m setuplint.setup.schema    writes core_schema.json anew, after a change of shape.py or a new pydantic-core
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any, cast

import pydantic_core
from pydantic import TypeAdapter

from setuplint.setup.shape import FILE


def adapter() -> TypeAdapter[Any]:
    return TypeAdapter(FILE)


def core() -> dict[str, Any]:
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
    return made


def generated() -> str:
    """The text of core_schema.json for the installed pydantic-core."""
    return json.dumps({"pydantic-core": pydantic_core.__version__, "schema": core()}, indent=1) + "\n"


if __name__ == "__main__":
    Path(__file__).with_name("core_schema.json").write_text(generated(), encoding="utf-8")
