"""An example of a rule's file as the text of a setup."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from decimal import Decimal
from pathlib import Path
from typing import Any

import tomli_w

from setuplint.checks.book import Example

REFERENCE = Path(__file__).parents[2] / "examples" / "reference.toml"


def example_text(example: Example) -> str:
    """The setup that an example describes: its own text, or the reference setup with its edits."""
    if example.text is not None:
        return example.text
    return edited(REFERENCE.read_text(encoding="utf-8"), example.edit, example.remove)


def beside_text(example: Example) -> str | None:
    """The second setup of an example, linted together with it: the reference setup with other edits."""
    return None if example.beside is None else edited(REFERENCE.read_text(encoding="utf-8"), example.beside)


def edited(text: str, edit: Mapping[str, Any], remove: tuple[str, ...] = ()) -> str:
    """A setup without the parts to remove, then with the edited ones. KeyError where a part to remove is not there."""
    setup: dict[str, Any] = tomllib.loads(text, parse_float=Decimal)
    for path in remove:
        *way, last = path.split(".")
        holder: Any = setup
        for step in way:
            holder = holder[step]
        del holder[last]
    for path, value in edit.items():
        put(setup, path, value)
    return tomli_w.dumps(setup)


def put(setup: dict[str, Any], path: str, value: Any) -> None:
    """Set one part; tables on the way are made where they are missing, and in a list a number is an item's place
    (the number after the last appends)."""
    *way, last = path.split(".")
    holder: Any = setup
    for step in way:
        holder = holder[int(step)] if isinstance(holder, list) else holder.setdefault(step, {})
    if not isinstance(holder, list):
        holder[last] = value
    elif int(last) == len(holder):
        holder.append(value)
    else:
        holder[int(last)] = value
