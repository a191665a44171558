"""Timing rules: what a run shows is a finding, what a bound proves is silence, and what only the bound exceeds is said."""

from __future__ import annotations

from typing import Any

import pytest

from setuplint.findings import Finding
from tests.checks.linted import linted, said, unjudged

HOLDING: dict[str, Any] = {
    "overrides.held.when": "holding",
    "start.requires": "hold is on and flight is normal and throttle <= -100",
}


def only(findings: list[Finding]) -> Finding:
    assert len(findings) == 1, [x.message for x in findings]
    return findings[0]


def holding(**condition: Any) -> dict[str, Any]:
    return {**HOLDING, "conditions.holding": {"when": "hold is on", **condition}}


@pytest.mark.parametrize(("after", "speaks"), [(0.5, False), (0.51, True)])
def test_a_hold_that_waits(after: float, speaks: bool) -> None:
    found = said("hold-slow", holding(after=after))
    assert bool(found) is speaks
    if found:
        assert found[0].primary.path == ("conditions", "holding", "after")
        assert "goes on driving the rotor for 0.51 s, longer than 0.5 s" in found[0].message


def test_a_hold_that_waits_and_lingers_comes_on_by_the_first() -> None:
    assert said("hold-slow", holding(after=0.4, stays=3)) == []
    found = only(said("hold-slow", holding(after=0.6, stays=3)))
    assert found.rule == "hold-slow"
    assert found.primary.path == ("conditions", "holding", "after")


def test_what_waits_and_lingers_goes_off_by_the_other() -> None:
    busy = {"conditions.busy": {"when": "hold is off", "after": 3, "stays": 0.4}}
    assert said("hold-slow", {**busy, "overrides.held.when": "hold is on and not busy"}) == []
    busy["conditions.busy"]["stays"] = 0.6
    found = only(said("hold-slow", {**busy, "overrides.held.when": "hold is on and not busy"}))
    assert found.primary.path == ("conditions", "busy", "stays")


def test_a_ramp_is_told_from_where_it_starts() -> None:
    found = only(said("hold-slow", {"channels.motor.ramp-down": 1.0}))
    assert found.subject == "motor"
    assert found.primary.path == ("channels", "motor", "ramp-down")
    assert found.witness["throttle"] == 100
    assert found.outputs == {"motor": 100}
    assert "then move hold to on" in found.then
    assert "for 0.975 s" in found.message  # 195 of 200 points


@pytest.mark.parametrize(("ramp", "speaks"), [(0.51, False), (0.52, True)])
def test_a_ramp_counts_to_where_the_rotor_is_free(ramp: float, speaks: bool) -> None:
    """195 points of 200: 0.497 s and 0.507 s."""
    assert bool(said("hold-slow", {"channels.motor.ramp-down": ramp})) is speaks


def test_rotor_free_is_reached_sooner_than_motor_off() -> None:
    edit = {"channels.motor.ramp-down": 0.6}
    assert said("hold-slow", edit)
    assert not said("hold-slow", {**edit, "craft.rotor-free": -60})


def test_without_motor_off_a_slow_hold_is_told_as_far_as_it_is_known() -> None:
    """A motor runs above the hover: from +100 down to +16 by a ramp of 20 s takes 8.4 s. How quick it must be is not known."""
    found = only(said("hold-slow", {"channels.motor.ramp-down": 20}, ("craft.motor-off",)))
    assert "for at least 8.4 s" in found.message
    assert found.edit is None


def test_a_second_motor_that_nothing_stops_hides_nothing_of_the_first() -> None:
    edit = {"channels.motor.ramp-down": 6, "channels.motor-b": {"number": 3, "drives": "motor", "from": 45}}
    assert only(said("hold-slow", edit)).subject == "motor"


def test_a_stop_comes_late_too() -> None:
    """What delays the hold as well is one cause, and the hold's finding says it."""
    stop: dict[str, Any] = {
        "craft.rotor-free": -50,
        "switches.cut": {"kind": "two-position"},
        "intent.stop": "cut is on",
        "overrides.cut": {"channel": "motor", "value": -100, "when": "cutting", "priority": 110},
        "conditions.cutting": {"when": "cut is on"},
    }
    assert only(said("hold-slow", {**stop, "channels.motor.ramp-down": 1.2})).subject == "motor"
    stop["conditions.cutting"] = {"when": "cut is on", "after": 0.6}
    found = only(said("hold-slow", stop))
    assert found.subject == "motor by stop"
    assert found.message.startswith("after the stop is called, motor goes on running for 0.6 s")
    assert not said("stop-bypassed", stop)


def test_waits_add_up_along_a_chain() -> None:
    chain: dict[str, Any] = {
        **HOLDING,
        "conditions.touched": {"when": "hold is on", "after": 0.3},
        "conditions.holding": {"when": "touched", "after": 0.3},
    }
    found = only(said("hold-slow", chain))
    assert "for 0.6 s" in found.message
    assert found.primary.path == ("conditions", "holding", "after")
    assert ("conditions", "touched", "after") in [place.path for place in found.related]


def test_a_second_override_that_acts_at_once_is_a_proof() -> None:
    at_once = {"channel": "motor", "value": -100, "when": "hold is on", "priority": 90}
    edit = {**holding(after=2), "overrides.at-once": at_once}
    report = linted(edit, only=["hold-slow", "not-decided"])
    assert not report.findings


def test_a_hold_that_never_stops_the_motor_is_another_rules() -> None:
    edit = {**holding(after=2), "overrides.held.value": -50}
    assert not said("hold-slow", edit)
    assert said("hold-bypassed", edit)


def test_only_the_bound_exceeds_the_limit() -> None:
    """The two conditions cannot both lag: the second starts when the first is on for good, and the motor is off by then."""
    edit: dict[str, Any] = {
        "channels.motor.ramp-down": 0.4,
        "conditions.busy": {"when": "hold is off", "stays": 0.3},
        "overrides.lingering": {"channel": "motor", "value": -60, "when": "busy and hold is on", "priority": 110},
    }
    report = linted(edit, only=["hold-slow", "not-decided"])
    assert [(x.rule, x.subject) for x in report.findings] == [("not-decided", "hold-slow motor")]
    assert "but no run shows it" in report.findings[0].message


def test_the_limit_for_levelling_is_shorter_than_for_power() -> None:
    saving = {"when": "save is pulled", "after": 0.31}
    level = only(said("rescue-slow", {"conditions.saving": saving, "overrides.rescue-level.when": "saving"}))
    assert level.subject == "attitude"
    assert "it takes 0.31 s until attitude levels the craft (+50 % or more), longer than 0.3 s" in level.message
    power = {"conditions.saving": saving, "overrides.rescue-power.when": "saving"}
    assert not said("rescue-slow", power)
    late = only(said("rescue-slow", {**power, "conditions.saving": {**saving, "after": 1.01}}))
    assert late.subject == "motor"
    assert "until motor gives the +26 % (63 of 100)" in late.message


def test_power_counts_from_a_motor_that_barely_turns_to_its_need() -> None:
    """From -95 to +26: 121 points, 1.004 s with a ramp of 1.66 s, 0.998 s with 1.65 s."""
    assert not said("rescue-slow", {"channels.motor.ramp-up": 1.65})
    found = only(said("rescue-slow", {"channels.motor.ramp-up": 1.66}))
    assert found.primary.path == ("channels", "motor", "ramp-up")
    assert ("craft", "hover-throttle") in [place.path for place in found.related]


def test_a_governed_motor_is_there_sooner() -> None:
    edit = {"channels.motor.ramp-up": 1.8, "craft.governed-above": 0}
    assert not said("rescue-slow", edit)


def test_what_takes_no_time_needs_no_number() -> None:
    assert unjudged("rescue-slow", {"channels.motor.in.idle-up.ramp-up": 0}, ("craft.hover-throttle",)) == []
    assert unjudged("rescue-slow", remove=("craft.hover-throttle",)) == ["craft.hover-throttle is not given"]
    assert unjudged("rescue-slow", remove=("intent.level",)) == ["intent.level is not given"]
    assert unjudged("hold-slow", remove=("craft.motor-off",)) == []
    assert unjudged("hold-slow", holding(after=2), ("craft.motor-off",)) == ["craft.motor-off is not given"]


RAMP = {"channels.motor.ramp-down": 5}
UNREAD: dict[str, tuple[dict[str, Any], str]] = {
    "a ramp": ({"channels.motor.ramp-down": "slow"}, "channels.motor cannot be read"),
    "a mode's ramp": ({"channels.motor.in.idle-up.ramp-down": "slow"}, "channels.motor cannot be read"),
    "what an override is for": (
        {**RAMP, "overrides.rescue-power.channel": 3},
        "what channels.motor stands on cannot be read",
    ),
    "a delay": (holding(after="late"), "conditions.holding cannot be read"),
    "the hold's switch": ({**RAMP, "switches.hold.kind": "lever"}, "hold cannot be read"),
    "the hold's switch, and a delay": (
        {**holding(after=2), "switches.hold.kind": "lever"},
        "hold cannot be read",
    ),
}


@pytest.mark.parametrize(("edit", "because"), UNREAD.values(), ids=UNREAD)
def test_a_delay_that_cannot_be_read_is_not_taken_for_none(edit: dict[str, Any], because: str) -> None:
    assert unjudged("hold-slow", edit) == [because]


def test_what_cannot_be_read_and_takes_no_time_is_no_delay() -> None:
    assert unjudged("hold-slow", {"curves.hover-soft.points": "soft"}) == []
    assert unjudged("hold-slow", {"overrides.rescue-power.value": "full"}) == []


def test_whether_it_flies_before_a_slow_rescue_is_not_known_without_motor_off() -> None:
    """Above the hover it surely does, and needs no more power there."""
    edit = {"craft.governed-above": 10, "channels.motor.ramp-up": 5}
    assert said("rescue-slow", edit)
    report = linted(edit, ("craft.motor-off",), only=["rescue-slow"])
    assert not report.findings
    assert [note.because for note in report.not_judged] == ["craft.motor-off is not given"]


def test_an_override_for_nobody_knows_which_channel_may_be_the_hold_that_waits() -> None:
    edit = {**holding(after=2), "overrides.held.channel": 3, "intent.hold": "holding"}
    assert "overrides.held cannot be read" in unjudged("hold-slow", edit)
