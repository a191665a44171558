"""Rules of controls, the stick and the start, where a pupil has sticks too."""

from __future__ import annotations

from pathlib import Path

import pytest

import setuplint

KESTREL = (Path(__file__).parents[2] / "examples" / "kestrel.toml").read_text(encoding="utf-8")
LENT, STICKS = 'lent = "lend is pulled"', 'sticks = ["aileron", "elevator"]'
ROLL = 'from = "aileron"\nrate = 85'


def said(old: str, new: str) -> list[tuple[str, str]]:
    assert old in KESTREL
    return [(f.rule, f.subject) for f in setuplint.lint_text(KESTREL.replace(old, new), "pupils.toml").findings]


def test_hold_and_rescue_win_with_the_pupil_anywhere() -> None:
    assert said(STICKS, 'sticks = ["aileron", "elevator", "throttle", "rudder"]') == []


@pytest.mark.parametrize(
    ("roll", "rule", "subject"),
    [
        (
            'from = "aileron"\nrate = { switch = "flight", at = { normal = 85, idle-up = -85 } }',
            "control-reversed",
            "roll",
        ),
        ('from = "aileron"\nin.idle-up = { rate = 0 }\nrate = 85', "control-dead", "roll idle-up"),
    ],
)
def test_a_slip_in_a_control_that_is_lent_is_one_cause(roll: str, rule: str, subject: str) -> None:
    assert said(ROLL, roll) == [(rule, subject)]


def test_what_lends_them_by_itself() -> None:
    assert said(LENT, 'lent = "mode is idle-up"') == [("trainer-stays", "trainer")]


def test_a_high_pupil_s_throttle_is_no_low_stick() -> None:
    """The bottom means both: lent while nobody holds anything, and the rotor still stands still there."""
    text = KESTREL.replace(STICKS, 'sticks = ["throttle"]').replace(LENT, 'lent = "flight is normal"')
    rules = {f.rule for f in setuplint.lint_text(text, "pupils.toml").findings}
    assert "motor-on-at-low-stick" not in rules
    assert {"trainer-stays", "trainer-at-start"} <= rules


def test_a_rate_that_only_the_pupil_flies_is_shown_with_the_pupils_stick() -> None:
    text = KESTREL.replace("rate = 85", 'rate = { switch = "lend", at = { released = 85, pulled = 130 } }', 1)
    (finding,) = setuplint.lint_text(text, "pupils.toml", only=["output-clipped"]).findings
    assert finding.witness["aileron (pupil)"] == 100
    assert finding.outputs["roll"] == 100
