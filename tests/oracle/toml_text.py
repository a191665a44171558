"""Tables to TOML text: the headers the format's pages use, inline tables below the second level."""

from __future__ import annotations

from typing import Any

from .parts import number


def to_toml(tables: dict[str, Any]) -> str:
    """A setup's tables as text. Strings of the class `Written` are numbers as they are to be written."""
    lines = [f"{key} = {_value(value)}" for key, value in tables.items() if not isinstance(value, dict | list)]
    for key, table in tables.items():
        if isinstance(table, list):
            for entry in table:
                lines += ["", f"[[{key}]]", *_keys(entry)]
        elif isinstance(table, dict) and all(isinstance(x, dict) for x in table.values()) and key not in SINGLE:
            for name, inner in table.items():
                lines += ["", f"[{key}.{name}]", *_keys(inner)]
        elif isinstance(table, dict):
            lines += ["", f"[{key}]", *_keys(table)]
    return "\n".join(lines) + "\n"


SINGLE = ("craft", "battery", "receiver-supply", "failsafe", "field", "swash", "start", "trainer", "intent")


def _keys(table: dict[str, Any]) -> list[str]:
    lines = []
    for key, value in table.items():
        if key == "in":
            lines += [f"in.{mode} = {_value(line)}" for mode, line in value.items()]
        else:
            lines.append(f"{key} = {_value(value)}")
    return lines


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        inner = ", ".join(f"{key} = {_value(x)}" for key, x in value.items())
        return f"{{ {inner} }}" if inner else "{}"
    if isinstance(value, list):
        return f"[{', '.join(_value(x) for x in value)}]"
    if isinstance(value, str) and type(value) is str:
        return f'"{value}"'
    number(value)
    return str(value)
