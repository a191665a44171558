"""What is made of files as a stranger might send them: counts of what is done, which no size of theirs makes large."""

from __future__ import annotations

import pytest

import setuplint
from setuplint.bench import walk
from setuplint.plain import evaluate as evaluate_module
from setuplint.server import lenses
from setuplint.server.parsed import ParsedText
from tests.shapes import with_reference
from tests.strange_shapes import curves
from tests.test_bounds_of_pages import counted


def two_curves(size: int) -> str:
    """Channels that hang on two curves of unknown smoothing each."""
    return with_reference(
        f'[curves.y{n}]\npoints = [[-100, 0], [0, 60], [50, {n}], [100, 100]]\nsmoothing = "unknown"\n'
        f'[channels.x{n}]\nfrom = "throttle"\ncurve = "y{n}"\nmix = [{{ from = "elevator", curve = "y{(n + 1) % size}" }}]'
        for n in range(size)
    )


def test_channels_with_a_curve_each_share_how_it_may_be_smoothed(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each evaluated the whole file for itself, three times for one row of a card."""
    setup = setuplint.load_text(curves(60)).model
    state, memory = walk.Walk(setup).state, evaluate_module.OFF
    made = counted(monkeypatch, evaluate_module, "evaluate_with")
    given = walk.readings(setup, state, memory)
    assert made[0] <= 4
    assert given["x7"].between or given["x7"].values
    parsed = ParsedText(curves(60), "own.toml")
    parsed.decider.find(lenses.part_formula(setup, "mode", "normal"))
    made[0] = 0
    state_json = lenses._state_json(parsed, "", [], state, evaluate_module.evaluate(setup, state))
    assert made[0] <= 5
    assert len(state_json["outputs"]) == len(setup.channels)


def test_what_hangs_on_too_many_smoothings_is_not_known(monkeypatch: pytest.MonkeyPatch) -> None:
    setup = setuplint.load_text(two_curves(12)).model
    state = walk.Walk(setup).state
    whole = walk.readings(setup, state, evaluate_module.OFF)
    assert all(whole[f"x{n}"].values for n in range(12))
    monkeypatch.setattr(walk, "MOST_SMOOTHING", 3 * len(setup.declared))
    made = counted(monkeypatch, evaluate_module, "evaluate_with")
    given = walk.readings(setup, state, evaluate_module.OFF)
    assert made[0] < 15
    assert given["x0"] == whole["x0"]
    assert not given["x11"].values
