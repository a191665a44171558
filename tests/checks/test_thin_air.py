"""Where both elevations are given, rules take the hover throttle as it is at the field: 58 of 100 at 240 m is 62.9 of 100 at
1,900 m, +25.9 %. What speaks only because of that is advice."""

from __future__ import annotations

from typing import Any

import pytest

from setuplint.findings import Finding
from tests.checks.linted import linted, said, unjudged

FIXED = {"craft.rotor": "fixed"}
NO_COLLECTIVE = ("craft.hover-collective", "channels.pitch", "curves.pitch-calm", "curves.pitch-wide", "failsafe.pitch")
HIGH = {"craft.hover-measured-at-m": 240, "field.elevation-m": 1900}
RECKONED = "+25.9 % in the air at 1,900 m, from +16 % measured at 240 m"


def only(findings: list[Finding]) -> Finding:
    assert len(findings) == 1, [x.message for x in findings]
    return findings[0]


def both(rule: str, edit: dict[str, Any], remove: tuple[str, ...] = ()) -> tuple[list[Finding], list[Finding]]:
    """What a rule says with the hover as measured, and at the field."""
    return said(rule, edit, remove), said(rule, edit | HIGH, remove)


def paths(found: Finding) -> set[tuple[str | int, ...]]:
    return {place.path for place in found.related}


def test_practices_rescue_is_enough_where_the_hover_was_measured_and_not_at_1900_m() -> None:
    """Hover +16, rescue +32; at 1,900 m the need is +35.867 %, shown as +35.9 %, which is enough."""
    low, high = both("rescue-too-weak", {"overrides.rescue-power.value": 32})
    assert not low
    found = only(high)
    assert found.status == "advice"
    assert (
        f"less than the +35.9 % (67.95 of 100) that stops a fall (10 points over the hover: {RECKONED})"
        in found.message
    )
    assert {("craft", "hover-measured-at-m"), ("field", "elevation-m")} <= paths(found)
    assert not said("rescue-too-weak", {"overrides.rescue-power.value": 35.9, **HIGH})
    assert said("rescue-too-weak", {"overrides.rescue-power.value": 35.8, **HIGH})


def test_too_weak_as_measured_too_is_proved() -> None:
    assert only(said("rescue-too-weak", {"overrides.rescue-power.value": 20, **HIGH})).status == "proved"


def test_a_field_lower_than_where_it_was_measured_needs_less() -> None:
    low = {"craft.hover-measured-at-m": 1900, "field.elevation-m": 240, "overrides.rescue-power.value": 20}
    assert only(said("rescue-too-weak", {"overrides.rescue-power.value": 20}))
    assert not said("rescue-too-weak", low)


@pytest.mark.parametrize("given", HIGH)
def test_one_elevation_changes_nothing(given: str) -> None:
    assert not linted({given: 1900, "overrides.rescue-power.value": 41}).findings


def test_the_same_elevation_changes_nothing() -> None:
    same = {"craft.hover-measured-at-m": 1900, "field.elevation-m": 1900}
    assert not said("rescue-too-weak", {"overrides.rescue-power.value": 26, **same})


def test_a_governor_holds_the_speed_whatever_the_air() -> None:
    assert not said("rescue-too-weak", {"craft.governed-above": 20, "overrides.rescue-power.value": 20, **HIGH})


def test_an_elevation_that_cannot_be_read_leaves_the_hover_unknown() -> None:
    edit = {"craft.hover-measured-at-m": 240, "field.elevation-m": "high"}
    assert unjudged("rescue-release-drop", edit) == ["field.elevation-m cannot be read"]


def test_no_output_changes() -> None:
    assert only(said("rescue-too-weak", {"overrides.rescue-power.value": 32, **HIGH})).outputs == {"motor": 32}


def test_power_left_to_the_stick() -> None:
    saving = {
        "modes.saving": {"when": "save is pulled", "voice": "rescue"},
        "modes.normal": {"when": "flight is normal", "voice": "normal"},
        "modes.idle-up": {"idle-up": True, "aerobatic": True, "voice": "idle up"},
        "curves.saving": {"points": [[-100, 26], [100, 90]]},
        "channels.motor.in.saving": {"curve": "saving"},
    }
    low, high = both("rescue-incomplete", saving, ("modes", "overrides.rescue-power"))
    assert not low
    assert only(high).status == "advice"
    assert RECKONED in only(high).message


def test_a_slow_rescue() -> None:
    """From -95 %, where it barely turns, the ramp takes 0.94 s to +26 %, and 1.02 s to +35.9 %."""
    low, high = both("rescue-slow", {"channels.motor.ramp-up": 1.56})
    assert not low
    assert only(high).status == "advice"
    assert RECKONED in only(high).message


def test_the_drop_when_the_rescue_is_let_go() -> None:
    """Normal gives +16 % where it hovers by its collective: 9.9 points below the hover at 1,900 m, 15.7 at 2,800 m."""
    assert not said("rescue-release-drop", HIGH)
    found = only(said("rescue-release-drop", HIGH | {"field.elevation-m": 2800}))
    assert found.status == "advice"
    assert "in the air at 2,800 m, from +16 % measured at 240 m" in found.message
    assert ("field", "elevation-m") in paths(found)


def test_the_hover_of_a_mode_that_jumps() -> None:
    """At fixed pitch the stick that hovers moves up, here from 0 % to +11.7 %, and so does what idle-up adds."""
    edit: dict[str, Any] = {**FIXED, "curves.hover-soft.points": [[-100, -100], [0, 16], [100, 100]]}
    edit |= {"curves.hover-soft.smoothing": "none", "curves.spool-flat.points": [[-100, 0], [100, 0]]}
    edit |= {"channels.motor.in.idle-up.ramp-up": 0, "overrides.rescue-power.value": 60}
    low, high = both("mode-jump", edit, NO_COLLECTIVE)
    assert not low
    found = only(high)
    assert found.status == "advice"
    assert f"where normal hovers ({RECKONED})" in found.message
    assert "motor goes from +25.867" in found.message


def test_the_collectives_hover_stays() -> None:
    """Its own number is not shifted: MEANING.md names the throttle's alone."""
    edit = {"curves.pitch-wide.points": [[-100, -100], [0, 50], [100, 100]]}
    low, high = both("mode-jump", edit)
    assert [x.message for x in low] == [x.message for x in high]
    assert {x.status for x in high} == {"proved"}
    assert not any("in the air" in x.message for x in high)


def test_a_motor_that_lags() -> None:
    edit = {**FIXED, "channels.motor.ramp-up": 4, "overrides.rescue-power.value": 60}
    low, high = both("motor-lags", edit, NO_COLLECTIVE)
    assert (only(low).status, only(high).status) == ("proved", "proved")
    assert "from +6 % (53 of 100) to +26 % (63 of 100), 10 points either side of the hover:" in only(low).message
    around = "from +15.87 % (57.935 of 100) to +35.87 % (67.935 of 100), 10 points either side of the hover"
    assert f"{around} ({RECKONED}):" in only(high).message


@pytest.mark.parametrize(
    ("rule", "points"),
    [
        ("hover-too-sharp", [[-100, -100], [-50, -14], [0, 16], [40, 32], [60, 58], [100, 100]]),
        ("curve-flat-at-hover", [[-100, -100], [-50, -14], [0, 16], [16, 25], [40, 28], [100, 100]]),
        ("hover-off-centre", [[-100, -100], [-50, -14], [0, 16], [50, 29], [100, 100]]),
    ],
)
def test_the_curve_is_judged_where_it_hovers_at_the_field(rule: str, points: list[list[int]]) -> None:
    edit = {**FIXED, "curves.hover-soft": {"points": points}, "overrides.rescue-power.value": 60}
    low, high = both(rule, edit, NO_COLLECTIVE)
    assert not low
    found = only(high)
    assert found.status == "advice"
    assert RECKONED in found.message
    assert ("craft", "hover-measured-at-m") in paths(found)


def test_a_steep_curve_needs_no_hover() -> None:
    edit: dict[str, Any] = {**FIXED, "curves.hover-soft.points": [[-100, -100], [0, 16], [20, 82], [100, 100]]}
    found = only(said("curve-steep-outside", edit | {"curves.hover-soft.smoothing": "none"} | HIGH, NO_COLLECTIVE))
    assert found.status == "proved"
    assert ("field", "elevation-m") not in paths(found)
