"""Numbers that would be right on another scale, or in another unit."""

from __future__ import annotations

from typing import Any

import pytest

import setuplint
from tests.checks.linted import TEXT, said
from tests.rules.edits import edited

COPIED: dict[str, Any] = {  # a whole motor copied from a scale of 0 to 100
    "craft.motor-off": 0,
    "curves.hover-soft.points": [[-100, 0], [-50, 43], [0, 58], [50, 73], [100, 100]],
    "curves.spool-flat.points": [[-100, 72.5], [100, 72.5]],
    "overrides.held.value": 0,
    "overrides.rescue-power.value": 77.5,
    "failsafe.motor": 0,
}


def test_a_fixed_number_of_a_line_is_among_those_to_change() -> None:
    (finding,) = said("scale-doubtful", {**COPIED, "channels.motor.in.idle-up": {"from": 70}}, ("curves.spool-flat",))
    assert "channels.motor.in.idle-up.from 70 to 40" in finding.message
    assert "dangers" not in finding.message


@pytest.mark.parametrize(
    ("edit", "danger"),
    [
        ({"failsafe.motor": "keep"}, "failsafe-runs-motor (motor)"),
        ({"overrides.held.when": "hold is on and mode is normal"}, "hold-bypassed (motor)"),
    ],
)
def test_a_danger_that_the_scale_does_not_explain_is_told_with_it(edit: dict[str, Any], danger: str) -> None:
    (finding,) = said("scale-doubtful", {**COPIED, **edit})
    assert finding.message.endswith(f". With these, too, there would be dangers: {danger}")


def test_a_motor_off_that_is_none_of_0_to_100_has_no_place_there() -> None:
    (finding,) = said("motor-off-doubtful", {"craft.motor-off": -49.9})
    assert finding.message.endswith("which a scale of 0 to 100 shows as 0?")
    (finding,) = said("motor-off-doubtful", {"craft.motor-off": 2})
    assert finding.message.endswith("2 there is -96 here")


@pytest.mark.parametrize(
    "edit",
    [
        {"modes.hot": {"when": "controller > 190", "voice": "hot"}},
        {"timers.hot": {"seconds": 60, "runs": "controller > 190"}},
        {"claims": [{"never": "controller > 190 and flying"}]},
        {"conditions.hot": {"when": "controller > 190"}},
    ],
)
def test_a_temperature_is_asked_about_wherever_it_stands(edit: dict[str, Any]) -> None:
    (finding,) = said("value-doubtful", {"sensors.controller": {"reads": "temperature"}, **edit})
    assert "190 °F are 88 °C" in finding.message


def test_a_scale_is_doubted_in_a_run_over_many_setups_too() -> None:
    """There the setup notes what is read of it; a copy of its craft with other numbers was refused."""
    text = edited(TEXT, COPIED)
    alone = setuplint.lint_text(text, name="a.toml", config=False)
    assert "scale-doubtful" in {finding.rule for finding in alone.findings}
    together = setuplint.lint_together({"a.toml": text, "b.toml": text, "c.toml": text})
    assert [[x.rule for x in report.findings] for report in together] == [[x.rule for x in alone.findings]] * 3
