"""The kinds of keys that a file may have, as pydantic takes them: the rows of `shape` are made of these."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal, Required, cast

from pydantic import ConfigDict, Field
from typing_extensions import TypedDict

NAME = "^[a-z][a-z0-9]*(-[a-z0-9]+)*$"

MOST_ITEMS = 1000

Key = Any
"""The annotation of one key."""

_make_table = cast(Any, TypedDict)


def key(
    kind: Any, meaning: str, default: str = "", *, example: str, what: str = "", unit: str = "", **limits: Any
) -> Key:
    """`example` is a value in TOML; `what` is how a message calls the kind, where its type does not say it. What is said of
    the key is the hover of editors that know the JSON Schema: with its unit, its range and what it is where it is absent."""
    notes: Any = {"example": example} | ({"what": what} if what else {}) | ({"unit": unit} if unit else {})
    said = [meaning, f"unit: {unit}" if unit else "", _range(kind, limits), f"default: {default}" if default else ""]
    if not unit and kind in (int, float):
        said[1] = "no unit"
    description = ". ".join(part[0].upper() + part[1:] for part in said if part) + "."
    return Annotated[kind, Field(description=description, json_schema_extra={"x-setuplint": notes}, **limits)]


def _range(kind: Any, limits: Mapping[str, Any]) -> str:
    if "ge" not in limits:
        return ""
    low, high = limits["ge"], limits["le"]
    return f"always {low}" if low == high else f"{'whole number from' if kind is int else 'from'} {low:,} to {high:,}"


def num(low: float, high: float, unit: str, meaning: str, default: str = "", *, example: str) -> Key:
    return key(float, meaning, default, example=example, unit=unit, ge=low, le=high, allow_inf_nan=False)


def percent(unit: str, meaning: str, default: str = "", *, example: str) -> Key:
    return num(-150, 150, unit, meaning, default, example=example)


def whole(low: int, high: int, unit: str, meaning: str, default: str = "", *, example: str) -> Key:
    return key(int, meaning, default, example=example, unit=unit, ge=low, le=high)


def word(words: str, meaning: str, default: str = "", *, example: str = "") -> Key:
    several = words.split()
    meaning += f". One of: {', '.join(several)}" if len(several) > 1 else ""
    return key(Literal[tuple(several)], meaning, default, example=example or f'"{several[0]}"')


def flag(meaning: str, default: str = "false") -> Key:
    return key(bool, meaning, default, example="true")


def text(meaning: str, default: str = "", *, example: str, **limits: Any) -> Key:
    return key(str, meaning, default, example=example, **limits)


def place() -> Key:
    return text("where it is on the transmitter, as printed on the sheet and the card", example='"left shoulder"')


def voice(meaning: str, default: str = "silent") -> Key:
    return text(meaning, default, example='"land now"')


def formula(meaning: str, default: str = "", *, example: str = '"hold is on"') -> Key:
    return key(str, meaning, default, example=example, what="a formula, in quotes")


def name(of: str, meaning: str, default: str = "", *, example: str) -> Key:
    return key(str, meaning, default, example=example, what=f"the name of a {of}, in quotes")


def either(*kinds: Key, meaning: str, default: str = "", example: str) -> Key:
    kind = kinds[0]
    for other in kinds[1:]:
        kind = kind | other
    return key(kind, meaning, default, example=example)


def table(name: str, meaning: str, rows: Mapping[str, Key], required: str = "") -> Any:
    needed = required.split()
    made = _make_table(name, {k: Required[v] if k in needed else v for k, v in rows.items()}, total=False)
    made.__pydantic_config__ = ConfigDict(extra="forbid", strict=True)
    made.__doc__ = meaning
    return made


def each(row: Any, meaning: str, example: str) -> Key:
    """Tables by name."""
    name = Annotated[str, Field(pattern=NAME)]
    return key(dict[name, row], meaning, example=example, what="tables, each with a name")


def by_name(value: Any, meaning: str, default: str = "", *, example: str, what: str) -> Key:
    """Keys that name something declared elsewhere."""
    return key(dict[str, value], meaning, default, example=example, what=what)


def by_position(number: Any, meaning: str, example: str, default: str = "") -> Key:
    return by_name(number, meaning, default, example=example, what="a table with a number for every position")


def listed(item: Any, meaning: str, default: str = "", *, example: str, what: str, **limits: Any) -> Key:
    """No list of a set-up is long; the cap keeps what is said of a hostile one short."""
    return key(list[item], meaning, default, example=example, what=what, **{"max_length": MOST_ITEMS, **limits})


def pair(first: Any, second: Any, what: str) -> Any:
    extra: Any = {"x-setuplint": {"what": what}}
    return Annotated[
        tuple[first, second],
        Field(strict=False, description=f"{what[0].upper()}{what[1:]}.", json_schema_extra=extra),
    ]
