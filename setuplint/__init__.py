"""setuplint: a safety linter for the set-up of a radio-controlled helicopter."""

from __future__ import annotations

TYPE_CHECKING = False  # typing takes long to import
if TYPE_CHECKING:
    from typing import Any

    from setuplint.findings import Finding, NotJudged, Report
    from setuplint.library import (
        Setup,
        check_record,
        compare,
        decide,
        lint,
        lint_text,
        lint_together,
        load,
        load_text,
        soften,
    )

__version__ = "0.1.0"
__all__ = [
    "Finding",
    "NotJudged",
    "Report",
    "Setup",
    "check_record",
    "compare",
    "decide",
    "lint",
    "lint_text",
    "lint_together",
    "load",
    "load_text",
    "soften",
]


def __getattr__(name: str) -> Any:
    """Public names are imported when they are first used: a command that needs none of them starts faster."""
    if name not in __all__:
        raise AttributeError(f"module 'setuplint' has no attribute {name!r}")
    import importlib

    room = "setuplint.findings" if name in ("Finding", "NotJudged", "Report") else "setuplint.library"
    return getattr(importlib.import_module(room), name)


def __dir__() -> list[str]:
    return sorted([*__all__, "__version__"])
