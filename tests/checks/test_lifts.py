"""What flies a craft: by which stick, the pupil's too, over which of its travel, whatever limits it, in the order of no terms."""

from __future__ import annotations

from typing import Any

import pytest

import setuplint
from setuplint.findings import Finding
from tests.checks.linted import TEXT
from tests.rules.edits import edited

SHARP, STEEP, LAGS, REACH = "hover-too-sharp", "curve-steep-outside", "motor-lags", "hover-out-of-reach"
CALM = "curves.pitch-calm.points"
STEEPEST = [[-100, -20], [-10, 0], [0, 30], [10, 60], [100, 80]]
FIXED = ("craft.hover-collective", "channels.pitch", "curves.pitch-calm", "curves.pitch-wide", "failsafe.pitch")
SLOW: dict[str, Any] = {
    "craft.rotor": "fixed",
    "curves.spool-flat.points": [[-100, 40], [100, 40]],
    "channels.motor.ramp-up": 3,
}
MODES = "[modes.normal] "


def of(
    *rules: str, edit: dict[str, Any], remove: tuple[str, ...] = (), mode: str = "", more: str = ""
) -> list[Finding]:
    """What the rules say of the reference setup, with a mode in front of its modes, and more at its end."""
    text = edited(TEXT.replace(MODES, f"{mode}\n{MODES}", 1) + more, edit, remove)
    return list(setuplint.lint_text(text, "reference.toml", only=rules).findings)


def bound(channel: str, **keys: int) -> dict[str, Any]:
    limits = {key.replace("_", "-"): value for key, value in keys.items()}
    return {"overrides.bound": {"channel": channel, **limits, "when": "hold is off"}}


# -- an override that limits the line lets it go on


def test_a_limit_in_flight_hides_no_hover() -> None:
    assert of(REACH, edit=bound("pitch", at_most=85)) == []
    assert of(REACH, edit=bound("motor", at_most=90)) == []
    (found,) = of(REACH, edit=bound("pitch", at_most=20))
    assert "+20 %" in found.message


@pytest.mark.parametrize(
    ("rule", "edit", "remove", "channel"),
    [
        (SHARP, {CALM: STEEPEST}, (), "pitch"),
        (STEEP, {CALM: [[-100, -20], [0, 30], [70, 50], [80, 85], [100, 90]]}, (), "pitch"),
        (LAGS, SLOW, FIXED, "motor"),
    ],
)
def test_a_limit_in_flight_changes_no_rule_of_the_line(
    rule: str, edit: dict[str, Any], remove: tuple[str, ...], channel: str
) -> None:
    plain = [x.message for x in of(rule, edit=edit, remove=remove)]
    assert [x.message for x in of(rule, edit={**edit, **bound(channel, at_most=85)}, remove=remove)] == plain != []


def test_a_motor_that_is_held_short_of_the_hover_does_not_lag() -> None:
    assert of(LAGS, edit={**SLOW, **bound("motor", at_most=20)}, remove=FIXED) == []


# -- the stick that flies it


@pytest.mark.parametrize("knob_first", [True, False])
def test_the_order_of_terms_means_nothing(knob_first: bool) -> None:
    knob, stick = {"from": "fine", "rate": 2}, {"from": "throttle", "curve": "pitch-calm"}
    first, second = (knob, stick) if knob_first else (stick, knob)
    line = {"number": 6, "drives": "collective", **first, "mix": [second]}
    edit = {"knobs.fine": {}, "channels.pitch": {**line, "in": {"idle-up": {"mix": []}}}, CALM: STEEPEST}
    (found,) = of(SHARP, edit=edit)
    assert found.subject == "pitch-calm"
    assert "from throttle -1 to +1 pitch goes from +27 % to +33 %" in found.message


@pytest.mark.parametrize("knob_first", [True, False])
def test_a_knob_before_the_throttle_hides_no_slow_motor(knob_first: bool) -> None:
    knob, stick = {"from": "fine", "rate": 2}, {"from": "throttle", "curve": "hover-soft"}
    first, second = (knob, stick) if knob_first else (stick, knob)
    edit = {**SLOW, "knobs.fine": {}, "channels.motor": {"drives": "motor", "ramp-up": 3, **first, "mix": [second]}}
    assert [x.subject for x in of(LAGS, edit=edit, remove=FIXED)] == ["motor"]


def test_a_knob_that_chooses_the_mode_is_where_it_does() -> None:
    """At rest it would fly another mode."""
    mode = '[modes.tuned]\nwhen = "flight is normal and fine > 20"\nvoice = "tuned"'
    edit: dict[str, Any] = {"knobs.fine": {}, "curves.steep": {"points": STEEPEST}}
    edit["channels.pitch.in.tuned"] = {"curve": "steep", "mix": [{"from": "fine", "rate": 10}]}
    (found,) = of(SHARP, edit=edit, mode=mode)
    assert found.subject == "steep"
    assert found.witness["fine"] == 21


# -- the pupil


LENT = '\n[trainer]\nlent = "lend is pulled"\nsticks = ["throttle"]\n'
SCHOOL = '[switches.lend]\nkind = "momentary"\n[modes.school]\nwhen = "lend is pulled"\nvoice = "school"'


def test_a_mode_that_the_pupil_alone_flies_is_looked_at() -> None:
    edit = {"curves.steep": {"points": STEEPEST}, "channels.pitch.in.school": {"curve": "steep"}}
    (found,) = of(SHARP, edit=edit, mode=SCHOOL, more=LENT)
    assert found.subject == "steep"
    assert found.witness["throttle (pupil)"] == 0
    edit = {key: value for key, value in SLOW.items() if key != "channels.motor.ramp-up"}
    edit["channels.motor.in.school"] = {"ramp-up": 3}
    (found,) = of(LAGS, edit=edit, remove=FIXED, mode=SCHOOL, more=LENT)
    assert found.subject == "motor school"
    assert "throttle (pupil)" in found.witness


# -- modes chosen by the stick


LOW = '[modes.low]\nwhen = "flight is normal and throttle < 0"\nvoice = "low"'


@pytest.mark.parametrize(
    ("points", "found"),
    [
        ([[-100, -100], [-80, -90], [-70, -40], [0, 30], [60, 55], [70, 90], [100, 95]], {STEEP: "from throttle +60"}),
        ([[-100, -100], [-20, -20], [-10, 14], [0, 30], [20, 54], [100, 95]], {SHARP: "from throttle 0 to +2"}),
        ([[-100, -100], [-80, -90], [-70, -40], [0, 30], [100, 95]], {}),
    ],
)
def test_what_the_mode_does_not_fly_does_not_count(points: list[list[int]], found: dict[str, str]) -> None:
    edit = {"curves.upper": {"points": points}, "channels.pitch.in.normal": {"curve": "upper"}}
    said = of(SHARP, STEEP, edit=edit, mode=LOW)
    assert {x.rule for x in said} == set(found)
    assert all(found[x.rule] in x.message for x in said)


@pytest.mark.parametrize("border", [0, 30])
@pytest.mark.parametrize(("slow", "lags"), [("normal", ["motor normal"]), ("low", [])])
def test_a_motor_that_goes_into_a_slow_mode_lags(slow: str, lags: list[str], border: int) -> None:
    """At the border of 30 the other mode gives no more than 10 over the hover, and the slow one no less."""
    edit = {key: value for key, value in SLOW.items() if key != "channels.motor.ramp-up"}
    edit |= {
        "curves.lower": {"points": [[-100, -100], [0, 16], [100, 20]]},
        "channels.motor.in.low": {"curve": "lower"},
    }
    edit[f"channels.motor.in.{slow}.ramp-up"] = 3
    mode = LOW.replace("throttle < 0", f"throttle < {border}")
    assert [x.subject for x in of(LAGS, edit=edit, remove=FIXED, mode=mode)] == lags


# -- controls


BANKED = '[modes.banked]\nwhen = "flight is normal and aileron < 0"\nvoice = "banked"'
CLIPPED, SLOWLY, DEAD, HALF = "output-clipped", "control-slow", "rate-dead", "control-lopsided"


def test_a_rate_that_one_half_of_the_stick_flies_is_clipped() -> None:
    (found,) = of(CLIPPED, edit={"channels.roll.in.banked": {"rate": 130}}, mode=BANKED)
    assert found.outputs == {"roll": -100}
    assert found.witness["aileron"] == -100


def test_a_control_that_goes_into_a_slow_mode_is_slow() -> None:
    (found,) = of(SLOWLY, edit={"channels.pitch.in.normal": {"ramp-up": 2}}, mode=LOW)
    assert "takes 1 s from one end" in found.message
    lower = {
        "curves.lower": {"points": [[-100, -100], [0, -60], [100, 80]]},
        "channels.pitch.in.low": {"curve": "lower"},
    }
    (found,) = of(SLOWLY, edit={"channels.pitch.in.normal": {"ramp-up": 2}, **lower}, mode=LOW)
    assert "takes 1.8 s from one end" in found.message, "from -100, where the other mode puts it"
    assert of(SLOWLY, edit={"channels.pitch.in.low": {"ramp-up": 2}}, mode=LOW) == []


def test_half_of_a_travel_is_another_mode_s_to_fly() -> None:
    edit = {"curves.left": {"points": [[-100, -100], [0, 0], [100, 10]]}, "channels.roll.in.banked": {"curve": "left"}}
    assert of(HALF, edit=edit, mode=BANKED) == []
    assert [x.subject for x in of(HALF, edit=edit, mode=BANKED.replace("aileron < 0", "rates is full"))] == ["roll"]


@pytest.mark.parametrize(
    ("rule", "edit", "speaks"),
    [
        (DEAD, {"channels.roll.rate": 0, **bound("roll", at_most=85)}, True),
        (DEAD, {**bound("roll", at_most=10, at_least=10)}, False),
        (CLIPPED, {"channels.roll.rate": 130, **bound("roll", at_most=85)}, True),
        (CLIPPED, {"channels.roll.high": 60, **bound("roll", at_least=-85)}, True),
        (CLIPPED, {"channels.roll.high": 60, **bound("roll", at_most=60)}, False),
    ],
)
def test_a_line_goes_on_under_a_limit_everywhere(rule: str, edit: dict[str, Any], speaks: bool) -> None:
    edit = {**edit, "overrides.bound": {**edit["overrides.bound"], "when": "hold is off or hold is on"}}
    assert [x.subject for x in of(rule, edit=edit)] == (["roll"] if speaks else [])


def test_an_override_is_not_the_channel_of_its_name() -> None:
    edit: dict[str, Any] = {
        "channels.nose": {"number": 3, "drives": "elevator", "from": "elevator"},
        "channels.roll.rate": 0,
    }
    edit |= {"failsafe.nose": 0, "overrides.roll": {"channel": "nose", "value": 0, "when": "rates is full"}}
    assert {(x.rule, x.subject) for x in of("control-dead", DEAD, edit=edit)} == {
        ("control-dead", "override roll"),
        (DEAD, "roll"),
    }
