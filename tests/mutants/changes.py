"""What is done to a safe setup to seed a hazard: lists of changes, each a path with a value, or with GONE."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from copy import copy
from decimal import Decimal
from typing import Any

import tomli_w

GONE = object()
Path = tuple[str | int, ...]
Change = tuple[Path, Any]
Seed = tuple[str, list[Change]]  # what it is called, and what is changed
Setup = Mapping[str, Any]


def changed(setup: Setup, changes: list[Change]) -> dict[str, Any]:
    """The setup with the changes made, in order; tables on the way are made where they are missing."""
    found: dict[str, Any] = dict(setup)
    for path, value in changes:
        *way, last = path
        holder: Any = found
        for step in way:  # what is not on the way is shared, and nobody changes it
            inner = copy(holder[step] if isinstance(holder, list) else holder.get(step, {}))
            holder[step] = inner
            holder = inner
        if value is GONE:
            del holder[last]
        else:
            holder[last] = value
    return found


def text_of(setup: Setup) -> str:
    return tomli_w.dumps(setup)


def called(path: Path, value: Any) -> str:
    """A mutant's name."""
    shown = "gone" if value is GONE else f"= {value}"
    return f"{'.'.join(str(step) for step in path)} {shown}"


def one(path: Path, value: Any) -> Seed:
    return called(path, value), [(path, value)]


def tables(setup: Setup, room: str) -> list[tuple[str, Mapping[str, Any]]]:
    return list(setup.get(room, {}).items())


def formulas(setup: Setup) -> Iterator[tuple[Path, str]]:
    """Every formula, with its path."""
    keys = ("when", "until", "runs", "requires", "hold", "stop", "rescue", "never", "always")

    def walk(path: Path, value: Any) -> Iterator[tuple[Path, str]]:
        if isinstance(value, dict):
            for key, inner in value.items():
                if isinstance(inner, str) and key in keys and path:
                    yield (*path, key), inner
                else:
                    yield from walk((*path, key), inner)
        elif isinstance(value, list):
            for k, inner in enumerate(value):
                yield from walk((*path, k), inner)

    for room in ("conditions", "modes", "overrides", "alarms", "timers", "start", "trainer", "intent", "claims"):
        yield from walk((room,), setup.get(room, {}))


def decimal(value: Any) -> Decimal:
    """A number as the file would write it."""
    found = Decimal(str(value))
    whole = found == found.to_integral_value()
    return found.quantize(Decimal(1)) if whole else found.normalize()


def plain(value: Any) -> Any:
    """An int where it is one."""
    found = decimal(value)
    return int(found) if found == found.to_integral_value() else found
