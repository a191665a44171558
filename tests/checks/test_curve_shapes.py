"""Curve rules at their limits: as flown, under every smoothing that may be, in the modes that are flown."""

from __future__ import annotations

from typing import Any

import pytest

import setuplint
from setuplint.findings import Edit, Finding
from tests.checks.linted import TEXT, said, unjudged
from tests.rules.edits import edited

DIP = [[-100, -100], [-50, 2], [0, 16], [50, 30], [100, 100]]
SHARP = [[-100, -100], [-50, -95], [0, 0], [50, 95], [100, 100]]
FIXED = ("craft.hover-collective", "channels.pitch", "curves.pitch-calm", "curves.pitch-wide", "failsafe.pitch")
V = [[-100, 100], [0, 45], [100, 100]]


def only(findings: list[Finding]) -> Finding:
    assert len(findings) == 1, [x.message for x in findings]
    return findings[0]


def feel(points: list[list[float]], smoothing: str, **channel: Any) -> dict[str, Any]:
    """A curve on the roll channel."""
    edit: dict[str, Any] = {"curves.feel": {"points": points, "smoothing": smoothing}, "channels.roll.curve": "feel"}
    return edit | {f"channels.roll.{key}": value for key, value in channel.items()}


# -- curve-not-monotonic


def test_a_dip_is_told_with_both_places_and_both_values() -> None:
    found = only(
        said("curve-not-monotonic", {"curves.pitch-calm.points": [[-100, -20], [40, 50], [70, 45], [100, 80]]})
    )
    assert found.subject == "pitch-calm"
    assert found.primary.path == ("curves", "pitch-calm", "points")
    assert "from +40 % to +70 %, pitch falls from +50 % to +45 %, by 5 points, by its points" in found.message
    assert [place.path for place in found.related] == [("channels", "pitch", "curve")]


def test_smoothing_alone_is_named_and_can_be_taken_away() -> None:
    edit = {"curves.hover-soft.points": DIP, "curves.hover-soft.smoothing": "natural"}
    found = only(said("curve-not-monotonic", edit))
    assert "only once it is smoothed (natural)" in found.message
    assert found.primary.path == ("curves", "hover-soft", "smoothing")
    assert found.edit == Edit(("curves", "hover-soft", "smoothing"), '"monotone"')


def test_unknown_smoothing_says_under_which_and_offers_no_edit() -> None:
    edit = {"curves.hover-soft.points": DIP, "curves.hover-soft.smoothing": "unknown"}
    found = only(said("curve-not-monotonic", edit))
    assert "under natural, which it may be" in found.message
    assert found.edit is None


@pytest.mark.parametrize(("rate", "speaks"), [(100, True), (41, True), (40, False)])
def test_only_what_the_rate_lets_the_stick_reach_counts(rate: int, speaks: bool) -> None:
    points = [[-100, -20], [40, 50], [70, 45], [100, 80]]
    edit = {"curves.pitch-calm.points": points, "channels.pitch.rate": rate}
    assert bool(said("curve-not-monotonic", edit)) is speaks


def test_a_rate_by_switch_counts_in_each_position() -> None:
    points = [[-100, -20], [40, 50], [70, 45], [100, 80]]
    rate = {"switch": "rates", "at": {"soft": 40, "full": 90}}
    assert said("curve-not-monotonic", {"curves.pitch-calm.points": points, "channels.pitch.rate": rate})


def test_a_falling_curve_may_not_rise() -> None:
    found = only(said("curve-not-monotonic", {"curves.pitch-calm.points": [[-100, 80], [0, -10], [50, 0], [100, -80]]}))
    assert "from the middle to +50 %, pitch rises from -10 % to 0 %" in found.message


def test_a_mode_that_is_never_flown_does_not_count() -> None:
    edit = {"curves.spool-flat.points": [[-100, 80], [-50, 45], [0, 55], [50, 45], [100, 80]]}
    never = {"modes.normal.when": "flight is normal or flight is not normal"}
    assert said("curve-not-monotonic", edit)
    assert not said("curve-not-monotonic", {**edit, **never})


@pytest.mark.parametrize(("mode", "speaks"), [("normal", True), ("idle-up", False)])
def test_a_v_belongs_in_idle_up(mode: str, speaks: bool) -> None:
    where = "channels.motor.curve" if mode == "normal" else "channels.motor.in.idle-up.curve"
    found = said("curve-not-monotonic", {"curves.vee": {"points": V}, where: "vee"})
    assert bool(found) is speaks
    if found:
        assert "+100 % (100 of 100) at low stick, and a V belongs in an idle-up mode" in found[0].message


def test_a_v_for_the_collective_is_wrong_in_every_mode() -> None:
    assert said("curve-not-monotonic", {"curves.pitch-wide.points": V})


def test_a_fixed_pitch_v_is_full_power_at_low_stick() -> None:
    found = only(said("curve-not-monotonic", {"craft.rotor": "fixed", "curves.spool-flat.points": V}, FIXED))
    assert "+100 % (100 of 100) at low stick, and on a fixed-pitch craft power alone is lift" in found.message


def test_a_reversed_motor_is_judged_by_what_it_gets() -> None:
    """The V that belongs in idle-up stands on its head in the table."""
    motor = {"number": 2, "drives": "motor", "from": "throttle", "reversed": True, "curve": "falling"}
    edit = {
        "curves.falling": {"points": [[-100, 100], [100, -100]]},
        "curves.spool-flat.points": [[x, -y] for x, y in V],
        "channels.motor": {**motor, "in": {"idle-up": {"curve": "spool-flat"}}},
    }
    assert said("curve-not-monotonic", edit) == []
    found = only(said("curve-not-monotonic", {**edit, "curves.spool-flat.points": V}))
    assert "motor falls from -45 % (27.5 of 100) to -100 % (0 of 100), by 55 points" in found.message
    assert "a V belongs" not in found.message


def test_a_turn_that_a_limit_hides_is_none() -> None:
    edit = {"curves.pitch-calm.points": [[-100, -20], [0, 30], [70, 90], [100, 85]], "channels.pitch.high": 85}
    assert said("curve-not-monotonic", edit) == []
    found = only(said("curve-not-monotonic", {**edit, "channels.pitch.high": 86}))
    assert "from +70 % to +100 %, pitch falls from +86 % to +85 %, by 1 point," in found.message


def test_a_knob_in_the_line_may_let_a_turn_through() -> None:
    edit = {
        "knobs.lower": {}, "curves.pitch-calm.points": [[-100, -20], [0, 30], [70, 90], [100, 85]],
        "channels.pitch": {
            "number": 6, "drives": "collective", "from": "throttle", "curve": "pitch-calm", "high": 80,
            "in": {"idle-up": {"curve": "pitch-wide"}}, "mix": [{"from": "lower", "rate": 8}],
        },
    }  # fmt: skip
    found = only(said("curve-not-monotonic", edit))
    assert "pitch falls from +80 % to +77 % with -8 from the rest of its line, by 3 points" in found.message
    edit["channels.pitch"]["mix"] = [{"from": "lower", "rate": 5}]
    assert said("curve-not-monotonic", edit) == []


# -- curve-overshoot


@pytest.mark.parametrize(("height", "speaks"), [(84, False), (85, True)])
def test_past_full_travel_there_is_no_allowance(height: int, speaks: bool) -> None:
    """Natural smoothing takes the one to +99.69 and the other to +100.006, each less than two points past its points."""
    points = [[-100, -99.5], [-50, -height], [0, 0], [50, height], [100, 99.5]]
    found = said("curve-overshoot", feel(points, "natural", rate=100, expo=0))
    assert bool(found) is speaks
    if found:
        assert "past +100 %" in found[0].message or "past -100 %" in found[0].message


def test_the_overshoot_must_be_within_reach_of_the_stick() -> None:
    assert said("curve-overshoot", feel(SHARP, "natural"))
    assert not said("curve-overshoot", feel(SHARP, "natural", rate=50, expo=0))


def test_points_beyond_full_travel_are_no_overshoot() -> None:
    assert not said("curve-overshoot", feel([[-100, -120], [0, 0], [100, 120]], "natural"))


def test_unknown_overshoot_is_conditional() -> None:
    found = only(said("curve-overshoot", feel(SHARP, "unknown")))
    assert "if it is smoothed as natural" in found.message
    assert found.edit is None


STOP = {
    "curves.hover-soft.points": [[-100, -100], [-60, -92], [-40, -92], [0, 16], [50, 46], [100, 100]],
    "curves.hover-soft.smoothing": "cardinal",
}


def test_a_stop_between_two_points_that_run_the_motor() -> None:
    found = only(said("curve-overshoot", STOP))
    assert "stops the motor between two points that run it" in found.message
    assert "motor-off is -95 % (2.5 of 100)" in found.message


def test_travel_decides_what_stops() -> None:
    """At half travel the same dip to -97.1 is -48.6: it runs."""
    assert not said("curve-overshoot", {**STOP, "channels.motor.travel": [50, 100]})
    assert unjudged("curve-overshoot", STOP, ("craft.motor-off",)) == ["craft.motor-off is not given"]


# -- curve-short-of-full


def short(points: list[list[float]], **channel: Any) -> list[Finding]:
    edit: dict[str, Any] = {"craft.rotor": "fixed", "curves.hover-soft.points": points}
    edit |= {f"channels.motor.{key}": value for key, value in channel.items()}
    return said("curve-short-of-full", edit, FIXED)


def test_both_ends_are_told_in_one_finding() -> None:
    found = only(short([[-100, -90], [0, 16], [100, 80]]))
    assert "starts at -90 % (5 of 100) at low stick" in found.message
    assert "ends at +80 % (90 of 100) at full stick" in found.message


def test_travel_that_makes_up_for_it_counts_and_travel_that_cuts_does_not() -> None:
    assert not short([[-100, -100], [0, 16], [100, 80]], travel=[100, 115])
    assert not short([[-100, -90], [0, 16], [100, 100]], travel=[110, 100])
    assert not short([[-100, -100], [0, 16], [100, 100]], travel=[100, 70])


def test_a_channel_the_other_way_round_is_judged_by_what_it_gives() -> None:
    assert not short([[-100, 100], [0, -16], [100, -100]], reversed=True)
    assert not short([[-100, 100], [0, -16], [100, -100]], reversed=True, travel=[100, 70])
    assert short([[-100, 100], [0, -16], [100, -80]], reversed=True)


def test_a_rate_cuts_the_ends_too() -> None:
    found = only(short([[-100, -100], [0, 16], [100, 100]], rate=80))
    assert found.subject == "hover-soft"


def test_a_hold_mode_may_be_flat() -> None:
    """With hold called nothing is flown: its curve is to stand still."""
    edit: dict[str, Any] = {
        "craft.rotor": "fixed",
        "modes.normal.when": "flight is normal and hold is off",
        "modes.idle-up.when": "hold is off",
        "modes.held": {"voice": "held"},
        "curves.none": {"points": [[-100, -100], [100, -100]]},
        "channels.motor.in.held": {"curve": "none"},
    }
    assert not said("curve-short-of-full", edit, FIXED)


# -- order, names, what is known, and the stick that chooses the mode

CUT = [[-100, -100], [-50, -14], [0, 16], [50, 46], [100, 70]]
FLAT = {"craft.rotor": "fixed", "curves.spool-flat.points": [[-100, 40], [100, 40]]}
KNOB, STICK = {"from": "fine", "rate": 2}, {"from": "throttle", "curve": "hover-soft"}


def flown_short(edit: dict[str, Any], *remove: str) -> list[Finding]:
    return said("curve-short-of-full", {**FLAT, **edit}, (*FIXED, *remove))


@pytest.mark.parametrize(("first", "second"), [(KNOB, STICK), (STICK, KNOB), ({"from": 0}, STICK)])
@pytest.mark.parametrize("cut", [True, False])
def test_the_throttle_is_looked_at_wherever_it_stands_in_the_line(
    first: dict[str, Any], second: dict[str, Any], cut: bool
) -> None:
    motor = {"number": 2, "drives": "motor", **first, "mix": [second]}
    edit = {"knobs.fine": {}, "channels.motor": motor} | ({"curves.hover-soft.points": CUT} if cut else {})
    assert [x.subject for x in flown_short(edit)] == (["hover-soft"] if cut else [])


def test_a_curve_and_a_channel_of_one_name_are_two() -> None:
    edit: dict[str, Any] = {"curves.motor": {"points": CUT}, "channels.motor.rate": 85}
    edit |= {"channels.motor.curve": "straight", "modes.idle-up.aerobatic": False}
    edit["channels.motor.in.idle-up"] = {"curve": "motor", "rate": 100}
    assert {x.primary.path for x in flown_short(edit)} == {
        ("channels", "motor", "rate"),
        ("curves", "motor", "points"),
    }


def test_a_start_at_which_a_motor_surely_runs_needs_no_motor_off() -> None:
    def starts(y: int) -> dict[str, Any]:
        return {"curves.hover-soft.points": [[-100, y], [0, 60], [100, 100]]}

    assert "where a motor surely runs" in only(flown_short(starts(17), "craft.motor-off")).message
    for y, because in ((16, ["craft.motor-off is not given"]), (-99, ["craft.motor-off is not given"]), (-100, [])):
        edit = {**FLAT, **starts(y), "craft.hover-throttle": 16}
        assert unjudged("curve-short-of-full", edit, (*FIXED, "craft.motor-off")) == because


def test_a_dip_to_full_stop_needs_no_motor_off() -> None:
    edit = {**STOP, "craft.hover-throttle": -80, "channels.motor.travel": [150, 100]}
    edit["curves.hover-soft.points"] = [[-100, 90], [-33, -50], [33, -50], [100, 90]]
    assert "stops the motor between two points" in only(said("curve-overshoot", edit, ("craft.motor-off",))).message


def test_a_rate_that_cuts_a_whole_curve_is_made_whole() -> None:
    (found,) = flown_short({"channels.motor.rate": 80})
    assert found.edit == Edit(("channels", "motor", "rate"), "100")
    assert found.primary.path == ("channels", "motor", "rate")
    (found,) = flown_short({"channels.motor.rate": 80, "curves.hover-soft.points": CUT})
    assert found.edit is None, "neither is enough"


@pytest.mark.parametrize(("border", "speaks"), [(0, False), (-1, True)])
def test_what_no_state_flies_of_a_curve_does_not_turn_back(border: int, speaks: bool) -> None:
    """The half below is another mode's."""
    text = TEXT.replace(
        "[modes.normal] ", f'[modes.low]\nwhen = "flight is normal and throttle < {border}"\n[modes.normal] ', 1
    )
    curve = {
        "curves.upper": {"points": [[-100, 50], [0, 30], [100, 80]]},
        "channels.pitch.in.normal": {"curve": "upper"},
    }
    found = setuplint.lint_text(edited(text, curve), "reference.toml", only=["curve-not-monotonic"]).findings
    assert [x.subject for x in found] == (["upper"] if speaks else [])
