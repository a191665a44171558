"""How results are written. An output format is one module in `reports` or in `comparisons`, found by its file's name."""

from __future__ import annotations

import os

FIRST = ("text", "json", "sarif", "junit", "markdown")  # their order in help; any other format follows by name


def format_names(folder: str) -> list[str]:
    """The formats of one folder of this package. None of them is imported: start-up counts."""
    names = {name[:-3] for name in os.listdir(os.path.join(os.path.dirname(__file__), folder)) if name.endswith(".py")}
    return sorted(names - {"__init__"}, key=lambda name: (FIRST.index(name) if name in FIRST else len(FIRST), name))
