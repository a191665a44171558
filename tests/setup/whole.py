"""A file that uses every key of the format, and ways to change it and to see what is said of it."""

from __future__ import annotations

import copy
import datetime
from typing import Any

import tomli_w

from setuplint.setup import Built, SetupProblem, built_setup
from setuplint.setup.shared_files import texts_with_shared_files
from setuplint.source import Document, parsed_document

ABSENT = object()

WHOLE: dict[str, Any] = {
    "format": 1,
    "craft": {
        "name": "Dunlin 500",
        "kind": "helicopter",
        "rotor": "collective",
        "stabilised": True,
        "radio": "red",
        "motor-off": -95,
        "rotor-free": -70,
        "hover-throttle": 20,
        "hover-collective": 30,
        "soft-start": True,
        "governed-above": 10,
        "arms-when-stopped": False,
        "hover-measured-at-m": 200,
        "pulse": {"centre": 1500, "per-percent": 5},
    },
    "battery": {
        "chemistry": "lipo",
        "cells": 6,
        "capacity-mah": 2600,
        "resistance-mohm": 21,
        "hover-current-a": 27,
        "peak-current-a": 60,
    },
    "sticks": {"throttle": {"trim": 5, "place": "left"}, "rudder": {}},
    "knobs": {"dial": {}, "head": {"place": "top"}},
    "switches": {
        "flight": {"kind": "selector", "positions": ["normal", "sport", "stunt"], "place": "front"},
        "hold": {"kind": "two-position"},
        "save": {"kind": "momentary"},
        "bank": {"kind": "three-position"},
    },
    "sensors": {"pack": {"reads": "pack-voltage", "shown": True}, "link": {"reads": "link-quality"}},
    "conditions": {
        "low": {"when": "pack < 21.6", "after": 1.5, "stays": 2},
        "armed": {"when": "hold is off", "until": "hold is on"},
        "lamp": {"when": "save is pulled", "toggles": True},
    },
    "modes": {
        "normal": {"when": "flight is normal", "voice": "normal"},
        "sport": {"when": "flight is sport", "idle-up": True, "aerobatic": False},
        "stunt": {"aerobatic": True},
    },
    "curves": {
        "soft": {"points": [[-100, -100], [0, 20], [100, 100]], "smoothing": "monotone"},
        "flat": {"points": [[-100, 45], [100, 45]]},
    },
    "channels": {
        "motor": {
            "number": 2,
            "drives": "motor",
            "from": "throttle",
            "rate": 100,
            "expo": {"switch": "hold", "at": {"off": 0, "on": 10}},
            "curve": "soft",
            "ramp-up": 1,
            "ramp-down": 2,
            "reversed": True,
            "travel": [100, 90],
            "sub-trim": 3,
            "low": -110,
            "high": 110,
            "in": {
                "sport": {"curve": "flat", "rate": 90, "expo": 0, "ramp-up": 2, "ramp-down": 1},
                "stunt": {"from": 40},
            },
        },
        "roll": {
            "from": "aileron",
            "rate": {"switch": "hold", "at": {"off": 80, "on": 60}},
            "curve": "straight",
            "mix": [
                {"from": "rudder", "rate": 5, "expo": 3, "curve": "soft"},
                {"from": "flight", "values": {"normal": 0, "sport": 1, "stunt": 2}},
            ],
            "in": {"sport": {"mix": []}},
        },
        "attitude": {
            "drives": "stabiliser",
            "from": "flight",
            "values": {"normal": -100, "sport": 0, "stunt": 100},
            "in": {"stunt": {"values": {"normal": 0, "sport": 0, "stunt": 50}}},
        },
        "gain": {"from": 42},
    },
    "overrides": {
        "held": {"channel": "motor", "value": -100, "when": "hold is on", "priority": 100},
        "rescue": {"channel": "attitude", "value": -100, "when": "save is pulled"},
        "capped": {"channel": "motor", "at-least": -50, "at-most": 60, "when": "armed"},
    },
    "alarms": {"land": {"when": "low", "voice": "land now", "tone": True, "vibrate": False, "repeat": 5}},
    "failsafe": {"motor": -100, "roll": "keep", "attitude": "unit", "gain": "none"},
    "timers": {
        "flight": {"seconds": 270, "runs": "not hold is on", "voice": "down", "tone": False, "vibrate": True},
        "bench": {"seconds": 10},
    },
    "field": {"elevation-m": 300},
    "swash": {"servos": "three-120", "collective": 60, "cyclic": 55, "ring": 100},
    "packs": {"winter": {"cells": 6, "capacity-mah": 2200}},
    "receiver-supply": {"kind": "li-ion", "cells": 2},
    "start": {"requires": "hold is on and throttle < -95", "enforced": True},
    "trainer": {"lent": "save is pulled", "sticks": ["elevator"]},
    "intent": {
        "hold": "hold is on",
        "stop": "hold is on and throttle < 0",
        "rescue": "save is pulled",
        "level": {"channel": "attitude", "at-least": -110, "at-most": -50},
        "lift": {"channel": "motor", "value": 40},
    },
    "claims": [
        {"never": "mode is stunt and output attitude < 0 and sprung switches released", "because": "club rule"},
        {"always": "not hold called or dial > 50 or roll follows aileron"},
    ],
    "waivers": [
        {"rule": "mode-jump", "on": ["stunt"], "reason": "soft start", "until": datetime.date(2027, 4, 1)},
    ],
}

Key = str | int


def edited(*edits: tuple[str, Any]) -> dict[str, Any]:
    """WHOLE with changes: ("craft.motor-off", 3); ABSENT takes a key away; numbers in a path index lists."""
    tables = copy.deepcopy(WHOLE)
    for path, value in edits:
        *above, last = steps(path)
        table: Any = tables
        for step in above:
            table = table[step] if isinstance(step, int) else table.setdefault(step, {})
        if value is ABSENT:
            del table[last]
        else:
            table[last] = value
    return tables


def steps(path: str) -> tuple[Key, ...]:
    return tuple(int(step) if step.isdecimal() else step for step in path.split("."))


def load(tables: dict[str, Any] | str) -> tuple[Document, Built]:
    document = parsed_document(tables if isinstance(tables, str) else tomli_w.dumps(tables), "club/dunlin.toml")
    return document, built_setup(texts_with_shared_files(document, None))


def said(*edits: tuple[str, Any]) -> tuple[SetupProblem, ...]:
    """The problems of WHOLE after changes."""
    return load(edited(*edits))[1].problems


def only(*edits: tuple[str, Any]) -> SetupProblem:
    """The one problem of WHOLE after changes."""
    problems = said(*edits)
    assert len(problems) == 1, problems
    return problems[0]


def culprit(document: Document, problem: SetupProblem) -> str:
    """The text that a problem points at."""
    if problem.within is not None:
        start, end = (document.string_offset(problem.path, at) for at in problem.within)
    else:
        span = document.key_span(problem.path) if problem.key else None
        start, end = span or document.span(problem.path)
    return document.text[start:end]
