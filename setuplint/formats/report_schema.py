"""The layout of the JSON report, as a JSON Schema (2020-12), made of the rows of `report.toml`."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from setuplint.findings import IN_FULL, SIGNALS
from setuplint.formats.passed_over import REASONS

Schema = dict[str, Any]
Rows = Mapping[str, Mapping[str, Any]]

KINDS: Mapping[str, Schema] = {
    "flag": {"type": "boolean"},
    "signal": {"enum": list(SIGNALS)},
    "count": {"type": "integer", "minimum": 0},
    "place": {"type": "integer", "minimum": 1},
    "moves": {"type": "object", "additionalProperties": {"type": ["string", "number"]}},
}
"""Rows that are but a kind and what it says."""


def report_schema() -> Schema:
    """What `setuplint lint --format json` writes."""
    text = Path(__file__).with_name("report.toml").read_text(encoding="utf-8").replace("IN_FULL", str(IN_FULL))
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": "urn:setuplint:report:1",
        "title": "What setuplint found",
        **_object(tomllib.loads(text), "report"),
    }


def _properties(tables: Rows, name: str) -> Schema:
    made: Schema = {}
    for key, row in tables[name].items():
        made |= _properties(tables, row) if key == "*" else {key: _row(tables, row)}
    return made


def _object(tables: Rows, name: str) -> Schema:
    properties = _properties(tables, name)
    return {"type": "object", "properties": properties, "required": list(properties)}


def _row(tables: Rows, row: Any) -> Schema:
    if isinstance(row, str):
        return _object(tables, row[1:]) if row.startswith("@") else {"type": "string", "description": row}
    kind, *_ = row
    what, says = row[kind], {"description": row.get("says", "")}
    if kind in KINDS:
        return {**KINDS[kind], "description": what}
    if kind == "any":
        return {"anyOf": [_row(tables, each) for each in what]}
    if kind == "by-signal":
        counts = {signal: {**KINDS["count"], "description": what.format(signal)} for signal in SIGNALS}
        return {"type": "object", "properties": counts, "required": list(counts)}
    if kind == "choice":
        return {"enum": list(REASONS) if what == "reasons" else what, **says}
    if kind == "list":
        return {"type": "array", "items": _row(tables, what), **says}
    if kind == "map":
        return {"type": "object", "additionalProperties": _row(tables, what), **says}
    if kind == "null-or":
        return {**says, "anyOf": [{"type": "null"}, _row(tables, what)]}
    return dict(row)  # JSON Schema as it is
