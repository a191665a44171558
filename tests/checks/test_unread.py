"""What cannot be read leaves nothing proved: a rule that rests on it says so, where it finds nothing."""

from __future__ import annotations

from typing import Any

import pytest

from tests.checks.linted import linted, said

MORE = {
    "channels.nose": {"number": 3, "drives": "elevator", "from": "elevator"}, "failsafe.nose": 0,
    "sensors.used": {"reads": "charge-used"}, "alarms.used-up": {"when": "used > 2000", "voice": "charge", "repeat": 10},
}  # fmt: skip
CONTROLS = ("control-dead", "control-crossed", "control-lopsided", "control-reversed", "rate-dead")
HOVER = ("hover-too-sharp", "curve-flat-at-hover", "hover-off-centre", "curve-steep-outside")
MODES = ("mode-gap", "mode-jump", "mode-unannounced", "mode-unreachable", "mode-voice-shared")
FAILSAFE = (
    "failsafe-missing",
    "failsafe-motor-missing",
    "failsafe-runs-motor",
    "failsafe-held-over",
    "failsafe-wastes-rotor",
)
PACKS = ("voltage-alarm-below-floor", "voltage-alarm-late", "cell-count-mismatch", "flight-time-too-long")
CURVES = ("curve-not-monotonic", "curve-overshoot")
UNREAD: dict[tuple[str, Any], tuple[str, ...]] = {
    ("intent.hold", "nosuch is on"): (*CONTROLS, *HOVER),
    ("modes.normal.when", "nosuch is on"): (*CONTROLS, *HOVER, *CURVES),
    ("switches.flight.kind", "tristate"): (*CONTROLS, *HOVER, *CURVES),
    ("curves.pitch-calm.smoothing", "round"): (*CURVES, *HOVER, "control-dead", "control-slow", "output-clipped"),
    ("curves.pitch-wide.points", "steep"): (*CURVES, "control-dead", "control-slow", "output-clipped"),
    ("channels.roll.drives", "ailron"): (*CONTROLS, "control-slow", "gyro-gain-lost", "trim-on-stabilised"),
    ("battery.peak-current-a", "much"): ("voltage-alarm-nervous",),
    ("alarms.land-now.voice", 7): ("cell-count-mismatch", "voltage-alarm-always", "alarm-silent", "alarm-never-sounds"),
    ("sensors.used.reads", "charge"): ("charge-alarm-late", "receiver-alarm-below-floor"),
    ("alarms.used-up.when", "usd > 2340"): ("charge-alarm-late",),
    ("alarms.used-up.voice", 7): ("charge-alarm-late",),
    ("alarms.link-weak.repeat", "x"): ("alarm-once", "alarm-at-rest"),
    ("alarms", 5): ("alarm-silent", "alarm-never-sounds", "alarm-voice-shared", "alarm-at-rest"),
    ("modes", 5): (*CONTROLS, *MODES, "idle-up-stops", "gyro-gain-lost", "hold-shared", "hold-slow", "start-in-idle-up"),
    ("channels", 3): (*CONTROLS, *FAILSAFE, "expo-harsh", "output-clipped", "override-conflict", "mode-jump"),
    ("overrides", False): ("override-conflict", "override-shadowed", "override-stuck", "hold-slow"),
    ("conditions", "x"): ("condition-constant", "part-unused"),
    ("curves", 1): ("part-unused",),
    ("packs", True): PACKS,
    ("sticks", 5): ("motor-on-at-low-stick", "trim-lifts-motor"),
    ("claims", 7): ("claim-broken",),
    ("channels.roll", 5): (*CONTROLS, "failsafe-held-over", "failsafe-runs-motor"),
    ("channels.attitude.drives", "stabilizer"): ("mix-left-on", "trim-on-stabilised"),
    ("channels.roll.rate.switch", "rats"): ("expo-harsh", "output-clipped", *CONTROLS),
    ("sticks.aileron.trim", "none"): ("trim-on-stabilised",),
    ("craft.rotor", "fixd"): (*HOVER, "curve-not-monotonic", "curve-short-of-full", "motor-lags", "gyro-gain-lost"),
    ("craft.kind", "heli"): (*HOVER, "curve-not-monotonic", "curve-short-of-full", "motor-lags", "gyro-gain-lost"),
}  # fmt: skip


@pytest.mark.parametrize(("key", "value", "rule"), [(*edit, rule) for edit, rules in UNREAD.items() for rule in rules])
def test_not_judged_where_it_rests_on_what_cannot_be_read(key: str, value: Any, rule: str) -> None:
    more = {} if any(other.startswith(f"{key}.") for other in MORE) else MORE
    report = linted({**more, key: value}, ("craft.rotor",) if key == "craft.kind" else (), only=[rule])
    assert rule in {note.rule for note in report.not_judged}
    assert rule not in {finding.rule for finding in report.findings}


@pytest.mark.parametrize("switch", ["lend", "gear"])
def test_a_switch_that_cannot_be_read_may_take_the_sticks_back(switch: str) -> None:
    lent = {"trainer": {"lent": "lend is pulled or gear is pulled", "sticks": ["aileron"]}}
    kinds = {f"switches.{name}.kind": "momentary" for name in ("lend", "gear")}
    report = linted({**lent, **kinds, f"switches.{switch}.kind": "spring"}, only=["trainer-two-moves"])
    assert {note.because for note in report.not_judged} == {f"{switch} cannot be read"}


@pytest.mark.parametrize("edit", [{"alarms.land-now.voice": 7}, {"conditions.pack-low.when": "pck < 18.6"}])
def test_an_alarm_that_cannot_be_read_may_watch_the_flat_voltage(edit: dict[str, Any]) -> None:
    report = linted({"battery.chemistry": "life", **edit}, ("timers",), only=["voltage-warns-late"])
    assert [note.rule for note in report.not_judged] == ["voltage-warns-late"]


@pytest.mark.parametrize(
    ("packs", "because"),
    [
        (True, "packs cannot be read"),
        ({"twelve": True}, "packs.twelve.cells cannot be read"),
        ({"twelve": {"cells": "x"}}, "packs.twelve.cells cannot be read"),
    ],
)
def test_an_override_may_act_with_a_pack_that_cannot_be_read(packs: Any, because: str) -> None:
    edit = {"conditions.high": {"when": "pack > 30"}, "packs": packs}
    beats = {"overrides.full": {"channel": "motor", "value": 100, "when": "high", "priority": 200}}
    report = linted({**edit, **beats}, only=["hold-bypassed"])
    assert report.findings == ()
    assert because in {note.because for note in report.not_judged}
    assert linted({**edit, **beats, "overrides.full.value": -100}, only=["hold-bypassed"]).not_judged == ()


def test_what_may_be_a_motor_may_stop_between_two_points() -> None:
    points = [[-100, -100], [-60, -92], [-40, -92], [0, 16], [50, 46], [100, 100]]
    edit = {"curves.hover-soft.points": points, "channels.motor.drives": "moter"}
    for smoothing, because in (("cardinal", ["channels.motor.drives cannot be read"]), ("none", [])):
        report = linted({**edit, "curves.hover-soft.smoothing": smoothing}, only=["curve-overshoot"])
        assert [note.because for note in report.not_judged] == because


def test_where_a_stick_rests_that_is_misspelt_is_not_known() -> None:
    report = linted({"sticks.thhrottle": {"rest": "middle"}}, ("sticks.throttle",), only=["motor-on-at-low-stick"])
    assert [note.because for note in report.not_judged] == ["sticks.throttle.rest cannot be read"]


@pytest.mark.parametrize(
    ("rule", "edit"),
    [
        ("control-lopsided", {"channels.roll.travel": [50, 100]}),
        ("control-slow", {"channels.roll.ramp-up": 1}),
        ("output-clipped", {"channels.roll.high": 86.5}),
    ],
)
def test_which_stick_a_channel_reads_may_not_be_known(rule: str, edit: dict[str, Any]) -> None:
    for trainer in ({"trainer": True}, {"traner": {"lent": "hold is on", "sticks": ["aileron"]}}):
        report = linted({**edit, **trainer}, only=[rule])
        assert {note.because for note in report.not_judged} == {"trainer.sticks cannot be read"}


@pytest.mark.parametrize(
    ("key", "value", "rules"),
    [
        ("channels.pitch.number", "x", ()),
        ("channels.motor.number", "x", ()),
        ("channels.roll.offset", 5, ()),
        ("sensors.pack.shown", 5, ()),
        ("curves.hover-soft.points", 5, ("expo-harsh",)),
        ("switches.rates.kind", "tristate", ("curve-overshoot",)),
        (
            "alarms.land-now.repeat",
            "x",
            ("alarm-silent", "alarm-never-sounds", "alarm-voice-shared", "voltage-alarm-late"),
        ),
        ("alarms.link-weak.tone", "x", ("alarm-voice-shared", "alarm-order")),
        ("alarms.land-now.when", 7, ("alarm-silent", "alarm-voice-shared")),
    ],
)
def test_what_does_not_hang_on_a_key_is_judged(key: str, value: Any, rules: tuple[str, ...]) -> None:
    report = linted({key: value}, only=rules or None)
    assert rules or len(report.findings) == 1
    assert report.not_judged == ()


@pytest.mark.parametrize("where", ["expo", "expoo", "mix", "in", "in.idle-up", "in.idle-up.expo"])
def test_an_expo_may_stand_in_what_cannot_be_read(where: str) -> None:
    report = linted({"channels.pitch.from": "nosuch", f"channels.pitch.{where}": "x"}, only=["expo-harsh"])
    assert [note.because for note in report.not_judged] == ["channels.pitch cannot be read"]


def test_a_kind_that_cannot_be_read_does_not_matter_beside_a_rotor() -> None:
    assert linted({"craft.kind": "heli"}, only=["hover-too-sharp"]).not_judged == ()


def test_what_cannot_be_read_may_change_with_the_sign_of_the_gain() -> None:
    gain = {"switches.gyro.kind": "two-position", "channels.tail-gain": {"drives": "gyro-gain", "from": "gyro"}}
    values = {"channels.tail-gain.values": {"off": 42, "on": -42}}
    assert linted({**gain, **values}, only=["gyro-gain-sign"]).not_judged == ()
    report = linted({**gain, **values, "channels.roll.rate": "gyro"}, only=["gyro-gain-sign"])
    assert [note.because for note in report.not_judged] == ["channels.roll cannot be read"]


def test_a_gain_that_is_lost_in_flight_is_told_whatever_the_rotor() -> None:
    edit = {"craft.rotor": "fixd", "channels.tail-gain.from": 0}
    (finding,) = (x for x in said("gyro-gain-lost", edit) if x.rule == "gyro-gain-lost")
    assert "puts tail-gain at 0 % in flight" in finding.message


def test_what_a_craft_does_not_have_is_not_asked_for() -> None:
    """No curve on roll alone, no second control to be crossed with, no ramp."""
    report = linted({"intent.hold": "nosuch is on"}, only=["control-crossed", "control-slow", "mix-left-on"])
    assert report.not_judged == ()


@pytest.mark.parametrize(
    ("key", "value"),
    [("switches.rates.kind", "tristate"), ("overrides.held.channel", "nosuch"), ("channels.roll.from", "ailron")],
)
def test_a_failsafe_is_missing_whatever_else_of_the_channel_cannot_be_read(key: str, value: Any) -> None:
    for rule, channel in (("failsafe-missing", "roll"), ("failsafe-motor-missing", "motor")):
        edit = {"channels.roll.drives": "motor"} if channel == "motor" else {}
        found = [x.subject for x in said(rule, {**edit, key: value}, ("failsafe.roll",)) if x.rule == rule]
        assert found == ["roll"], rule


CALMER = {"channel": "pitch", "at-most": "sixty", "when": "hold is off"}


@pytest.mark.parametrize(
    ("edit", "rule", "because"),
    [
        ({"failsafe.pitch": 20, "channels.pitch.reversed": "no"}, "failsafe-wastes-rotor", "channels.pitch cannot be read"),
        ({"swash": {"servos": "three-121", "collective": 90, "cyclic": 90}}, "output-clipped", "swash.servos cannot be read"),
        (
            {"sensors.rx.reads": "receiver-voltage", "receiver-supply": {"kind": "lypo", "cells": 2},
             "alarms.rx": {"when": "rx < 4.8", "tone": True, "repeat": 5}},
            "receiver-alarm-below-floor", "receiver-supply.kind cannot be read",
        ),
        (
            {"curves.pitch-calm.points": [[-100, -30], [-50, -30], [0, 30], [100, 80]], "overrides.calmer": CALMER},
            "hover-too-sharp", "overrides.calmer cannot be read",
        ),
    ],
)  # fmt: skip
def test_not_judged_beside_what_else_is_given(edit: dict[str, Any], rule: str, because: str) -> None:
    report = linted(edit, only=[rule])
    assert because in {note.because for note in report.not_judged if note.rule == rule}
    assert rule not in {finding.rule for finding in report.findings}
