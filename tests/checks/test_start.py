"""Rules about switching on and the stick at the bottom: moments, limits, and what is not known."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from tests.checks.linted import linted, said, unjudged

ANY_MODE = {"start.requires": "hold is on and throttle < -95", "craft.soft-start": False}
TRIM = "sticks.throttle.trim is not given"


# -- start-impossible


def test_a_sensor_asked_for_at_power_up_is_named() -> None:
    (finding,) = said("start-impossible", {"start.requires": "hold is on and link >= 50"})
    assert "a reading of link" in finding.message


def test_a_check_that_only_warns_keeps_nobody_from_starting() -> None:
    (finding,) = said("start-impossible", {"start.requires": "hold is on and hold is off", "start.enforced": False})
    assert finding.message.startswith(
        "the check at power-up can never be met, so that its warning is waved away each time: "
    )


def test_a_check_that_cannot_be_read_is_not_judged() -> None:
    (because,) = unjudged("start-impossible", {"start.requires": "hold is onn"})
    assert "start.requires" in because


# -- start-unguarded


def test_what_the_start_check_lets_through_is_its_doing() -> None:
    (finding,) = said("start-unguarded", {"start.requires": "throttle < -99"})
    assert finding.subject == "start"
    assert finding.primary.path == ("start", "requires")
    assert "with the hold off" in finding.message


def test_a_hold_that_does_not_stop_is_not_the_checks_doing() -> None:
    (finding,) = said("start-unguarded", {"overrides.held.value": -90})
    assert finding.subject == "held"
    assert "with the hold on, override held puts motor at -90 % (5 of 100)" in finding.message


def test_the_condition_that_comes_late_is_named() -> None:
    edit = {
        "conditions.holding": {"when": "hold is on", "after": 0.3}, "overrides.held.when": "holding",
        "conditions.low": {"when": "throttle < -50", "after": 1},
    }  # fmt: skip
    (finding,) = said("start-unguarded", edit)
    assert finding.subject == "holding"
    assert finding.primary.path == ("conditions", "holding", "after")
    assert "0.3 s" in finding.message
    assert finding.timing is not None, "so that it can be seen: a settled state does not show it"
    assert (finding.timing.since, finding.timing.until) == (0, Fraction(3, 10))


def test_late_but_with_a_stick_that_stops_the_motor() -> None:
    edit = {
        "conditions.holding": {"when": "hold is on", "after": 0.3}, "overrides.held.when": "holding",
        "start.requires": "hold is on and flight is normal and throttle <= -100",
    }  # fmt: skip
    assert said("start-unguarded", edit) == []


# -- start-in-idle-up


def test_the_movement_and_what_it_does_are_shown() -> None:
    (finding,) = said("start-in-idle-up", ANY_MODE)
    assert finding.then == "then hold to off"
    assert "+45 % (72.5 of 100)" in finding.message
    assert finding.witness == {"flight": "idle-up-1", "hold": "on", "save": "released", "throttle": -100}


def test_each_idle_up_mode_is_looked_at() -> None:
    edit = {
        "craft.soft-start": False, "start.requires": "hold is on and flight is not idle-up-1",
        "modes.idle-up.when": "flight is idle-up-1", "modes.wild": {"idle-up": True, "voice": "wild"},
        "channels.motor.in.wild": {"curve": "spool-flat"},
    }  # fmt: skip
    (finding,) = said("start-in-idle-up", edit)
    assert "idle-up mode wild" in finding.message
    assert finding.subject == "start"


def test_a_ramp_that_takes_longer_to_the_first_turn() -> None:
    """From -100 to the -70 at which the rotor is driven: 30 of 200 points, 2 s with a ramp of 13.4 s."""
    edit = {**ANY_MODE, "craft.rotor-free": -70}
    assert said("start-in-idle-up", {**edit, "channels.motor.in.idle-up.ramp-up": 13.5}) == []
    assert said("start-in-idle-up", {**edit, "channels.motor.in.idle-up.ramp-up": 13.2}) != []


def test_a_rotor_that_is_driven_for_a_moment_only() -> None:
    """Released, the hold comes back after a second by itself."""
    edit = {
        **ANY_MODE, "conditions.again": {"when": "hold is off and flight is not normal", "after": 1},
        "overrides.held.when": "hold is on or again",
    }  # fmt: skip
    (finding,) = said("start-in-idle-up", edit)
    assert finding.then == "then hold to off"
    assert finding.outputs == {"motor": -1}, "the ramp takes 2 s from -100 to +100, and has 0.99 s"


def test_a_motor_that_is_not_described_there_is_not_judged() -> None:
    assert unjudged("start-in-idle-up", ANY_MODE, ("craft.motor-off",)) == ["craft.motor-off is not given"]


# -- motor-on-at-low-stick


def test_numbers_of_the_case_and_the_servo_that_lifts_it() -> None:
    (finding,) = said("motor-on-at-low-stick", {"channels.motor.travel": [80, 100]})
    assert "-80 % (10 of 100)" in finding.message
    assert ("channels", "motor", "travel") in {place.path for place in finding.related}


def test_without_modes_the_own_line_is_judged() -> None:
    from setuplint import lint_text

    text = """
    format = 1
    craft = { motor-off = -95 }
    switches.hold = { kind = "two-position" }
    channels.motor = { drives = "motor", from = "throttle", rate = 90 }
    overrides.held = { channel = "motor", value = -100, when = "hold is on" }
    intent.hold = "hold is on"
    start.requires = "hold is on"
    """
    report = lint_text(text, only=["motor-on-at-low-stick"])
    assert [f.subject for f in report.findings] == ["motor"]


# -- trim-lifts-motor


def test_a_trim_that_is_not_given_is_asked_for() -> None:
    assert unjudged("trim-lifts-motor", remove=("sticks.throttle.trim",)) == [TRIM]


def test_a_trim_is_mended_by_taking_it_away() -> None:
    (finding,) = said("trim-lifts-motor", {"sticks.throttle.trim": 10})
    assert finding.edit is not None
    assert (finding.edit.path, finding.edit.value) == (("sticks", "throttle", "trim"), "0")
    assert finding.witness["throttle trim"]


def test_an_override_that_a_knob_calls() -> None:
    edit: dict[str, Any] = {
        "knobs.spool": {}, "overrides.warm": {"channel": "motor", "value": -60, "when": "spool > 80"},
    }  # fmt: skip
    (finding,) = said("trim-lifts-motor", edit)
    assert finding.subject == "warm"
    assert "-60 % (20 of 100)" in finding.message
    assert finding.edit is None


def test_a_motor_that_runs_at_rest_already_is_told_once() -> None:
    edit = {"sticks.throttle.trim": 10, "channels.motor.sub-trim": 6}
    spoken = {f.rule for f in linted(edit).findings}
    assert "motor-on-at-low-stick" in spoken
    assert "trim-lifts-motor" not in spoken


def test_a_knob_beside_a_trim_that_the_foot_of_the_curve_swallows() -> None:
    """Two sticks in one sum, asked for twice: in the state, and without trim and knob."""
    edit = {
        "curves.hover-soft": {"points": [[-100, -100], [-80, -100], [0, 16], [100, 100]]},
        "sticks.throttle.trim": 5,
        "knobs.extra": {},
        "channels.motor.mix": [{"from": "extra", "rate": 20}],
    }
    (finding,) = linted(edit, only=["trim-lifts-motor", "not-decided"]).findings
    assert finding.rule == "trim-lifts-motor"
    assert finding.witness["extra"] > 0


def test_a_start_check_that_lets_nothing_start_is_not_said_to_let_it() -> None:
    report = linted({"start.requires": "hold is on and hold is off"})
    (finding,) = [finding for finding in report.findings if finding.rule == "start-unguarded"]
    assert finding.message.endswith("at once: [start] requires lets nothing start, and is left out here")
    assert finding.edit is None


def test_a_sum_with_a_trimmed_stick_is_not_taken_for_the_same_without_trim() -> None:
    """Both are asked of one setup, and share the stick that has no trim."""
    edit = {
        "sticks.throttle.trim": 10,
        "channels.motor.curve": "straight",
        "channels.motor.mix": [{"from": "elevator", "rate": -30}],
    }
    found = linted(edit, ("curves.hover-soft",)).findings
    assert not [finding for finding in found if finding.rule == "not-decided"]
    (low,) = [finding for finding in found if finding.rule == "motor-on-at-low-stick"]
    assert (low.witness["throttle"], low.witness["elevator"], low.outputs["motor"]) == (-100, -100, -70)


def test_a_stick_that_is_up_behind_the_hold_is_told_with_what_the_motor_does() -> None:
    edit = {"craft.soft-start": False, "start.requires": "hold is on and flight is normal"}
    (finding,) = said("start-stick-up", edit)
    assert finding.message == (
        "the transmitter can be switched on with the hold on and the throttle stick at 0 %; then hold to off releases the hold, "
        "and motor goes to +16 % (58 of 100) within 2 s, and drives the rotor; with the stick at the bottom it would not"
    )
    assert finding.edit is not None
    assert finding.edit.value == '"hold is on and flight is normal and throttle < -95"'


def test_what_drives_the_rotor_with_the_stick_down_too_is_another_rule_s() -> None:
    edit = {"craft.soft-start": False, "start.requires": "hold is on and flight is normal"}
    edit |= {"curves.hover-soft.points": [[-100, 0], [0, 16], [100, 100]]}
    assert said("start-stick-up", edit) == []
    assert said("motor-on-at-low-stick", edit)


def test_a_motor_that_cannot_be_read_leaves_the_stick_unjudged() -> None:
    edit = {"craft.soft-start": False, "start.requires": "hold is on", "channels.motor.from": "throtle"}
    assert unjudged("start-stick-up", edit)


def test_a_check_that_only_warns_is_asked_as_if_it_held() -> None:
    edit = {"craft.soft-start": False, "start.enforced": False}
    assert said("start-stick-up", edit | {"start.requires": "hold is on and flight is normal and throttle < -95"}) == []
    assert len(said("start-stick-up", edit | {"start.requires": "hold is on and flight is normal"})) == 1


def test_a_stick_that_springs_to_the_middle_has_no_bottom() -> None:
    edit = {
        "craft.soft-start": False,
        "start.requires": "hold is on and flight is normal",
        "sticks.throttle.rest": "middle",
    }
    assert said("start-stick-up", edit) == []


def test_a_stick_that_springs_to_the_middle_is_let_go_there() -> None:
    sprung = {"sticks.throttle.rest": "middle", "craft.stabilised": False}
    (low,) = said("motor-on-at-low-stick", sprung)
    assert (
        "hold off and the throttle stick let go, in the middle: the channel's own line puts motor at +16 %"
        in low.message
    )
    assert low.witness == {"flight": "normal", "hold": "off", "save": "released", "throttle": 0}
    any_start = {"craft.soft-start": False, "start.requires": "hold is on"}
    (started,) = said("start-in-idle-up", {**sprung, **any_start})
    assert "with the throttle stick let go, in the middle, motor goes to" in started.message


UNHELD = {"start.requires": "flight is normal and throttle <= -100", "overrides.rescue-power.when": "saving"}


def test_a_debounced_rescue_cannot_linger_before_the_first_movement() -> None:
    saving = {"conditions.saving": {"when": "save is pulled", "after": 0.2, "stays": 1}}
    assert said("start-unguarded", UNHELD | saving) == said("not-decided", UNHELD | saving) == []


def test_nor_does_what_lingers_on_a_debounced_one() -> None:
    saving = {
        "conditions.pulled": {"when": "save is pulled", "after": 0.2},
        "conditions.saving": {"when": "pulled", "stays": 0.3},
    }
    assert said("start-unguarded", UNHELD | saving) == said("not-decided", UNHELD | saving) == []


def test_what_is_not_decided_of_a_start_names_what_is_in_the_way() -> None:
    """The one is never on without the other."""
    edit = {
        "conditions.soon": {"when": "hold is on", "after": 0.5},
        "conditions.later": {"when": "hold is on", "after": 1},
        "conditions.caught": {"when": "later and not soon", "until": "flight is idle-up-1"},
        "overrides.held.when": "hold is on and not caught",
    }  # fmt: skip
    (message,) = [f.message for f in said("not-decided", edit) if f.message.startswith("start-unguarded")]
    assert message.endswith(
        "for start: condition soon comes 0.5 s late; condition later comes 1 s late: it may be so meanwhile, and no timed run "
        "shows it"
    )


# -- what start-unguarded says


def test_what_comes_a_while_after_power_up_is_not_said_to_come_at_once() -> None:
    edit = {
        "conditions.deaf": {"when": "not link >= 0", "after": 5},
        "overrides.blip": {"channel": "motor", "value": 0, "when": "deaf", "priority": 200},
    }
    (finding,) = said("start-unguarded", edit)
    assert "override blip puts motor at 0 % (50 of 100) 5 s later: the hold does not stop it" in finding.message
    assert finding.timing is not None
    assert (finding.timing.since, finding.timing.until) == (5, None)


def test_what_drives_at_once_is_told_before_what_drives_later() -> None:
    blip = {"channel": "motor", "value": 0, "when": "rates is soft and deaf or rates is full", "priority": 200}
    edit = {"conditions.deaf": {"when": "not link >= 0", "after": 5}, "overrides.blip": blip}
    (finding,) = said("start-unguarded", edit)
    assert "override blip puts motor at 0 % (50 of 100) at once" in finding.message
    assert (finding.witness["rates"], finding.timing) == ("full", None)
    unheld = {
        **edit,
        "start.requires": "flight is normal",
        "overrides.blip": {**blip, "when": f"hold is off and ({blip['when']})"},
    }
    (finding,) = said(
        "start-unguarded", {**unheld, "channels.motor.from": -100, "channels.motor.in": {}}, ("channels.motor.curve",)
    )
    assert "switched on with the hold off, override blip puts motor at 0 % (50 of 100) at once" in finding.message


def test_of_what_drives_only_for_a_while_the_soonest_is_told() -> None:
    edit: dict[str, Any] = {"start.requires": "hold is on"}
    for name, rates, begins in (("a", "soft", 5), ("b", "full", 2)):
        edit[f"conditions.{name}-on"] = {"when": f"rates is {rates}", "after": begins}
        edit[f"conditions.{name}-off"] = {"when": f"rates is {rates}", "after": begins + 2}
        when = f"{name}-on and not {name}-off"
        edit[f"overrides.{name}"] = {"channel": "motor", "value": 0, "when": when, "priority": 200}
    (finding,) = said("start-unguarded", edit)
    assert finding.timing is not None
    assert (finding.subject, finding.timing.since) == ("b", 2)


def test_a_hold_that_cannot_be_read_is_not_said_to_be_on() -> None:
    edit = {"start.requires": "throttle < -95", "intent.hold": "hold is onn"}
    (finding,) = said("start-unguarded", edit)
    assert finding.message.startswith("switched on, the channel's own line puts motor at")
    assert finding.message.endswith("at once: [start] requires lets it")


def test_a_start_table_without_a_check_is_not_said_to_let_it() -> None:
    (finding,) = said("start-unguarded", {"start": {"enforced": False}}, ("start.requires",))
    assert finding.message.endswith("there is no [start] requires to prevent it")
    assert finding.primary.caption == "nothing must hold at power-up"
    assert finding.edit is None, "it could be waved away all the same"


def test_a_check_that_only_warns_is_not_taken_apart() -> None:
    (finding,) = said("start-unguarded", {"start.enforced": False})
    assert finding.edit is None
    assert "say enforced = true" in finding.remedy


def test_a_comparison_the_wrong_way_round_is_not_kept_beside_the_right_one() -> None:
    edit = {"craft.soft-start": False, "start.requires": "hold is on and flight is normal and throttle > -95"}
    (finding,) = said("start-stick-up", edit)
    assert finding.edit is not None
    assert finding.edit.value == '"hold is on and flight is normal and throttle < -95"'


def test_more_delays_than_are_gone_through_are_not_silence() -> None:
    """Each of ten conditions waits for the one before it, and the hold for the last."""
    edit: dict[str, Any] = {**ANY_MODE}
    waits = "hold is on"
    for number in range(10):
        edit[f"conditions.wait-{number}"] = {"when": waits, "stays" if number % 2 else "after": 0.01 * 2**number}
        waits = f"wait-{number} or rates is full and hold is on"
    edit["overrides.held.when"] = f"hold is on or {waits}"
    (finding,) = linted(edit, only=["start-in-idle-up"]).findings
    assert finding.rule == "not-decided"
    assert "changes at more than 64 instants" in finding.message


def test_a_trim_without_motor_off_is_not_judged() -> None:
    """At the bottom the motor surely stands, with the trim it may run."""
    edit = {"sticks.throttle.trim": 10}
    assert unjudged("trim-lifts-motor", edit, ("craft.motor-off",)) == ["craft.motor-off is not given"]
    assert unjudged("trim-lifts-motor", {}, ("craft.motor-off",)) == []


@pytest.mark.parametrize("rest", [{"sticks.throttle.rest": "centre"}, {"sticks.throttle.rst": "middle"}])
@pytest.mark.parametrize("rule", ["motor-on-at-low-stick", "trim-lifts-motor", "start-stick-up", "start-in-idle-up"])
def test_a_bottom_that_cannot_be_read_is_not_judged(rule: str, rest: dict[str, Any]) -> None:
    """From the middle the motor would run."""
    edit = {**rest, "craft.soft-start": False}
    assert unjudged(rule, edit) == ["sticks.throttle.rest cannot be read"]
    assert unjudged(rule, {"sticks.throttle.place": 3, "craft.soft-start": False}) == []


def test_a_hold_that_cannot_be_read_may_have_idle_up_behind_it() -> None:
    """Which movement releases it is not known; the mode comes with that of the switch hold."""
    edit: dict[str, Any] = {
        "modes.normal.when": "flight is normal and hold is on",
        "modes.idle-up.when": "hold is off",
        "craft.soft-start": False,
        "channels.motor.in.idle-up": {"curve": "spool-flat"},
    }
    (finding,) = said("start-in-idle-up", edit)
    assert "behind the hold" in finding.message
    assert unjudged("start-in-idle-up", {**edit, "intent.hold": "holding"}) == [
        "intent.hold names “holding”, which nothing declares"
    ]


def test_a_channel_that_may_be_a_motor_may_drive_the_rotor() -> None:
    """The motor that can be read does what it should."""
    second = {"drives": "motr", "from": "throttle", "ramp-up": 5, "ramp-down": 5, "in": {"idle-up": {"from": 40}}}
    edit = {
        **ANY_MODE,
        "channels.motor.in.idle-up": {"from": -100},
        "channels.second": second,
        "overrides.held-too": {"channel": "second", "value": -100, "when": "hold is on"},
    }
    because = "channels.second.drives cannot be read"
    for rule in ("start-in-idle-up", "hold-slow", "rescue-slow", "rescue-lowers-power"):
        assert because in unjudged(rule, edit)
    assert because in [note.because for note in linted(edit, only=["rescue-incomplete"]).not_judged]


def test_a_trim_is_not_judged_where_the_motor_may_run_without_it() -> None:
    edit: dict[str, Any] = {"sticks.throttle.trim": 10, "switches.lend": {"kind": "momentary"}}
    edit["trainer"] = {"lent": "lend is pulled and zonk", "sticks": ["throttle"]}
    assert "trainer.lent names “zonk”, which nothing declares" in unjudged("trim-lifts-motor", edit)
