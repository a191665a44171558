"""What tells a set-up from any other TOML file: a key or table of the format at its top."""

from __future__ import annotations

from collections.abc import Iterable

TOP_KEYS = frozenset(
    (
        *(
            "format",
            "extends",
            "craft",
            "battery",
            "packs",
            "receiver-supply",
            "sticks",
            "knobs",
            "switches",
            "sensors",
            "conditions",
            "modes",
        ),
        *(
            "curves",
            "channels",
            "overrides",
            "alarms",
            "failsafe",
            "timers",
            "field",
            "swash",
            "start",
            "trainer",
            "intent",
        ),
        *("claims", "waivers"),
    )
)


def is_setup(values: Iterable[str], broken: Iterable[tuple[str | int, ...]], *, readable: bool) -> bool:
    """Whether what was read has a key or table of ours at its top, lost ones counted."""
    top = set(values)
    return bool(TOP_KEYS & (top | {path[0] for path in broken if path})) or not (readable or top)
