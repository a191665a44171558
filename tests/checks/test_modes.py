"""Rules about flight modes."""

from __future__ import annotations

from fractions import Fraction

from tests.checks.linted import linted, said, unjudged


def test_a_gap_is_shown_by_the_controls_that_make_it() -> None:
    (finding,) = said("mode-gap", {"modes.idle-up.when": "flight is idle-up-1"})
    assert finding.witness == {"flight": "idle-up-2"}
    assert "flight at idle-up-2" in finding.message
    assert finding.primary.path == ("modes", "idle-up", "when")


def test_a_mode_that_cannot_be_read_may_fill_the_gap() -> None:
    (because,) = unjudged("mode-gap", {"modes.idle-up.when": "flight is idle-upp"})
    assert "modes.idle-up.when" in because


def test_the_mode_that_comes_first_is_named() -> None:
    edit = {
        "modes.idle-up.when": "flight is not normal",
        "modes.late": {"when": "flight is idle-up-2", "voice": "late"},
    }
    (finding,) = said("mode-unreachable", edit)
    assert finding.subject == "late"
    assert "idle-up comes first" in finding.message
    assert [place.path for place in finding.related] == [("modes", "idle-up")]


def test_a_constant_condition_is_told_once() -> None:
    edit = {
        "conditions.both": {"when": "flight is normal and flight is idle-up-1"},
        "modes.late": {"when": "both", "voice": "late"}, "modes.idle-up.when": "flight is not normal",
    }  # fmt: skip
    report = linted(edit, only=["condition-constant", "mode-unreachable"])
    found = [(f.rule, f.subject) for f in report.findings]
    assert found == [("condition-constant", "both"), ("mode-unreachable", "late")], (
        "late is never flown, whatever both is"
    )


def test_a_voice_is_added_by_the_edit() -> None:
    (finding,) = said("mode-unannounced", remove=("modes.idle-up.voice",))
    assert finding.edit is not None
    assert (finding.edit.path, finding.edit.value) == (("modes", "idle-up", "voice"), '"idle up"')


def test_an_override_that_stops_in_idle_up_is_one_cause() -> None:
    edit = {
        "modes.idle-up.when": "flight is idle-up-1",
        "modes.wild": {"idle-up": True, "voice": "wild"},
        "channels.motor.in.wild": {"curve": "spool-flat"},
        "overrides.empty": {"channel": "motor", "value": -100, "when": "pack < 19", "priority": 20},
    }
    (finding,) = said("idle-up-stops", edit)
    assert finding.subject == "empty"
    assert finding.outputs == {"motor": Fraction(-100)}


def test_two_idle_up_modes_that_stop_are_two() -> None:
    edit = {
        "modes.idle-up.when": "flight is idle-up-1", "modes.wild": {"idle-up": True, "voice": "wild"},
        "channels.motor.in.idle-up": {"curve": "hover-soft"},
    }  # fmt: skip
    assert {f.subject for f in said("idle-up-stops", edit)} == {"idle-up", "wild"}


def test_a_trim_that_reaches_beyond_the_stick_stops_the_motor() -> None:
    """At a rate of 50 the stick alone goes down to -50, its trim of 20 to -60."""
    edit = {
        "channels.motor.in.idle-up": {"curve": "low", "rate": 50},
        "curves.low.points": [[-100, -100], [-55, -95], [-50, -80], [100, 100]], "sticks.throttle.trim": 20,
    }  # fmt: skip
    (finding,) = said("idle-up-stops", edit)
    assert finding.subject == "idle-up"
    assert said("idle-up-stops", {**edit, "sticks.throttle.trim": 0}) == []
    assert unjudged("idle-up-stops", edit | {"sticks.throttle": {}}, ("sticks.throttle.trim",)) == [
        "sticks.throttle.trim is not given"
    ]


def test_a_voice_that_cannot_be_read_may_be_one_that_is_shared() -> None:
    assert unjudged("mode-voice-shared", {"modes.idle-up.voice": 5}) == ["modes.idle-up.voice cannot be read"]
