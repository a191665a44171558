"""The hover rules: slopes as flown, where the hover is, what is said and shown, and the softer curve that is offered."""

from __future__ import annotations

import tomllib
from fractions import Fraction
from typing import Any

import numpy
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import CubicSpline, PchipInterpolator

import setuplint
from setuplint.curves.flown import Flown
from setuplint.curves.shape import Shape
from setuplint.findings import Finding
from setuplint.setup.model import Channel, Line
from tests.checks.linted import TEXT, linted, said, unjudged
from tests.rules.edits import edited

F = Fraction
SHARP, FLAT, OFF, STEEP = "hover-too-sharp", "curve-flat-at-hover", "hover-off-centre", "curve-steep-outside"
CALM = "curves.pitch-calm.points"
FIXED = ("craft.hover-collective", "channels.pitch", "curves.pitch-calm", "curves.pitch-wide", "failsafe.pitch")
STRAIGHT: dict[str, Any] = {
    "craft.rotor": "fixed",
    "curves.hover-soft": {"points": [[-100, -100], [0, 16], [100, 100]]},
}


def rules(edit: dict[str, Any], remove: tuple[str, ...] = ()) -> set[str]:
    return {x.rule for x in linted(edit, remove, only=[SHARP, FLAT, OFF, STEEP]).findings}


# -- slopes as flown, against scipy


def channel(**keys: Any) -> Channel:
    return Channel("lift", None, "collective", Line(None), {}, **keys)


points = st.lists(st.integers(-90, 90), min_size=3, max_size=6).map(
    lambda ys: tuple((F(-100) + F(200 * n, len(ys) - 1), F(y)) for n, y in enumerate(ys))
)


@settings(max_examples=60)
@given(
    points,
    st.sampled_from(("monotone", "natural")),
    st.sampled_from((40, 100, 130)),
    st.booleans(),
    st.integers(50, 150),
    st.integers(50, 150),
    st.integers(-20, 20),
    st.integers(40, 150),
)
def test_slopes_of_an_output(
    at: tuple[tuple[Fraction, Fraction], ...],
    kind: str,
    rate: int,
    turned: bool,
    down: int,
    up: int,
    trim: int,
    high: int,
) -> None:
    """Rate, smoothing, reversal, travel and limits together: scipy's curve put through them by hand, and differences."""
    where = channel(reversed=turned, down=F(down), up=F(up), sub_trim=F(trim), high=F(high))
    flown = Flown(where, F(0), Shape.of(at, kind, F(rate), F(0)))
    x, y = (numpy.array([float(p[i]) for p in at]) for i in (0, 1))
    smooth = PchipInterpolator(x, y) if kind == "monotone" else CubicSpline(x, y, bc_type="natural")
    fine = numpy.linspace(-30, 70, 4001)
    demand = smooth(numpy.clip(fine * rate / 100, -100, 100)) * (-1 if turned else 1)
    put_out = numpy.clip(numpy.where(demand < 0, demand * down / 100, demand * up / 100) + trim, -150, high)
    slopes = abs(numpy.diff(put_out) / numpy.diff(fine))
    (_, least), (_, greatest) = flown.slopes(F(-30), F(70))
    assert slopes.max() <= float(greatest) + 1e-6
    assert slopes.min() >= float(least) - 1e-6
    near = 0.02 * (1 + abs(slopes).max())
    assert slopes.max() >= float(greatest) - near
    assert slopes.min() <= float(least) + near
    for place in (-30, 0, 13, 70):
        assert float(flown.output(F(place))) == pytest.approx(numpy.interp(place, fine, put_out), abs=1e-3)


@pytest.mark.parametrize(
    ("value", "at"), [(30, 0), (55, 50), (-20, -100), (80, 100), (81, None), (-21, None), (30 + F(1, 3), F(2, 3))]
)
def test_where_the_stick_gives_an_output(value: Fraction, at: Fraction | None) -> None:
    curve = ((F(-100), F(-20)), (F(0), F(30)), (F(100), F(80)))
    found = Flown(channel(), F(0), Shape.of(curve, "none", F(100), F(0))).stick_for(F(value))
    assert (found is None) == (at is None)
    assert found is None or at is None or abs(found - F(at)) < F(1, 10**9)


def test_of_several_places_the_one_nearest_to_the_middle() -> None:
    curve = ((F(-100), F(0)), (F(-60), F(30)), (F(-20), F(30)), (F(50), F(-10)), (F(100), F(40)))
    flown = Flown(channel(), F(0), Shape.of(curve, "none", F(100), F(0)))
    assert flown.stick_for(F(30)) == -20
    assert Flown(channel(high=F(20)), F(0), flown.shape).stick_for(F(25)) is None


# -- the limits


@pytest.mark.parametrize(
    ("at", "found"),
    [
        ([[-100, -100], [0, 30], [100, 80]], {SHARP}),
        ([[-100, -70], [0, 30], [100, 80]], set()),
        ([[-100, -70.1], [0, 30], [100, 80]], {SHARP}),
        ([[-100, -20], [-20, 10], [0, 30], [100, 80]], set()),
        ([[-100, -20], [-20, 9.9], [0, 30], [100, 80]], {SHARP}),
        ([[-100, -20], [-21, 8], [-20, 12], [0, 30], [100, 80]], {STEEP}),
        ([[-100, -20], [-20, 8], [-19, 12], [0, 30], [100, 80]], {SHARP, STEEP}),
        ([[-100, -20], [0, 30], [10, 32], [100, 80]], set()),
        ([[-100, -20], [0, 30], [10, 31.9], [100, 80]], {FLAT}),
        ([[-100, -20], [0, 30], [9, 32], [10, 32.1], [100, 80]], {FLAT}),
        ([[-100, -20], [-30, 30], [100, 95]], set()),
        ([[-100, -20], [-30.1, 30], [100, 95]], {OFF}),
    ],
)
def test_limits(at: list[list[float]], found: set[str]) -> None:
    assert rules({CALM: at}) == found


def test_the_channel_s_own_settings_count() -> None:
    assert rules({CALM: [[-100, -70], [0, 30], [100, 80]], "channels.pitch.travel": [101, 100]}) == set()
    wider = {"channels.pitch.travel": [101, 101], "craft.hover-collective": 30.3}
    assert rules({CALM: [[-100, -70], [0, 30], [100, 80]], **wider}) == {SHARP}
    mixed = {"channels.pitch.mix": [{"from": 40}], "craft.hover-collective": 30}
    assert rules(mixed) == set(), "the other terms shift the hover to -80 of the stick, out of reach"
    assert rules({**mixed, "craft.hover-collective": 50}) == {OFF}, "to -40"
    assert rules({"channels.pitch.reversed": True, "craft.hover-collective": -30}) == set()
    assert rules({"channels.pitch.reversed": True, "craft.hover-collective": -30, CALM: STEEPER}) == {SHARP}


STEEPER = [[-100, -80], [0, 30], [100, 80]]


def test_expo_and_rates_by_switch() -> None:
    """Expo -50 makes 1.5 x 0.5 of the middle; a rate of 220 % cannot be had, of 150 % makes 0.75."""
    assert rules({"channels.pitch.expo": -50}) == set()
    double = [[-100, -70], [0, 30], [100, 130]]
    assert rules({CALM: double, "channels.pitch.expo": -10}) == {SHARP}
    by_switch = {"switch": "rates", "at": {"soft": 100, "full": 101}}
    (finding,) = said(SHARP, {CALM: double, "channels.pitch.rate": by_switch})
    assert finding.witness["rates"] == "full"
    assert "by 1.01 points a point of stick" in finding.message


@pytest.mark.parametrize(
    ("kind", "speaks"), [("none", False), ("monotone", True), ("natural", True), ("unknown", True)]
)
def test_each_smoothing_for_itself(kind: str, speaks: bool) -> None:
    edit = {CALM: [[-100, -30], [-50, -15], [0, 30], [50, 75], [100, 90]], "curves.pitch-calm.smoothing": kind}
    found = said(SHARP, edit)
    assert bool(found) == speaks
    assert [", if it is smoothed as natural," in x.message for x in found] == [kind == "unknown"] * speaks


def test_turning_back_is_said_once_elsewhere() -> None:
    edit = {CALM: [[-100, -20], [-5, 31], [0, 30], [5, 29], [100, 80]]}
    assert rules(edit) == set()
    assert [x.rule for x in linted(edit).findings] == ["curve-not-monotonic"]


# -- which curves


def test_a_fixed_pitch_craft_is_carried_by_its_motor() -> None:
    assert rules(STRAIGHT, FIXED) == {SHARP}
    assert rules({**STRAIGHT, "craft.rotor": "collective"}, ()) == set(), "there the motor's curve is not the subject"


def test_aerobatic_modes_are_left_alone_and_others_are_not() -> None:
    edit: dict[str, Any] = {"curves.pitch-wide.points": [[-100, -100], [0, 30], [100, 100]]}
    assert rules(edit) == set()
    assert rules({**edit, "modes.idle-up.aerobatic": False}) == {SHARP}
    assert rules({**edit, "modes.idle-up.aerobatic": False, "overrides.stuck": STUCK}) == set()


STUCK = {"channel": "pitch", "value": 30, "when": "mode is idle-up", "priority": 5}


def test_what_is_not_given_is_not_judged() -> None:
    for rule in (SHARP, FLAT, OFF):
        assert unjudged(rule, {}, ("craft.hover-collective",)) == ["craft.hover-collective is not given"]
        assert unjudged(rule, {"craft.hover-collective": 95}) == [], "hover-out-of-reach says so"
    assert unjudged(STEEP, {}, ("craft.hover-collective",)) == []
    assert unjudged(STEEP, {}, ("channels.pitch", "curves.pitch-calm", "curves.pitch-wide", "failsafe.pitch")) == [
        "no channel that drives the collective is described"
    ]
    assert unjudged(SHARP, {"channels.pitch.from": "thrttle"}) == ["channels.pitch cannot be read"]


# -- what is said


def test_message_witness_and_place() -> None:
    (finding,) = said(SHARP, STRAIGHT, FIXED)
    assert finding.message == (
        "curve hover-soft moves motor by 1.16 points a point of stick near the hover: from throttle -2 to 0 motor goes "
        "from +13.68 % (56.84 of 100) to +16 % (58 of 100); the hover (+16 % (58 of 100)) is at throttle 0, and a straight "
        "line moves it by 1"
    )
    assert (finding.subject, finding.primary.path) == ("hover-soft", ("curves", "hover-soft", "points"))
    assert finding.related[0].path == ("channels", "motor", "curve")
    assert finding.witness["throttle"] == 0
    assert finding.outputs == {"motor": 16}
    (finding,) = said(OFF, {CALM: [[-100, -20], [-30.1, 30], [100, 95]]})
    assert finding.message == "curve pitch-calm hovers (+30 %) only at throttle -30.1, more than 30 from the middle"
    assert finding.witness["throttle"] == -30.1
    (finding,) = said(STEEP, {CALM: [[-100, -50], [0, 30], [85, 52], [100, 100]]})
    assert finding.message == (
        "curve pitch-calm moves pitch by 3.2 points a point of stick: from throttle +85 to +87 pitch goes from +52 % to "
        "+58.4 %; 3 is steep"
    )


def test_the_channel_is_the_subject_where_there_is_no_curve() -> None:
    (finding,) = said(SHARP, {"channels.pitch.travel": [100, 110]}, ("channels.pitch.curve", "curves.pitch-calm"))
    assert (finding.subject, finding.primary.path, finding.edit) == ("pitch", ("channels", "pitch"), None)


# -- the softer curve


def softer(finding: Finding) -> list[list[float]]:
    assert finding.edit is not None
    assert finding.edit.path == finding.primary.path
    found: list[list[float]] = tomllib.loads(f"points = {finding.edit.value}")["points"]
    return found


def test_the_remedy_is_practice_s_curve() -> None:
    (finding,) = said(SHARP, STRAIGHT, FIXED)
    assert softer(finding) == [[-100, -100], [-50, -14], [0, 16], [50, 46], [100, 100]]
    assert softer(finding) == [list(pair) for pair in setuplint.soften(16, 0.6)]


def test_ends_are_kept_and_the_servo_s_settings_reckoned_with() -> None:
    edit = {CALM: [[-100, -120], [0, 30], [100, 80]], "channels.pitch.travel": [100, 80], "channels.pitch.sub-trim": 2}
    (finding,) = said(SHARP, {**edit, "craft.hover-collective": 26})
    assert softer(finding) == [[-100, -120], [-50, 0], [0, 30], [50, 60], [100, 80]], "(26 - 2) / 0.8 = 30"


def test_no_edit_where_it_would_do_harm() -> None:
    (finding,) = said(SHARP, {**STRAIGHT, "channels.roll.curve": "hover-soft"}, FIXED)
    assert finding.edit is None, "roll uses the curve too"
    foot: dict[str, Any] = {
        "craft.rotor": "fixed",
        "sticks.throttle.trim": 8,
        "curves.hover-soft": {"points": [[-100, -100], [-90, -100], [0, 16], [100, 100]]},
    }
    (finding,) = said(SHARP, foot, FIXED)
    assert finding.edit is None, "the flat foot keeps the trim off the motor"
    high = {"craft.hover-throttle": 92, "curves.hover-soft": {"points": [[-100, -100], [0, 92], [100, 100]]}}
    (finding,) = said(SHARP, {"craft.rotor": "fixed", **high}, FIXED)
    assert finding.edit is None, "no soft curve goes from +92 to +100 and up from -100"


@pytest.mark.slow
@settings(max_examples=25)
@given(
    st.integers(-40, 60),
    st.integers(-40, 40),
    st.sampled_from(("none", "monotone", "cardinal", "natural", "unknown")),
    st.sampled_from((None, (90, 110), (60, 60))),
)
def test_after_the_edit_nothing_speaks(hover: int, at: int, kind: str, travel: tuple[int, int] | None) -> None:
    """Whatever the hover rules offer, none of them speaks afterwards, no curve rule does, and nothing is offered again."""
    edit: dict[str, Any] = {
        "craft.hover-collective": hover,
        "curves.pitch-calm": {"points": [[-100, -90], [at, hover], [100, 95]], "smoothing": kind},
    }
    if travel is not None:
        edit["channels.pitch.travel"] = list(travel)
    for finding in linted(edit, only=[SHARP, FLAT, OFF]).findings:
        if finding.edit is not None:
            mended = edited(edited(TEXT, edit), {CALM: softer(finding)})
            report = setuplint.lint_text(mended)
            curves = [x.rule for x in report.findings if "curve" in x.rule or "hover" in x.rule]
            assert curves == [], finding.edit.value
