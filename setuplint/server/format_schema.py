"""What the format says of a key or value, read from the JSON Schema: what a key means, what a value may be."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from typing import Any

from setuplint.source import Path

Node = dict[str, Any]


@cache
def schema() -> Node:
    """The format as JSON Schema. Making it takes some tenths of a second the first time."""
    from setuplint.setup.schema import json_schema

    return json_schema()


def node_at(path: Path) -> Node:
    """The node of the schema for the value at a path; empty where the format has none."""
    node = resolved(schema())
    for step in path:
        node = next((found for each in alternatives(node) if (found := _child(each, step))), {})
    return node


def _child(node: Node, step: str | int) -> Node:
    if isinstance(step, int):
        pairs = node.get("prefixItems", [])
        return resolved(pairs[step]) if step < len(pairs) else resolved(node.get("items"))
    properties = node.get("properties", {})
    if step in properties:
        return resolved(properties[step])
    for more in (node.get("additionalProperties"), *node.get("patternProperties", {}).values()):
        if isinstance(more, dict):
            return resolved(more)
    return {}


def resolved(node: Any) -> Node:
    """A node with its references replaced; keys beside a reference override those that it leads to."""
    while isinstance(node, dict) and "$ref" in node:
        found: Any = schema()
        for step in node["$ref"].removeprefix("#/").split("/"):
            found = found[step]
        node = {**found, **{key: each for key, each in node.items() if key != "$ref"}}
    return node if isinstance(node, dict) else {}


def alternatives(node: Node) -> Iterator[Node]:
    """The node, or each of those of its `anyOf`."""
    if "anyOf" not in node:
        yield node
    for each in node.get("anyOf", []):
        yield from alternatives(resolved(each))


def value_literals(node: Node) -> list[str]:
    """The words that a value may be, as TOML writes them."""
    found: list[str] = []
    for each in alternatives(node):
        if each.get("type") == "boolean":
            found += ["true", "false"]
        found += [f'"{word}"' for word in (*each.get("enum", []), each.get("const")) if isinstance(word, str)]
    return found


def is_table(node: Node) -> bool:
    return any(each.get("type") == "object" for each in alternatives(node))


def description(node: Node) -> str:
    """What it means, with its unit and what it may be, in sentences."""
    return str(node.get("description", ""))
