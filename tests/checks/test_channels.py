"""Channels: gyro gain, expo, dead sticks, slow motors and sums beyond their limits; what is said, shown and offered."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

import setuplint
from setuplint.findings import Finding
from setuplint.plain.evaluate import evaluate
from setuplint.plain.simulate import simulate
from setuplint.plain.state import OFF, State
from setuplint.setup.model import Setup
from tests.checks.linted import TEXT, linted, said, unjudged
from tests.rules.edits import edited

F = Fraction
GYRO, EXPO, DEAD, LAGS, CLIPPED = "gyro-gain-lost", "expo-harsh", "rate-dead", "motor-lags", "output-clipped"
FIXED = ("craft.hover-collective", "channels.pitch", "curves.pitch-calm", "curves.pitch-wide", "failsafe.pitch")


def model(edit: dict[str, Any], remove: tuple[str, ...] = ()) -> Setup:
    return setuplint.load_text(edited(TEXT, edit, remove)).model


def state_of(setup: Setup, witness: dict[str, Any]) -> State:
    """What a pilot sets: the witness, all else at rest."""
    positions = {s.name: str(witness.get(s.name, s.positions[0])) for s in setup.switches.values()}
    sticks = {s.name: F(str(witness.get(s.name, s.rest))) for s in setup.sticks.values()}
    return State(positions, sticks, dict.fromkeys(setup.sensors, "unheard"))


def replayed(finding: Finding, edit: dict[str, Any], remove: tuple[str, ...] = ()) -> dict[str, Any]:
    setup = model(edit, remove)
    return dict(evaluate(setup, state_of(setup, dict(finding.witness)), OFF).outputs)


# -- gyro gain


@pytest.mark.parametrize(("gain", "speaks"), [(15, True), (-15, True), (0, True), (15.01, False), (-15.01, False)])
def test_gain_near_zero(gain: float, speaks: bool) -> None:
    assert bool(said(GYRO, {"channels.tail-gain.from": gain})) == speaks


def test_one_finding_for_each_that_decides() -> None:
    edit: dict[str, Any] = {
        "channels.tail-gain.in.idle-up.from": 4,
        "overrides.gain-off": {"channel": "tail-gain", "value": -3, "when": "rates is full"},
    }
    found = {x.subject: x for x in said(GYRO, edit)}
    assert set(found) == {"gain-off", "tail-gain"}
    assert found["tail-gain"].primary.path == ("channels", "tail-gain", "in", "idle-up")
    assert "override gain-off puts tail-gain at -3 % in flight" in found["gain-off"].message
    for finding in found.values():
        assert replayed(finding, edit)["tail-gain"] == finding.outputs["tail-gain"]
        assert finding.outputs["motor"] > -95


def test_a_gain_between_the_positions_of_a_switch_is_none() -> None:
    edit: dict[str, Any] = {
        "channels.tail-gain": {"drives": "gyro-gain", "from": "rates", "values": {"soft": -40, "full": 40}}
    }
    assert said(GYRO, edit) == []


def test_flying_that_cannot_be_judged() -> None:
    held = {"overrides.gain-held": {"channel": "tail-gain", "value": 42, "when": "hold is on"}}
    asked = {"channels.tail-gain.from": 0, **held}
    assert unjudged(GYRO, asked, ("craft.motor-off",)) == ["craft.motor-off is not given"]
    assert unjudged(GYRO, {}, ("channels.tail-gain",)) == []
    assert unjudged(GYRO, {}, ("channels.tail-gain.from", "channels.tail-gain.in")) == [
        "channels.tail-gain.from is not given"
    ]


# -- expo


def test_expo_is_said_once_where_it_is_written() -> None:
    (finding,) = said(EXPO, {"channels.roll.expo": 75})
    assert finding.message == (
        "expo of 75 % on aileron, for roll: 0.25 of a straight line's answer around the middle, 2.5 of it at full stick; "
        "60 % is as far as is usual, and a positive number is the softer one here"
    )
    assert finding.edit is not None
    assert (finding.edit.path, finding.edit.value) == (("channels", "roll", "expo"), "60")


def test_expo_of_a_mix_in_a_mode_and_of_a_switch() -> None:
    edit: dict[str, Any] = {
        "channels.roll.mix": [{"from": "rudder", "rate": 5, "expo": -20}],
        "channels.roll.in.idle-up.expo": {"switch": "rates", "at": {"soft": 65, "full": -16}},
    }
    table = ("channels", "roll", "in", "idle-up", "expo", "at")
    assert {(x.subject, x.primary.path) for x in said(EXPO, edit)} == {
        ("roll rudder", ("channels", "roll", "mix", 0, "expo")),
        ("roll", (*table, "soft")),
        ("roll", (*table, "full")),
    }


def test_expo_in_a_mode_that_is_never_flown_harms_nobody() -> None:
    edit = {"channels.roll.in.idle-up.expo": 90, "modes.normal.when": "throttle >= -100"}
    assert said(EXPO, edit) == []


# -- dead sticks


def test_an_override_that_always_decides_is_no_dead_stick() -> None:
    edit: dict[str, Any] = {
        "channels.roll.in.idle-up.rate": 0,
        "overrides.locked": {"channel": "roll", "value": 0, "when": "mode is idle-up"},
    }
    assert said(DEAD, edit) == []


def test_a_stick_that_its_own_threshold_leaves_no_room() -> None:
    """The mode is flown above half stick only, where the curve is flat."""
    edit: dict[str, Any] = {
        "curves.pitch-calm.points": [[-100, -20], [0, 30], [50, 55], [100, 55]],
        "modes.normal.when": "flight is normal and throttle < 50",
        "modes.high": {"when": "flight is normal", "voice": "high"},
    }
    text = edited(TEXT, edit)
    order = text.index("[modes.high]"), text.index("[modes.idle-up]")
    text = text.replace("[modes.idle-up]", "[modes.later]").replace("[modes.high]", "[modes.idle-up]")
    text = text.replace("[modes.later]", "[modes.high]") if order[0] > order[1] else text
    report = setuplint.lint_text(text, only=[DEAD])
    assert {x.rule for x in report.findings} <= {DEAD}
    high = {**edit, "modes.normal.when": "flight is normal and throttle > 50"}
    (finding,) = said(DEAD, {**high, "channels.pitch.in.idle-up.curve": "pitch-wide"}, ())
    assert finding.message == (
        "throttle moves nothing on pitch in mode normal: the output is the same wherever it stands, and pitch stays at +55 %"
    )


def test_a_sum_that_is_beyond_its_limit_throughout() -> None:
    edit: dict[str, Any] = {"channels.roll.mix": [{"from": 100}], "channels.roll.high": 10}
    (finding,) = said(DEAD, edit)
    assert "roll stays at +10 %" in finding.message
    assert said(DEAD, {**edit, "channels.roll.high": 20}) == []


def test_rudder_and_elevator_are_asked_and_a_gyro_is_not() -> None:
    for drives, speaks in (("rudder", True), ("elevator", True), ("gyro-gain", False), ("other", False)):
        edit = {"channels.x": {"drives": drives, "from": "rudder", "rate": 0}}
        assert bool(said(DEAD, edit)) == speaks


# -- slow motors


@pytest.mark.parametrize(
    ("keys", "speaks"),
    [
        ({"ramp-up": 2}, False),
        ({"ramp-up": 2.01}, True),
        ({"ramp-down": 5}, False),
        ({"ramp-up": 1.9, "travel": [100, 80]}, True),  # 20 points of output are 25 of demand above zero: 0.2375 s
        ({"ramp-up": 1.5, "travel": [100, 80]}, False),
        ({"ramp-up": 3, "in.normal.ramp-up": 1}, False),  # the other mode's curve is flat
    ],
)
def test_ramps(keys: dict[str, Any], speaks: bool) -> None:
    edit = {"craft.rotor": "fixed", **{f"channels.motor.{key}": value for key, value in keys.items()}}
    assert bool(said(LAGS, edit, FIXED)) == speaks


def test_a_reversed_channel_rises_by_its_ramp_down() -> None:
    """The servo is turned round and the curve with it: outputs as before, demands the other way."""
    edit = {"craft.rotor": "fixed", "channels.motor.reversed": True, "channels.motor.rate": -100, "curves.hover-soft.points":
            [[-100, -100], [-50, -46], [0, -16], [50, 14], [100, 100]]}  # fmt: skip
    (finding,) = said(LAGS, {**edit, "channels.motor.ramp-down": 4}, FIXED)
    assert finding.primary.path == ("channels", "motor", "ramp-down")
    assert said(LAGS, {**edit, "channels.motor.ramp-up": 4}, FIXED) == []


def test_the_timed_simulator_shows_the_lag() -> None:
    edit = {"craft.rotor": "fixed", "channels.motor.ramp-up": 4}
    (finding,) = said(LAGS, edit, FIXED)
    assert finding.message == (
        "motor takes 0.4 s from +6 % (53 of 100) to +26 % (63 of 100), 10 points either side of the hover: ramp-up lets it "
        "go 20 points in no less; 0.2 s is the most"
    )
    assert finding.then == "then throttle +17.8: motor is there only after 0.4 s"
    setup = model(edit, FIXED)
    before = state_of(setup, dict(finding.witness))
    after = state_of(setup, {**finding.witness, "throttle": 17.8})
    late = [
        moment.at
        for moment in simulate(setup, before, OFF, [(F(0), after)], F(1))
        if (moment.evaluation.outputs["motor"] or 0) < F("25.9")
    ]
    assert F("0.38") <= late[-1] <= F("0.41")
    assert finding.edit is not None
    assert finding.edit.value == "2"
    assert said(LAGS, {**edit, "channels.motor.ramp-up": 2}, FIXED) == []


def test_the_hover_is_needed_only_where_there_is_a_ramp() -> None:
    assert unjudged(LAGS, {"craft.rotor": "fixed", "channels.motor.ramp-up": 4}, (*FIXED, "craft.hover-throttle")) == [
        "craft.hover-throttle is not given"
    ]
    no_ramp = (*FIXED, "craft.hover-throttle", "channels.motor.in")
    assert unjudged(LAGS, {"craft.rotor": "fixed", "curves.x": {"points": [[-100, 45], [100, 45]]}}, no_ramp) == []


# -- sums beyond limits


def test_two_sticks_in_one_channel() -> None:
    edit = {"channels.roll.mix": [{"from": "rudder", "rate": 80}]}
    (finding,) = said(CLIPPED, edit)
    assert finding.message == (
        "roll is asked for +166.58 %, and its limit is +150 %: at aileron +100, rudder +100 the sticks do nothing more"
    )
    assert (finding.subject, finding.primary.path) == ("roll", ("channels", "roll"))
    assert [place.path for place in finding.related] == [("channels", "roll", "mix")]
    assert finding.outputs == {"roll": 150}
    assert replayed(finding, edit)["roll"] == 150
    assert finding.witness["rates"] == "full"


def test_one_stick_and_from_where_it_does_nothing() -> None:
    (finding,) = said(CLIPPED, {"channels.pitch.low": -10, "channels.pitch.travel": [100, 100]})
    assert finding.message == (
        "pitch is asked for -100 %, and its limit is -10 %: from throttle -25 on the stick does nothing more"
    )
    assert finding.primary.path == ("channels", "pitch", "low")
    assert finding.witness["flight"] == "idle-up-1"


@pytest.mark.parametrize(
    ("keys", "speaks"),
    [
        ({"high": 86.58}, False),
        ({"high": 86.57}, True),
        ({"travel": [150, 150]}, False),
        ({"travel": [150, 150], "sub-trim": 21}, True),  # 1.5 x 86.58 + 21 = 150.87
        ({"travel": [150, 150], "sub-trim": 20}, False),
        ({"travel": [150, 100], "sub-trim": -21, "reversed": True}, True),
        ({"travel": [100, 150], "sub-trim": -21, "reversed": True}, False),
    ],
)
def test_limits_travel_and_trim(keys: dict[str, Any], speaks: bool) -> None:
    assert bool(said(CLIPPED, {f"channels.roll.{key}": value for key, value in keys.items()})) == speaks


def test_only_what_can_be_reached_counts() -> None:
    """In the mode that would clip it, an override always decides; and a mode that no position flies clips nothing."""
    edit: dict[str, Any] = {"channels.roll.in.idle-up.mix": [{"from": "rudder", "rate": 80}]}
    assert len(said(CLIPPED, edit)) == 1
    locked = {"channel": "roll", "value": 0, "when": "mode is idle-up"}
    assert said(CLIPPED, {**edit, "overrides.locked": locked}) == []
    assert said(CLIPPED, {**edit, "modes.normal.when": "throttle >= -100"}) == []


def test_a_switch_or_a_number_alone_is_not_clipped() -> None:
    """No stick stops doing anything: the limit is what the pilot wrote."""
    assert said(CLIPPED, {"channels.attitude.low": -90}) == []
    assert said(CLIPPED, {"channels.tail-gain.high": 40}) == []


def test_the_corner_is_the_worst_there_is() -> None:
    """Thresholds keep the sticks from the corner: aileron beyond 50 flies a mode without the mix."""
    edit: dict[str, Any] = {
        "modes.normal.when": "flight is normal and aileron <= 50 and aileron >= -50",
        "channels.roll": {"drives": "aileron", "from": "aileron", "mix": [{"from": "rudder", "rate": 90}], "high": 120},
        "channels.roll.in.idle-up": {"mix": []},
    }
    (finding,) = said(CLIPPED, edit)
    assert "roll is asked for +140 %, and its limit is +120 %: at aileron +50, rudder +100" in finding.message
    assert linted({**edit, "channels.roll.high": 140}, only=[CLIPPED]).findings == ()


def test_a_curve_that_may_be_smoothed_beyond_the_limit() -> None:
    points = [[-100, -100], [-50, -95], [0, 0], [50, 95], [100, 100]]
    edit: dict[str, Any] = {
        "curves.feel": {"points": points, "smoothing": "unknown"},
        "channels.roll": {"drives": "aileron", "from": "aileron", "curve": "feel", "low": -101, "high": 101},
    }
    (finding,) = said(CLIPPED, edit)
    assert finding.assumed == ("feel is smoothed as natural",)
    edit["curves.feel"] = {"points": points, "smoothing": "monotone"}
    assert said(CLIPPED, edit) == []


def test_where_no_mode_is_on_no_mode_is_flown() -> None:
    """`mode-gap` says that the channel's own line is flown there; a stick that it leaves at one place is not dead."""
    edit = {
        "modes.normal.when": "throttle < 0 and flight is normal",
        "modes.idle-up.when": "throttle > 0 or flight is not normal",
    }
    assert said(DEAD, edit) == []
    assert [x.rule for x in linted(edit, only=["mode-gap"]).findings] == ["mode-gap"]


def test_a_line_that_hangs_on_too_much_is_not_decided() -> None:
    places = [f"p{n}" for n in range(12)]
    edit: dict[str, Any] = {f"switches.s{n}": {"kind": "selector", "positions": places} for n in range(4)}
    at = {place: 50 + n for n, place in enumerate(places)}
    terms = [{"from": "rudder", "rate": {"switch": f"s{n}", "at": at}} for n in range(1)]
    terms += [{"from": f"s{n}", "values": {place: n * 7 + k for k, place in enumerate(places)}} for n in (1, 2, 3)]
    edit["channels.roll.mix"] = terms
    (finding,) = said(CLIPPED, edit)
    assert finding.rule == "not-decided"
    assert finding.subject == "output-clipped roll"


def test_what_is_so_in_settled_states_is_not_said_to_last() -> None:
    """A toggle that catches a delay leads there, by moments; the stick does nothing more wherever it came from."""
    edit = {
        "conditions.again": {"when": "hold is on", "toggles": True, "after": 2},
        "overrides.held.when": "again",
        "overrides.rescue-power.when": "save is pulled and again",
        "channels.motor.rate": 110,
        "craft.rotor": "fixed",
    }
    (finding,) = said("output-clipped", edit, ("craft.hover-collective",))
    assert finding.timing is not None
    assert finding.message.endswith("the stick does nothing more")
