"""Rescue rules at their limits: hover at +16 %, so the motor needs +26 %; governed, what the governor holds."""

from __future__ import annotations

from typing import Any

from setuplint.findings import Finding
from tests.checks.linted import linted, said, unjudged

GUARDED: dict[str, Any] = {
    "switches.guard": {"kind": "two-position"},
    "conditions.saving": {"when": "save is pulled and guard is on"},
    "intent.rescue": "saving",
    "overrides.rescue-power.when": "saving",
    "overrides.rescue-level.when": "saving",
}


def only(findings: list[Finding]) -> Finding:
    assert len(findings) == 1, [x.message for x in findings]
    return findings[0]


def test_rescue_power_is_named_with_its_numbers() -> None:
    found = only(said("rescue-too-weak", {"overrides.rescue-power.value": 25.9}))
    assert found.subject == "rescue-power"
    assert found.primary.path == ("overrides", "rescue-power", "value")
    assert "+25.9 % (62.95 of 100), less than the +26 % (63 of 100)" in found.message
    assert found.witness == {"hold": "off", "save": "pulled"}
    assert ("craft", "hover-throttle") in [place.path for place in found.related]


def test_governed_needs_what_the_governor_holds_not_the_hover() -> None:
    low = {"craft.hover-throttle": 60, "overrides.rescue-power.value": 20}
    assert not said("rescue-too-weak", {"craft.governed-above": 20, **low})
    assert only(said("rescue-too-weak", {"craft.governed-above": 20.1, **low})).subject == "rescue-power"


def test_what_is_not_given_is_not_guessed() -> None:
    assert unjudged("rescue-too-weak", remove=("craft.hover-throttle",)) == ["craft.hover-throttle is not given"]
    assert unjudged("rescue-too-weak", remove=("intent.lift",)) == ["intent.lift is not given"]
    assert unjudged("rescue-incomplete", remove=("intent.rescue",)) == []


def test_travel_is_shown_beside_the_override_that_it_cuts() -> None:
    found = only(said("rescue-too-weak", {"channels.motor.travel": [100, 47]}))
    assert "+25.85 %" in found.message
    assert ("channels", "motor", "travel") in [place.path for place in found.related]


def test_a_stronger_override_that_is_no_hold_makes_it_weak() -> None:
    """Whoever decides is the cause: here a low stick stops the motor, rescue or not."""
    stop = {"channel": "motor", "value": -100, "when": "throttle < -90", "priority": 90}
    found = only(said("rescue-too-weak", {"overrides.low": stop}))
    assert found.subject == "low"
    assert found.outputs["motor"] == -100


def test_power_left_to_the_stick_is_incomplete_and_not_weak() -> None:
    edit = {"overrides.rescue-power.when": "save is pulled and mode is idle-up"}
    found = only(said("rescue-incomplete", edit))
    assert found.subject == "motor"
    assert found.primary.path == ("channels", "motor")
    assert "leaves motor to throttle in mode normal" in found.message
    assert found.witness["throttle"] == -100
    assert not said("rescue-too-weak", edit)


def test_a_flat_curve_below_the_need_is_weak_and_not_incomplete() -> None:
    edit: dict[str, Any] = {
        "overrides.rescue-power.when": "save is pulled and mode is normal",
        "curves.spool-flat.points": [[-100, 25], [100, 25]],
    }
    found = only(said("rescue-too-weak", edit))
    assert found.subject == "motor"
    assert found.primary.path == ("channels", "motor", "in", "idle-up")
    assert not said("rescue-incomplete", edit)


def test_lift_by_a_value_is_within_one_point() -> None:
    lift = {"channel": "pitch", "value": 40}
    override = {"channel": "pitch", "when": "save is pulled", "priority": 50}
    for value, weak in ((38.99, True), (39, False), (41, False), (41.01, True)):
        edit = {"intent.lift": lift, "overrides.rescue-lift": {**override, "value": value}}
        assert bool(said("rescue-too-weak", edit)) is weak, value


def test_two_moves_shows_the_guard_and_the_condition() -> None:
    found = only(said("rescue-two-moves", GUARDED))
    assert found.witness["guard"] == "off"
    assert found.witness["save"] == "released"
    assert [place.path for place in found.related] == [("conditions", "saving", "when")]


def test_a_rescue_that_nothing_calls() -> None:
    found = only(said("rescue-two-moves", {"intent.rescue": "save is pulled and save is released"}))
    assert found.message == "nothing calls the rescue"


def test_two_moves_needs_to_know_what_flying_is() -> None:
    because = unjudged("rescue-two-moves", GUARDED, remove=("craft.motor-off",))
    assert because == ["craft.motor-off is not given"]


def test_a_stop_that_wins_is_no_reason_to_run_the_motor() -> None:
    """Two rows of the rule book meet where the hold does not name the stop: the remedy never touches the stop's override."""
    edit = {
        "switches.cut": {"kind": "two-position"},
        "overrides.cut": {"channel": "motor", "value": -100, "when": "cut is on", "priority": 200},
        "intent.stop": "cut is on",
    }
    (finding,) = linted(edit).findings
    assert (finding.rule, finding.subject) == ("rescue-too-weak", "cut")
    assert "with the rescue and the stop called" in finding.message
    assert finding.edit is not None
    assert (finding.edit.path, finding.edit.value) == (("intent", "hold"), '"hold is on or cut is on"')
    assert "do not give its override more power" in finding.remedy
    assert linted({**edit, "intent.hold": "hold is on or cut is on"}).findings == ()
    weak, cut = said("rescue-too-weak", {**edit, "overrides.rescue-power.value": 16})
    assert weak.edit is not None
    assert (weak.edit.path, weak.edit.value) == (("overrides", "rescue-power", "value"), "26")
    assert cut.edit == finding.edit


def test_a_rescue_is_judged_though_nothing_calls_a_hold() -> None:
    unlevelled = ("overrides.rescue-level",)
    for edit, remove in (({}, ("intent.hold",)), ({"intent.hold": "hold is on and hold is off"}, ())):
        assert only(said("rescue-not-level", edit, (*unlevelled, *remove))).subject == "attitude"
        assert said("start-without-hold", edit, remove) == []  # of the hold hold-missing speaks
        assert said("hold-bypassed", edit, remove) == []
    assert said("rescue-not-level", {}, ("intent.rescue", *unlevelled)) == []


def test_an_override_that_stops_the_motor_is_never_given_power() -> None:
    finding = only(said("rescue-too-weak", {}, ("intent.hold",)))
    assert finding.subject == "held"
    assert finding.edit is None
    assert "do not give it power" in finding.remedy
    own = {"overrides.rescue-power.value": -100}  # the rescue's own, and wrong
    assert only(said("rescue-too-weak", own)).edit is not None
