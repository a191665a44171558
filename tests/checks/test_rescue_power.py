"""What a rescue does to power and lift. In the reference normal gives +16 with the stick in the middle, idle-up +45; the
rescue gives +55."""

from __future__ import annotations

from typing import Any

import pytest

from setuplint.findings import Edit, Finding
from tests.checks.linted import said, unjudged


def lift(when: str = "save is pulled", **more: Any) -> dict[str, Any]:
    override = {"channel": "pitch", "value": 60, "when": when, "priority": 50}
    return {"overrides.rescue-lift": override, "intent.lift": {"channel": "pitch", "at-least": 40}, **more}


def only(findings: list[Finding]) -> Finding:
    assert len(findings) == 1, [x.message for x in findings]
    return findings[0]


# -- rescue-lowers-power


def test_lowered_power_is_told_from_where_to_where() -> None:
    found = only(said("rescue-lowers-power", {"overrides.rescue-power.value": 20}))
    assert found.message == (
        "save to pulled in mode idle-up, stick in the middle, takes power away: motor goes from +45 % (72.5 of 100) "
        "down to the +20 % (60 of 100) that override rescue-power gives it, by 25 points"
    )
    assert found.witness == {"flight": "idle-up-1", "hold": "off", "save": "released", "throttle": 0}
    assert (found.then, found.subject) == ("then save to pulled", "rescue-power")
    assert found.primary.path == ("overrides", "rescue-power", "value")


def test_the_stick_is_in_the_middle_whatever_it_gives_at_full() -> None:
    """+100 at full stick is 45 points over the rescue, and no matter."""
    assert not said("rescue-lowers-power")


def test_every_stick_that_the_motor_reads_is_in_the_middle_and_knobs_are_anywhere() -> None:
    assert not said("rescue-lowers-power", {"channels.motor.mix": [{"from": "rudder", "rate": 50}]})
    knob = {"knobs.boost": {}, "channels.motor.mix": [{"from": "boost", "rate": 50}]}
    assert only(said("rescue-lowers-power", knob)).witness["boost"] > 30


def test_a_tie_may_be_won_by_the_weaker() -> None:
    lazy = {"channel": "motor", "value": 0, "when": "save is pulled and rates is full", "priority": 50}
    found = only(said("rescue-lowers-power", {"overrides.lazy": lazy}))
    assert found.subject == "lazy"
    assert "lazy wins the tie on motor" in found.assumed


def test_what_it_is_lowered_from_may_be_a_line_that_cannot_be_read() -> None:
    """The other line gives less than the rescue."""
    edit: dict[str, Any] = {"curves.hover-soft.points": "soft", "channels.motor.in.idle-up": {"from": 20}}
    assert unjudged("rescue-lowers-power", edit) == ["what channels.motor stands on cannot be read"]


def test_without_motor_off_flying_is_not_known() -> None:
    weak = {"overrides.rescue-power.value": 20}
    assert unjudged("rescue-lowers-power", weak, ("craft.motor-off",)) == ["craft.motor-off is not given"]


# -- rescue-too-strong


def test_too_strong_is_mended_by_the_limit() -> None:
    found = only(said("rescue-too-strong", {"overrides.rescue-power.value": 95}))
    assert found.edit == Edit(("overrides", "rescue-power", "value"), "90")
    assert "puts motor at +95 % (97.5 of 100), above +90 % (95 of 100)" in found.message
    assert "the rotor may run too fast" in found.message
    assert found.witness == {"hold": "off", "save": "pulled"}


def test_at_fixed_pitch_no_rotor_runs_too_fast() -> None:
    edit = {"craft.rotor": "fixed", "overrides.rescue-power.value": 95}
    assert "too fast" not in only(said("rescue-too-strong", edit, ("craft.hover-collective",))).message


def test_outputs_count_not_demands() -> None:
    """A reversed channel: the demand of -95 puts out +95; an edit of the demand to 90 would be wrong."""
    found = only(said("rescue-too-strong", {"overrides.rescue-power.value": -95, "channels.motor.reversed": True}))
    assert found.outputs["motor"] == 95
    assert found.edit is None


@pytest.mark.parametrize(("when", "speaks"), [("rates is full", False), ("save is pulled or rates is full", True)])
def test_what_the_rescue_does_not_bring_about_is_not_its_fault(when: str, speaks: bool) -> None:
    full = {"channel": "motor", "value": 95, "when": when, "priority": 60}
    found = said("rescue-too-strong", {"overrides.full": full})
    assert [x.subject for x in found] == (["full"] if speaks else [])


# -- rescue-release-drop


def test_the_drop_is_told_with_what_the_craft_hovers_at() -> None:
    found = only(said("rescue-release-drop", {"craft.hover-throttle": 32}))
    assert found.message == (
        "letting the rescue go by save to released, with the throttle stick at 0 %, where normal hovers, drops motor "
        "from +55 % (77.5 of 100) to +16 % (58 of 100), 16 points below the hover"
    )
    assert (found.then, found.subject) == ("then save to released", "normal")


def test_at_fixed_pitch_only_something_else_can_lower_the_motor() -> None:
    fixed = {"craft.rotor": "fixed"}
    assert not said("rescue-release-drop", fixed, ("craft.hover-collective",))
    quiet = {"channel": "motor", "value": 0, "when": "rates is full"}
    found = only(said("rescue-release-drop", {**fixed, "overrides.quiet": quiet}, ("craft.hover-collective",)))
    assert found.primary.path == ("overrides", "quiet")


def test_a_motor_that_is_stopped_on_purpose_does_not_drop() -> None:
    cut = {
        "switches.cut": {"kind": "two-position"},
        "intent.stop": "cut is on",
        "overrides.cut": {"channel": "motor", "value": -100, "when": "cut is on", "priority": 10},
    }
    assert not said("rescue-release-drop", cut)


def test_no_hover_no_verdict() -> None:
    assert unjudged("rescue-release-drop", remove=("craft.hover-throttle",)) == ["craft.hover-throttle is not given"]


# -- lift-before-level


def test_lift_at_once_is_advice() -> None:
    found = only(said("lift-before-level", lift()))
    assert (found.status, found.subject) == ("advice", "rescue-lift")
    assert "in aerobatic mode idle-up moves pitch from -100 % to +60 % at once" in found.message


def test_one_way_without_a_delay_is_enough() -> None:
    late = {"conditions.late": {"when": "save is pulled", "after": 0.5}}
    assert not said("lift-before-level", lift("late", **late))
    when = "late or (save is pulled and flight is idle-up-2)"
    found = only(said("lift-before-level", lift(when, **late)))
    assert found.witness["flight"] == "idle-up-2"


def test_what_lingers_has_no_delay() -> None:
    stays = {"conditions.late": {"when": "save is pulled", "stays": 0.5}}
    assert said("lift-before-level", lift("late", **stays))


@pytest.mark.parametrize(("ramp", "speaks"), [("ramp-up", False), ("ramp-down", True)])
def test_a_ramp_counts_in_the_direction_of_the_lift(ramp: str, speaks: bool) -> None:
    assert bool(said("lift-before-level", lift(**{f"channels.pitch.{ramp}": 0.5}))) is speaks


def test_lift_that_is_not_given_is_not_judged() -> None:
    assert unjudged("lift-before-level", remove=("intent.lift",)) == ["intent.lift is not given"]
    assert not said("lift-before-level", {"intent.lift": "unit"})
