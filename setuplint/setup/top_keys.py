"""What tells a set-up from any other TOML file: the keys and tables at its top."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from setuplint.hints import Any

TABLES = frozenset(
    (
        "craft", "battery", "packs", "receiver-supply", "sticks", "knobs",
        "switches", "sensors", "conditions", "modes", "curves", "channels",
        "overrides", "alarms", "failsafe", "timers", "field", "swash",
        "start", "trainer", "intent", "claims", "waivers",
    )
)  # fmt: skip
TOP_KEYS = TABLES | {"format", "extends"}


def is_setup(values: Mapping[str, Any], broken: Iterable[tuple[str | int, ...]] = ()) -> bool:
    """Whether what was read is a set-up: it has a `format` that is a whole number and a table of ours, or two tables of ours.
    What was lost with a line counts as what its name says, so that no mistake makes a set-up somebody else's file."""
    lost = {path[0] for path in broken if path} - values.keys()
    tables = (TABLES & lost) | {key for key in TABLES & values.keys() if _is_table(values[key])}
    has_format = type(values.get("format")) is int or "format" in lost
    return len(tables) >= (1 if has_format else 2)


def is_begun(values: Mapping[str, Any], broken: Iterable[tuple[str | int, ...]] = ()) -> bool:
    """Whether it is a set-up of which no more than the first keys stand: a `format`, and nothing of anybody else's."""
    return type(values.get("format")) is int and is_nobody_elses(values, broken)


def is_nobody_elses(values: Mapping[str, Any], broken: Iterable[tuple[str | int, ...]] = ()) -> bool:
    """Whether no key at the top is one that set-ups do not have, apart from what is still being typed."""
    return values.keys() - {path[0] for path in broken if len(path) == 1} <= TOP_KEYS


def _is_table(value: Any) -> bool:
    """A table, or the tables of a list."""
    return isinstance(value, dict) or (isinstance(value, list) and bool(value) and isinstance(value[0], dict))
