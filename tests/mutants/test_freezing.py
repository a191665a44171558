"""hold-freezes-controls against its judge, with holds that are called by sticks, knobs, sensors, modes and memory."""

from __future__ import annotations

import random
from typing import Any

import pytest

import setuplint
from tests.checks.linted import TEXT
from tests.oracle.meaning import World
from tests.rules.edits import edited

from .freezing import hold_freezes_controls
from .reach import Reach

RULE = "hold-freezes-controls"
PLAIN = (
    "hold is on",
    "rates is full",
    "throttle < -90",
    "aileron > 80",
    "fine > 50",
    "fine < -50",
    "pack < 20",
    "link is lost",
)
ATOMS = (*PLAIN, "flight is idle-up-1", "mode is idle-up", "kept", "flips", "late")
CALLS = ("hold is on", "rates is full", "throttle < -90", "fine > 50", "save is pulled", "link is lost")


def formula(pick: random.Random, depth: int = 0) -> str:
    kind = pick.random()
    if depth > 1 or kind < 0.5:
        return pick.choice(ATOMS)
    if kind < 0.65:
        return f"not ({formula(pick, depth + 1)})"
    return f"({formula(pick, depth + 1)} {pick.choice(['and', 'or'])} {formula(pick, depth + 1)})"


def drawn(seed: int) -> dict[str, Any]:
    """The reference with another hold, and something that freezes a control in it, or beside it."""
    pick = random.Random(seed)
    hold = formula(pick)
    freeze: dict[str, Any] = {"channel": pick.choice(["roll", "pitch"]), "priority": pick.choice([10, 200])}
    freeze["when"] = pick.choice([hold, formula(pick), f"({hold}) and {formula(pick, 1)}"])
    freeze |= pick.choice([{"value": 0}, {"at-most": -100}, {"at-least": -20}])
    idle_up = {"channels.roll.in.idle-up": {"from": 0}} if pick.random() < 0.3 else {}
    return idle_up | {
        "knobs.fine": {},
        "intent.hold": hold,
        "overrides.held.when": pick.choice([hold, "hold is on"]),
        "start.requires": pick.choice(["hold is on", "throttle < -95", "flight is normal"]),
        "conditions.kept": {"when": pick.choice(CALLS), "until": pick.choice(CALLS)},
        "conditions.flips": {"when": pick.choice(CALLS), "toggles": True},
        "conditions.late": {"when": pick.choice(CALLS), "after": 1},
        "overrides.freeze": freeze,
    }


@pytest.mark.parametrize("seed", range(40))
def test_a_hold_of_any_kind(seed: int) -> None:
    text = edited(TEXT, drawn(seed), ())
    report = setuplint.lint_text(text, only=[RULE])
    said = any(finding.rule == RULE for finding in report.findings)
    given_up = any(finding.rule == "not-decided" for finding in report.findings)
    there = hold_freezes_controls(Reach(World(text)))
    assert said <= bool(there), "said, and not there"
    assert said or given_up or not there, "there, and not found"
