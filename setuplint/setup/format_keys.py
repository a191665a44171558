"""The kinds of keys that a file may have, as pydantic takes them: the rows of `shape` are made of these."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal, Required, cast

from pydantic import ConfigDict, Field
from typing_extensions import TypedDict

from setuplint.setup.problems import capitalised

NAME = "^[a-z][a-z0-9]*(-[a-z0-9]+)*$"

MOST_ITEMS = 1000

Key = Any
"""The annotation of one key."""

_make_table = cast(Any, TypedDict)


def any_key(
    kind: Any,
    meaning: str,
    default: str = "",
    *,
    example: str,
    what: str = "",
    unit: str = "",
    words: str = "",
    **limits: Any,
) -> Key:
    """`example` is a value in TOML; `what` is how a message calls the kind, where its type does not say it. The description
    is shown by editors that know the JSON Schema: it has the unit, the range and what holds where the key is absent."""
    optional = {"what": what, "unit": unit, "words": words}
    notes: Any = {"example": example} | {key: text for key, text in optional.items() if text}
    unit_text = f"unit: {unit}" if unit else "no unit" if kind in (int, float) else ""
    sentences = [meaning, unit_text, _range(kind, limits), f"default: {default}" if default else ""]
    description = ". ".join(map(capitalised, filter(None, sentences))) + "."
    return Annotated[kind, Field(description=description, json_schema_extra={"x-setuplint": notes}, **limits)]


def _range(kind: Any, limits: Mapping[str, Any]) -> str:
    if "ge" not in limits:
        return ""
    low, high = limits["ge"], limits["le"]
    return f"always {low}" if low == high else f"{'whole number from' if kind is int else 'from'} {low:,} to {high:,}"


def number_key(low: float, high: float, unit: str, meaning: str, default: str = "", *, example: str) -> Key:
    return any_key(float, meaning, default, example=example, unit=unit, ge=low, le=high, allow_inf_nan=False)


def percent_key(unit: str, meaning: str, default: str = "", *, example: str) -> Key:
    return number_key(-150, 150, unit, meaning, default, example=example)


def integer_key(low: int, high: int, unit: str, meaning: str, default: str = "", *, example: str) -> Key:
    return any_key(int, meaning, default, example=example, unit=unit, ge=low, le=high)


def choice_key(choices: str, meaning: str, default: str = "", *, example: str = "", words: str = "") -> Key:
    """`words` names a list that is kept elsewhere: `core_schema.json` then has this name in place of the choices."""
    several = choices.split()
    meaning += f". One of: {', '.join(several)}" if len(several) > 1 else ""
    return any_key(Literal[tuple(several)], meaning, default, example=example or f'"{several[0]}"', words=words)


def flag_key(meaning: str, default: str = "false") -> Key:
    return any_key(bool, meaning, default, example="true")


def text_key(meaning: str, default: str = "", *, example: str, **limits: Any) -> Key:
    return any_key(str, meaning, default, example=example, **limits)


def place_key() -> Key:
    return text_key("where it is on the transmitter, as printed on the sheet and the card", example='"left shoulder"')


def voice_key(meaning: str, default: str = "silent") -> Key:
    return text_key(meaning, default, example='"land now"')


def formula_key(meaning: str, default: str = "", *, example: str = '"hold is on"') -> Key:
    return any_key(str, meaning, default, example=example, what="a formula, in quotes")


def name_key(of: str, meaning: str, default: str = "", *, example: str) -> Key:
    return any_key(str, meaning, default, example=example, what=f"the name of a {of}, in quotes")


def union_key(*kinds: Key, meaning: str, default: str = "", example: str) -> Key:
    kind = kinds[0]
    for other in kinds[1:]:
        kind = kind | other
    return any_key(kind, meaning, default, example=example)


def table_type(name: str, meaning: str, rows: Mapping[str, Key], required: str = "") -> Any:
    needed = required.split()
    made = _make_table(name, {k: Required[v] if k in needed else v for k, v in rows.items()}, total=False)
    made.__pydantic_config__ = ConfigDict(extra="forbid", strict=True)
    made.__doc__ = meaning
    return made


def tables_key(row: Any, meaning: str, example: str) -> Key:
    """Tables by name."""
    name = Annotated[str, Field(pattern=NAME)]
    return any_key(dict[name, row], meaning, example=example, what="tables, each with a name")


def names_key(value: Any, meaning: str, default: str = "", *, example: str, what: str) -> Key:
    """Keys that name something declared elsewhere."""
    return any_key(dict[str, value], meaning, default, example=example, what=what)


def positions_key(number: Any, meaning: str, example: str, default: str = "") -> Key:
    return names_key(number, meaning, default, example=example, what="a table with a number for every position")


def list_key(item: Any, meaning: str, default: str = "", *, example: str, what: str, **limits: Any) -> Key:
    """No list of a set-up is long; the cap keeps what is said of a hostile one short."""
    return any_key(list[item], meaning, default, example=example, what=what, **{"max_length": MOST_ITEMS, **limits})


def pair_type(first: Any, second: Any, what: str) -> Any:
    extra: Any = {"x-setuplint": {"what": what}}
    return Annotated[
        tuple[first, second],
        Field(strict=False, description=f"{capitalised(what)}.", json_schema_extra=extra),
    ]
