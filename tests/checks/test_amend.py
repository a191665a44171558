"""Remedies that are one value: which value, and where there is none."""

from __future__ import annotations

from typing import Any

import pytest

import setuplint
from setuplint.findings import Edit, Finding
from tests.checks.linted import TEXT, linted, said
from tests.rules.edits import edited

LOW = ("conditions", "pack-low", "when")
REQUIRES = ("start", "requires")
DROP = ("craft.hover-collective", "channels.pitch", "curves.pitch-calm", "curves.pitch-wide", "failsafe.pitch")


def only(findings: list[Finding]) -> Finding:
    assert len(findings) == 1, [x.message for x in findings]
    return findings[0]


def mended(finding: Finding, edit: dict[str, Any], remove: tuple[str, ...] = ()) -> list[str]:
    """The rules that speak once the finding's value is entered."""
    assert finding.edit is not None
    value = setuplint.load_text(f"x = {finding.edit.value}").document.values["x"]
    text = edited(edited(TEXT, edit, remove), {".".join(map(str, finding.edit.path)): value})
    return [x.rule for x in setuplint.lint_text(text).findings]


# -- overrides


@pytest.mark.parametrize(
    ("edit", "value"),
    [
        ({"overrides.rescue-power.value": 20}, "26"),
        ({"channels.motor.travel": [100, 45]}, "57.8"),  # 26 / 0.45 is 57.78
        ({"overrides.rescue-power.value": 20, "channels.motor.sub-trim": 3}, "23"),
        ({"overrides.rescue-power.value": 20, "channels.motor.reversed": True}, "-26"),
    ],
)
def test_a_rescue_gets_what_it_needs_as_the_receiver_puts_it_out(edit: dict[str, Any], value: str) -> None:
    found = only(said("rescue-too-weak", edit))
    assert found.edit == Edit(("overrides", "rescue-power", "value"), value)


def test_no_value_where_the_channel_cannot_give_it() -> None:
    assert only(said("rescue-too-weak", {"overrides.rescue-power.value": 20, "channels.motor.high": 25})).edit is None
    assert (
        only(said("rescue-too-weak", {"overrides.rescue-power.value": 20, "channels.motor.travel": [100, 15]})).edit
        is None
    )


def test_a_power_that_the_rescue_takes_away_is_given_back() -> None:
    edit = {"overrides.rescue-power.value": 35}
    found = only(said("rescue-lowers-power", edit))
    assert found.edit == Edit(("overrides", "rescue-power", "value"), "45")
    assert mended(found, edit) == []


@pytest.mark.parametrize(
    ("level", "value"),
    [
        ({"at-most": -50}, "-50"),
        ({"value": -80}, "-80"),
        ({"at-least": 40}, "40"),
        ({"at-least": 20, "at-most": 60}, "20"),
    ],
)
def test_a_rescue_levels_by_what_the_intent_says(level: dict[str, Any], value: str) -> None:
    edit = {"overrides.rescue-level.value": 0, "intent.level": {"channel": "attitude", **level}}
    found = [x for x in said("rescue-not-level", edit) if x.subject == "rescue-level"]
    assert only(found).edit == Edit(("overrides", "rescue-level", "value"), value)


# -- thresholds


@pytest.mark.parametrize(
    ("when", "wanted"),
    [
        ("pack < 18", "pack < 21.6"),
        ("not pack >= 18 and hold is off", "not pack >= 21.6 and hold is off"),
        ("pack is lost or pack <= 18", "pack is lost or pack <= 21.6"),
    ],
)
def test_the_threshold_alone_is_changed(when: str, wanted: str) -> None:
    """21.6 V, the careful 3.6 V a cell: 3.58 V would leave 40 s of hover after the alarm's 1.5 s, by the medians."""
    edit = {"conditions.pack-low.when": when}
    found = only(said("voltage-alarm-below-floor", edit))
    assert found.edit == Edit(LOW, f'"{wanted}"')
    assert mended(found, edit) == []


def test_a_careful_value_that_leaves_too_little_time_is_raised() -> None:
    edit = {"conditions.pack-low.when": "pack < 18", "battery.capacity-mah": 1500, "timers.flight.seconds": 150}
    found = only(said("voltage-alarm-below-floor", edit))
    assert found.edit == Edit(LOW, '"pack < 21.66"')
    assert mended(found, edit) == []


def test_without_the_numbers_of_the_pack_a_careful_value_is_offered_and_never_the_floor() -> None:
    edit = {"conditions.pack-low.when": "pack < 18"}
    found = only(said("voltage-alarm-below-floor", edit, ("battery.capacity-mah", "battery.resistance-mohm")))
    assert found.edit == Edit(LOW, '"pack < 21.6"')
    life = {**edit, "battery.chemistry": "life", "conditions.pack-low.when": "pack < 15"}
    assert only(said("voltage-alarm-below-floor", life, ("battery.capacity-mah",))).edit == Edit(LOW, '"pack < 18"')


def test_a_cell_s_sensor_gets_a_cell_s_threshold() -> None:
    edit = {"sensors.pack.reads": "cell-voltage", "conditions.pack-low.when": "pack < 3"}
    assert only(said("voltage-alarm-below-floor", edit)).edit == Edit(LOW, '"pack < 3.6"')


def test_a_right_threshold_that_is_mute_is_left_alone() -> None:
    edit = {"conditions.pack-low.when": "pack < 21.6 and rates is soft"}
    assert only(said("voltage-alarm-below-floor", edit)).edit is None


def test_the_late_and_the_nervous_get_what_the_remedy_says() -> None:
    late = only(said("voltage-alarm-late", {"conditions.pack-low.when": "pack < 20.4"}))
    assert late.edit == Edit(LOW, '"pack < 21.48"')
    assert "from about 21.48 V, 3.58 V a cell on" in late.remedy
    edit = {"conditions.pack-low.when": "pack < 22.5"}
    nervous = only(said("voltage-alarm-nervous", edit))
    assert "Here that is a threshold under 21.93 V." in nervous.remedy
    assert nervous.edit == Edit(LOW, '"pack < 21.92"')
    assert mended(nervous, edit) == []


def test_the_nervous_of_a_part_of_the_pack_gets_that_part_s_threshold() -> None:
    """3.75 V less 0.0945 V of sag, on two cells of six."""
    edit = {"sensors.pack.cells": 2, "conditions.pack-low.when": "pack < 7.5"}
    nervous = only(said("voltage-alarm-nervous", edit))
    assert "Here that is a threshold under 7.31 V." in nervous.remedy
    assert nervous.edit == Edit(LOW, '"pack < 7.3"')
    assert mended(nervous, edit) == []


def test_the_nervous_is_never_told_to_go_down_to_the_floor() -> None:
    """120 mΩ at 27 A take 0.54 V a cell: under 3.21 V loaded a cell rests where the rule is silent."""
    nervous = only(said("voltage-alarm-nervous", {"battery.resistance-mohm": 120}))
    assert "Here that is none over the floor of 3.3 V a cell." in nervous.remedy
    assert nervous.edit is None


# -- the start, timers, delays


def test_the_start_asks_for_the_hold_and_keeps_what_it_asked_for() -> None:
    edit = {"start.requires": "flight is normal or throttle < -95"}
    found = only(said("start-without-hold", edit))
    assert found.edit == Edit(REQUIRES, '"(flight is normal or throttle < -95) and hold is on"')
    assert only(said("start-without-hold", remove=("start",))).edit == Edit(REQUIRES, '"hold is on"')


def test_every_idle_up_mode_is_kept_from_the_start() -> None:
    edit = {"start.requires": "hold is on and throttle < -95", "craft.soft-start": False}
    found = only(said("start-in-idle-up", edit))
    assert found.edit == Edit(REQUIRES, '"hold is on and throttle < -95 and mode is not idle-up"')
    assert mended(found, edit) == []


def test_a_timer_counts_whenever_the_craft_can_fly() -> None:
    edit = {"timers.flight.runs": "mode is normal", "intent.hold": "hold is on or rates is full"}
    found = only(said("timer-stops-in-flight", edit))
    assert found.edit == Edit(("timers", "flight", "runs"), '"not (hold is on or rates is full)"')


def test_one_delay_is_cut_to_what_is_allowed_and_of_two_none() -> None:
    slow = {"channels.motor.ramp-up": 2.0}
    found = only(said("rescue-slow", slow))
    assert found.edit == Edit(("channels", "motor", "ramp-up"), "1.65")  # 2 s take 1.21 s of it, and 1 s is allowed
    assert mended(found, slow) == []
    two = {"conditions.saving": {"when": "save is pulled", "after": 0.4}, "overrides.rescue-level.when": "saving",
           "channels.attitude.ramp-up": 0.5}  # fmt: skip
    assert only(said("rescue-slow", two)).edit is None


def test_a_jump_is_softened_in_its_own_direction_and_two_at_once_are_not() -> None:
    edit = {"channels.motor.in.idle-up.ramp-up": 0, "curves.spool-flat.points": [[-100, 60], [100, 60]]}
    found = next(x for x in said("mode-jump", edit) if x.subject == "idle-up")
    assert found.edit == Edit(("channels", "motor", "in", "idle-up", "ramp-up"), "1")
    both = {**edit, "curves.pitch-wide.points": [[-100, -100], [0, 60], [100, 100]]}
    assert next(x for x in said("mode-jump", both) if x.subject == "idle-up").edit is None


def test_a_curve_is_led_to_its_ends() -> None:
    short = [[-100, -80], [0, 16], [100, 80]]
    edit = {"craft.rotor": "fixed", "curves.hover-soft": {"points": short}}
    found = only(said("curve-short-of-full", edit, DROP))
    assert found.edit == Edit(("curves", "hover-soft", "points"), "[[-100, -100], [0, 16], [100, 100]]")


# -- practice

IDLE = {"curves.spool-flat.points": [[-100, 36], [100, 36]]}  # near enough to the hover for no jump


@pytest.mark.parametrize("rotor", ["collective", "fixed"])
def test_practice_s_own_rescue(rotor: str) -> None:
    """Hover at +16, idle-up at +36: a rescue at +32 passes every rule, and one at +16 does not."""
    remove = DROP if rotor == "fixed" else ()
    edit = {"craft.rotor": rotor, **IDLE}
    assert not linted({**edit, "overrides.rescue-power.value": 32}, remove).findings
    weak = linted({**edit, "overrides.rescue-power.value": 16}, remove).findings
    assert "rescue-too-weak" in {x.rule for x in weak}


SOFT = [[-100, -100], [-50, -14], [0, 16], [50, 46], [100, 100]]


@pytest.mark.parametrize("smoothing", ["none", "monotone", "unknown"])
def test_practice_s_own_curve_passes_every_rule(smoothing: str) -> None:
    """Five points, the ends at full travel, the hover at mid-stick, less steep around it."""
    edit = {"craft.rotor": "fixed", **IDLE, "curves.hover-soft": {"points": SOFT, "smoothing": smoothing}}
    assert not linted(edit, DROP).findings


def test_practice_s_own_curve_is_the_remedy_of_straight_halves() -> None:
    edit = {"craft.rotor": "fixed", **IDLE, "curves.hover-soft": {"points": [[-100, -100], [0, 16], [100, 100]]}}
    found = only(said("hover-too-sharp", edit, DROP))
    assert found.edit == Edit(("curves", "hover-soft", "points"), str(SOFT))
    assert mended(found, edit, DROP) == []
