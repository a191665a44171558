"""Values as TOML, on one line."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Any

_ENTERED = {"\\": "\\\\", '"': '\\"', "\n": "\\n", "\t": "\\t", "\r": "\\r"}


def toml_value(what: Any) -> str:
    """Text, numbers, flags, dates, lists and tables as TOML; TypeError for anything else."""
    if isinstance(what, str):
        return f'"{"".join(map(_escaped_char, what))}"'
    if isinstance(what, bool):
        return "true" if what else "false"
    if isinstance(what, Fraction):
        return str(what.numerator) if what.denominator == 1 else repr(float(what))
    if isinstance(what, list | tuple):
        return f"[{', '.join(map(toml_value, what))}]"
    if isinstance(what, Mapping):
        inside = ", ".join(f"{toml_key(name)} = {toml_value(item)}" for name, item in what.items())
        return f"{{ {inside} }}" if inside else "{}"
    if hasattr(what, "isoformat"):
        return str(what.isoformat())
    if isinstance(what, int | float) or type(what).__name__ == "Decimal":
        return str(what)
    raise TypeError(f"{type(what).__name__} has no place in TOML")


def toml_key(name: str) -> str:
    bare = name.isascii() and name.replace("-", "").replace("_", "").isalnum()
    return name if bare else toml_value(name)


def _escaped_char(char: str) -> str:
    if char in _ENTERED:
        return _ENTERED[char]
    return f"\\u{ord(char):04X}" if char < " " or char == "\x7f" else char
