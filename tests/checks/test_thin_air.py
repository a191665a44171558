"""Where both elevations are given, rules take the hover throttle as it is at the field: 62 of 100 at 240 m is 67.3 of 100 at
1,900 m, +34.5 %. What speaks only because of that is advice."""

from __future__ import annotations

from typing import Any

import pytest

from setuplint.findings import Finding
from tests.checks.linted import linted, said, unjudged

FIXED = {"craft.rotor": "fixed"}
NO_COLLECTIVE = ("craft.hover-collective", "channels.pitch", "curves.pitch-calm", "curves.pitch-wide", "failsafe.pitch")
HIGH = {"craft.hover-measured-at-m": 240, "field.elevation-m": 1900}
RECKONED = "+34.5 % in the air at 1,900 m, from +24 % measured at 240 m"


def only(findings: list[Finding]) -> Finding:
    assert len(findings) == 1, [x.message for x in findings]
    return findings[0]


def both(rule: str, edit: dict[str, Any], remove: tuple[str, ...] = ()) -> tuple[list[Finding], list[Finding]]:
    """What a rule says with the hover as measured, and at the field."""
    return said(rule, edit, remove), said(rule, edit | HIGH, remove)


def paths(found: Finding) -> set[tuple[str | int, ...]]:
    return {place.path for place in found.related}


def test_practices_rescue_is_enough_where_the_hover_was_measured_and_not_at_1900_m() -> None:
    """Hover +24, rescue +40; at 1,900 m the need is +44.547 %, told as +44.6 %, which is enough."""
    low, high = both("rescue-too-weak", {"overrides.rescue-power.value": 40})
    assert not low
    found = only(high)
    assert found.status == "advice"
    assert (
        f"less than the +44.6 % (72.3 of 100) that stops a fall (10 points over the hover: {RECKONED})" in found.message
    )
    assert {("craft", "hover-measured-at-m"), ("field", "elevation-m")} <= paths(found)
    assert not said("rescue-too-weak", {"overrides.rescue-power.value": 44.6, **HIGH})
    assert said("rescue-too-weak", {"overrides.rescue-power.value": 44.5, **HIGH})


def test_too_weak_as_measured_too_is_proved() -> None:
    assert only(said("rescue-too-weak", {"overrides.rescue-power.value": 30, **HIGH})).status == "proved"


def test_a_field_lower_than_where_it_was_measured_needs_less() -> None:
    low = {"craft.hover-measured-at-m": 1900, "field.elevation-m": 240, "overrides.rescue-power.value": 30}
    assert only(said("rescue-too-weak", {"overrides.rescue-power.value": 30}))
    assert not said("rescue-too-weak", low)


@pytest.mark.parametrize("given", HIGH)
def test_one_elevation_changes_nothing(given: str) -> None:
    assert not linted({given: 1900, "overrides.rescue-power.value": 40}).findings


def test_the_same_elevation_changes_nothing() -> None:
    same = {"craft.hover-measured-at-m": 1900, "field.elevation-m": 1900}
    assert not said("rescue-too-weak", {"overrides.rescue-power.value": 34, **same})


def test_a_governor_holds_the_speed_whatever_the_air() -> None:
    assert not said("rescue-too-weak", {"craft.governed-above": 20, "overrides.rescue-power.value": 20, **HIGH})


def test_an_elevation_that_cannot_be_read_leaves_the_hover_unknown() -> None:
    edit = {"craft.hover-measured-at-m": 240, "field.elevation-m": "high"}
    assert unjudged("rescue-release-drop", edit) == ["field.elevation-m cannot be read"]


def test_no_output_changes() -> None:
    assert only(said("rescue-too-weak", {"overrides.rescue-power.value": 40, **HIGH})).outputs == {"motor": 40}


def test_power_left_to_the_stick() -> None:
    saving = {
        "modes.saving": {"when": "panic is pulled", "voice": "rescue"},
        "modes.normal": {"when": "flight is normal", "voice": "normal"},
        "modes.idle-up": {"idle-up": True, "aerobatic": True, "voice": "idle up"},
        "curves.saving": {"points": [[-100, 34], [100, 90]]},
        "channels.motor.in.saving": {"curve": "saving"},
    }
    low, high = both("rescue-incomplete", saving, ("modes", "overrides.rescue-power"))
    assert not low
    assert only(high).status == "advice"
    assert RECKONED in only(high).message


def test_a_slow_rescue() -> None:
    """From -100 % the ramp takes 0.99 s to +34 %, and 1.07 s to +44.5 %."""
    low, high = both("rescue-slow", {"channels.motor.ramp-up": 1.48})
    assert not low
    assert only(high).status == "advice"
    assert RECKONED in only(high).message


def test_the_drop_when_the_rescue_is_let_go() -> None:
    """Normal gives +24 % where it hovers by its collective: 10.5 points below the hover at 1,900 m, 15.6 at 2,600 m."""
    assert not said("rescue-release-drop", HIGH)
    found = only(said("rescue-release-drop", HIGH | {"field.elevation-m": 2700}))
    assert found.status == "advice"
    assert "in the air at 2,700 m, from +24 % measured at 240 m" in found.message
    assert ("field", "elevation-m") in paths(found)


def test_the_hover_of_a_mode_that_jumps() -> None:
    """At fixed pitch the stick that hovers moves up, here from 0 % to +20.8 %, and so does what idle-up adds."""
    edit: dict[str, Any] = {**FIXED, "curves.hover-soft.points": [[-100, -100], [0, 24], [100, 100]]}
    edit |= {"curves.hover-soft.smoothing": "none", "curves.spool-flat.points": [[-100, 8], [100, 8]]}
    edit |= {"channels.motor.in.idle-up.ramp-up": 0, "overrides.rescue-power.value": 60}
    low, high = both("mode-jump", edit, NO_COLLECTIVE)
    assert not low
    found = only(high)
    assert found.status == "advice"
    assert f"where normal hovers ({RECKONED})" in found.message
    assert "motor goes from +34.547" in found.message


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
    assert "from +14 % (57 of 100) to +34 % (67 of 100), 10 points either side of the hover:" in only(low).message
    around = "from +24.55 % (62.275 of 100) to +44.55 % (72.275 of 100), 10 points either side of the hover"
    assert f"{around} ({RECKONED}):" in only(high).message


@pytest.mark.parametrize(
    ("rule", "points"),
    [
        ("hover-too-sharp", [[-100, -100], [-50, -6], [0, 24], [40, 45], [60, 70], [100, 100]]),
        ("curve-flat-at-hover", [[-100, -100], [-50, -6], [0, 24], [16, 33], [40, 36], [100, 100]]),
        ("hover-off-centre", [[-100, -100], [-50, -6], [0, 24], [50, 37], [100, 100]]),
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
    edit: dict[str, Any] = {**FIXED, "curves.hover-soft.points": [[-100, -100], [0, 24], [20, 90], [100, 100]]}
    found = only(said("curve-steep-outside", edit | {"curves.hover-soft.smoothing": "none"} | HIGH, NO_COLLECTIVE))
    assert found.status == "proved"
    assert ("field", "elevation-m") not in paths(found)
