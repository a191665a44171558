"""Rescue rules at their limits: hover at +16 %, so the motor needs +26 %; governed, what the governor holds."""

from __future__ import annotations

import json
from typing import Any

import pytest

import setuplint
from setuplint.findings import Finding
from tests.checks.linted import TEXT, linted, said, unjudged
from tests.rules.edits import edited

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


def test_a_rescue_that_only_lasts_for_a_delay_is_not_called_by_nothing() -> None:
    edit = {"conditions.late": {"when": "save is pulled", "after": 5}, "intent.rescue": "save is pulled and not late"}
    found = only(said("rescue-two-moves", edit))
    assert found.message == "nothing keeps the rescue called once the delays that it rests on have run out"


def test_two_moves_needs_to_know_what_flying_is() -> None:
    because = unjudged("rescue-two-moves", GUARDED, remove=("craft.motor-off",))
    assert because == ["craft.motor-off is not given"]


def test_a_stop_that_wins_is_no_reason_to_run_the_motor() -> None:
    """Whoever calls the stop is not in the air any more, whether the hold names it or not."""
    edit = {
        "switches.cut": {"kind": "two-position"},
        "overrides.cut": {"channel": "motor", "value": -100, "when": "cut is on", "priority": 200},
        "intent.stop": "cut is on",
    }
    assert linted(edit).findings == ()
    assert linted({**edit, "intent.hold": "hold is on or cut is on"}).findings == ()
    (weak,) = said("rescue-too-weak", {**edit, "overrides.rescue-power.value": 16})
    assert weak.edit is not None
    assert (weak.edit.path, weak.edit.value) == (("overrides", "rescue-power", "value"), "26")


def test_a_rescue_is_asked_only_off_the_ground_and_the_steps_lead_there() -> None:
    """The latch forgets on the way: at the bottom the stick disarms it, which a craft on the ground may do and one aloft not."""
    edit = {
        "conditions.flown": {"when": "throttle > -50", "until": "throttle < -90 or hold is on"},
        "overrides.rescue-level.when": "save is pulled and flown",
    }
    found = only(said("rescue-not-level", edit))
    lifted, fallen = found.steps[-2], found.steps[-1]
    assert (lifted["throttle"], fallen["throttle"]) == (0, -100)
    assert fallen["save"] == "pulled"
    edit["conditions.flown"] = {"when": "throttle > -50", "until": "hold is on"}
    assert said("rescue-not-level", edit) == []
    assert said("rescue-not-level", edit | {"conditions.flown": {"when": "throttle > 90", "until": "hold is on"}})


def test_off_the_ground_is_not_known_without_what_carries() -> None:
    """Nothing is proved of a rescue where it is not known whether the craft can leave the ground at all."""
    edit, remove = (
        {"channels.motor": {"number": 2, "drives": "motor"}},
        ("overrides.rescue-power", "overrides.rescue-level"),
    )
    assert unjudged("rescue-not-level", edit, remove) == ["no channel that drives a motor is described"]
    edit = {"overrides.held.when": "hold is on or hold is off"}
    assert said("rescue-not-level", edit, ("overrides.rescue-level",)) == []


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


@pytest.mark.parametrize("rescue", ["save is pulld", "save is pulled or save is pulld", "saving"])
def test_a_rescue_of_which_something_is_not_known_is_not_judged(rescue: str) -> None:
    """No switch was known to call it, so no movement did, and what movements do was silent as if proved."""
    edit = {
        "conditions.saving": {"when": "save is pulld"},
        "switches.bail": {"kind": "momentary"},
        "overrides.rescue-power": {"channel": "motor", "value": 95, "when": "bail is pulled"},
        "craft.hover-throttle": 40,
        "intent.rescue": rescue,
    }
    waiting = {note.rule for note in linted(edit).not_judged}
    assert {"rescue-shared", "rescue-lowers-power", "rescue-release-drop", "rescue-too-strong"} <= waiting


# -- what levels


LIVELY = {"channel": "attitude", "value": -100, "when": "rates is full and flight is not normal", "priority": 50}


def levelling_edit(edit: dict[str, Any], remove: tuple[str, ...] = ()) -> tuple[Any, ...] | None:
    """The remedy that is offered; with it in the file the rule is silent of that cause."""
    (finding,) = said("rescue-not-level", edit, remove)
    if finding.edit is None:
        return None
    path = ".".join(map(str, finding.edit.path))
    value = json.loads(finding.edit.value)
    assert said("rescue-not-level", {**edit, path: value}, remove) == []
    return path, value


def test_what_is_meant_for_something_else_is_beaten_and_not_changed() -> None:
    lively = {"overrides.lively": LIVELY}
    assert levelling_edit(lively) == ("overrides.rescue-level.priority", 51)
    narrow = {"overrides.rescue-level.when": "save is pulled and throttle > -90"}
    (finding, *_) = [x for x in said("rescue-not-level", {**lively, **narrow}) if x.subject == "lively"]
    assert finding.edit is None, "what levels is not on whenever the rescue is called"


def test_what_is_for_the_rescue_alone_is_told_to_level() -> None:
    assert levelling_edit({"overrides.rescue-level.value": 49.9}) == ("overrides.rescue-level.value", 50)
    beaten = {"overrides.lively": {**LIVELY, "when": "save is pulled and rates is full", "priority": 90}}
    assert levelling_edit(beaten) == ("overrides.lively.value", 50)


def test_an_override_that_levels_is_no_remedy_for_a_claim_against_levelling() -> None:
    claims = [{"never": "rescue called and levelled"}]
    (finding, *_) = said("claim-broken", {"claims": claims})
    assert finding.edit is None


UNREAD_LINE = {"curves.hover-soft.points": "soft", "overrides.rescue-power.when": "save is pulled and rates is full"}


def test_what_a_line_follows_that_cannot_be_read_is_not_known() -> None:
    """The stick may be what gives too little: one of its lines alone can be read."""
    because = "what channels.motor stands on cannot be read"
    assert unjudged("rescue-incomplete", {**UNREAD_LINE, "channels.motor.in.idle-up": {"from": 60}}) == [because]
    because = "overrides.rescue-power cannot be read"
    assert set(unjudged("rescue-incomplete", {"overrides.rescue-power.value": "full"})) == {because}


@pytest.mark.parametrize("line", ["at-least =", "at-least = 50 %", "at-least 50"])
def test_a_level_without_its_number_is_not_met_by_everything(line: str) -> None:
    text = edited(TEXT, {"overrides.rescue-level.value": -100}, ("intent.level",))
    table = '\n[intent.level]\nchannel = "attitude"\n'
    assert setuplint.lint_text(f"{text}{table}at-least = 50\n", only=["rescue-not-level"]).findings
    report = setuplint.lint_text(f"{text}{table}{line}\n")
    assert "rescue-not-level" in {note.rule for note in report.not_judged}
    assert "not-decided" not in {finding.rule for finding in report.findings}


def test_what_carries_a_craft_of_fixed_pitch_is_not_known_without_its_motor() -> None:
    """In no state it was taken to be off the ground, and a rescue that does not level was proved to do so."""
    edit = {"craft.rotor": "fixed", "overrides.rescue-level.value": -100, "channels.motor.drives": "motr"}
    assert "no channel that drives a motor is described" in unjudged(
        "rescue-not-level", edit, ("craft.hover-collective",)
    )
