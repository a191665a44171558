"""The interview as a page reads it: JSON, and nothing but it."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from setuplint.checks.cells import CHARGE, SETS, TABLES, UNITS
from setuplint.interview.data import interview
from setuplint.interview.replies import NOT_NAMES
from setuplint.setup.declarations import STICKS


def page_data(replies: Mapping[str, str], suggested: Mapping[str, str]) -> str:
    """With the replies that are known already, and defaults by a question's key that are not those of the data."""
    data: dict[str, Any] = asdict(interview())
    cells = {name: [TABLES[table] for table in tables] for name, tables in SETS.items()}
    data |= {
        "taken": sorted(NOT_NAMES),
        "sticks": STICKS,
        "cells": {"charge": CHARGE, "units": UNITS, "sets": cells},
        "replies": dict(replies),
        "suggested": dict(suggested),
    }
    return json.dumps(data, ensure_ascii=False, separators=(",", ":"))
