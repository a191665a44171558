"""Whatever a pilot answers, the setup lints silently; what is not known is left out, and nothing else is wrong with it."""

from __future__ import annotations

from fractions import Fraction

import pytest

import setuplint
from setuplint.interview import functions
from setuplint.interview.course import CourseNames, course, setup_text
from setuplint.interview.data import interview
from tests.interview.random_replies import random_replies

PILOTS = range(40)


def lint(seed: int, unknown: float = 0) -> tuple[setuplint.Report, str]:
    found = course(random_replies(seed, unknown), asking=False)
    assert [step.complaint for step in found.steps if step.complaint] == []
    text = setup_text(found)
    return setuplint.lint_text(text), text


@pytest.mark.quick(4)
@pytest.mark.parametrize("seed", PILOTS)
def test_all_is_known_and_nothing_is_found_or_left_open(seed: int) -> None:
    report, text = lint(seed)
    assert [f.message for f in report.findings] == [], text
    assert report.not_judged == (), text


@pytest.mark.quick(6)
@pytest.mark.parametrize("seed", PILOTS)
def test_some_is_not_known_and_only_that_is_said(seed: int) -> None:
    """An alarm without a timer on LiFePO4, and telemetry without the link, are the pilot's own."""
    report, text = lint(seed, unknown=0.3)
    own = {"dangers-not-judged", "link-alarm-missing", "voltage-warns-late", "voltage-alarm-missing"}
    assert [(f.rule, f.message) for f in report.findings if f.rule not in own] == [], text


LIFE = {
    "rotor": "fixed", "soft_start": "yes", "motor_off": "-95", "hover_throttle": "10", "throttle_trim": "0",
    "chemistry": "life", "cells": "4", "capacity_mah": "1800", "hover_current_a": "25", "resistance_mohm": "20",
    "stabilised": "yes", "rescue_sides": "both", "lift": "unit", "level": "100", "level_normal": "-100",
}  # fmt: skip


def test_a_voltage_that_cannot_warn_gives_way_to_the_charge_used() -> None:
    """LiFePO4 is so flat that what is in time for a small pack is far from empty; a sensor of it is then not asked for."""
    asked = {step.key: step for step in course(LIFE | {"used_sensor": "yes", "link_sensor": "yes"}, asking=False).steps}
    assert "pack_sensor" not in asked
    assert "cannot warn in time" in asked["used_sensor"].text
    assert "pack_sensor" in course(LIFE | {"chemistry": "lipo"}, asking=False).asked
    text = setup_text(course(LIFE | {"used_sensor": "yes", "link_sensor": "yes"}, asking=False))
    assert 'when = "used > 1440"' in text
    assert 'rescue = "not save is released"' in text
    report = setuplint.lint_text(text)
    assert (report.findings, report.not_judged) == ((), ())


def test_an_alarm_is_searched_for_once_and_no_further_than_it_is_found() -> None:
    answers = course(LIFE | {"chemistry": "lipo", "capacity_mah": "1000"}, asking=False).answers
    names, asked = CourseNames(interview(), answers), list[Fraction]()

    def charge(chemistry: str, volts: Fraction) -> Fraction:
        asked.append(volts)
        return functions.charge(chemistry, volts)

    names.functions["charge"] = charge
    found = names.look_up("land_cell")
    assert max(asked) == found + names.look_up("most_sag")
    assert names.look_up("careful") < found
    count = len(asked)
    assert names.look_up("voltage_warns") is True
    assert len(asked) == count, "what it rests on is remembered"
    names.keep(next(each for each in interview().questions if each.key == "capacity_mah"), None, Fraction(800))
    assert names.look_up("land_cell") > found, "until an answer changes"


@pytest.mark.slow
def test_packs_of_other_counts_take_a_sensor_across_as_many_cells_of_each() -> None:
    packs = LIFE | {
        "capacity_mah": "3300",
        "resistance_mohm": "8",
        "chemistry": "lipo",
        "packs": "small",
        "pack_cells small": "3",
        "pack_sensor": "yes",
        "link_sensor": "y",
    }
    whole = next(step for step in course(packs | {"sensor_cells": "no"}, asking=False).steps if step.complaint)
    assert "no one voltage warns in time for packs of 3 and of 4 cells" in whole.complaint
    assert "[sensors.pack]" not in setup_text(course(packs, asking=False)), "not known: no alarm is guessed"
    text = setup_text(course(packs | {"sensor_cells": "3"}, asking=False))
    assert "[packs.small]\ncells = 3\n" in text
    assert '[sensors.pack]\nreads = "pack-voltage"\ncells = 3\n' in text
    report = setuplint.lint_text(text)
    assert (report.findings, report.not_judged) == ((), ())


SWASH = LIFE | {
    "rotor": "collective",
    "stabilised": "no",
    "hover_collective": "30",
    "swash_collective": "-50",
    "trainer_switch": "lend",
}
PLATES = {
    "one": ("100", "no", "100.1"),  # each servo has its own travel
    "two-90": ("60", "no", "60.2"),
    "three-120": ("43", "no", "44"),
    "three-135": ("78", "no", "79"),
    "three-140": ("42", "no", "42.7"),
    "four-90": ("75", "80", "75.2"),
}


@pytest.mark.quick(2)
@pytest.mark.parametrize("kind", PLATES)
def test_a_mixer_is_refused_where_lint_would_speak_of_it(kind: str) -> None:
    """With a pitch of 80 % at most the collective takes 40 of a servo's travel."""
    fits, ring, over = PLATES[kind]
    bent = {"rate": "50", "expo": "-10"} if kind == "three-135" else {}  # 53.75: expo under nothing gives the half more
    replies = SWASH | {"swash": kind, "swash_ring": ring} | bent
    found = course(replies | {"swash_cyclic": fits}, asking=False)
    assert [step.complaint for step in found.steps if step.complaint] == []
    assert setuplint.lint_text(setup_text(found)).findings == ()
    found = course(replies | {"swash_cyclic": over}, asking=False)
    assert ["would ask a servo for 100." in step.complaint for step in found.steps if step.complaint] == [True]
    text = setup_text(found).replace(
        f"cyclic = {over}", f"cyclic = {over}" + (f"\nring = {ring}" if ring != "no" else "")
    )
    assert [f.rule for f in setuplint.lint_text(text).findings] == ["output-clipped"]


def test_a_fixed_pitch_has_no_share_of_the_plate() -> None:
    found = course(LIFE | {"stabilised": "no", "swash": "two-90", "swash_cyclic": "100%"}, asking=False)
    text = setup_text(found)
    assert '[swash]\nservos = "two-90"\ncyclic = 100\n' in text
    report = setuplint.lint_text(text)
    assert [entry.rule for entry in report.not_judged if entry.rule == "output-clipped"] == []
    assert "swash" not in course(LIFE | {"stabilised": "yes"}, asking=False).asked, "a unit mixes them"


ENGINE = LIFE | {"power": "engine", "rotor_free": "-70", "idle": "-82"}


def test_an_engine_on_fixed_pitch_idles_at_the_bottom_and_in_the_failsafe() -> None:
    text = setup_text(course(ENGINE, asking=False))
    assert "points = [[-100, -82], " in text
    assert (
        "[failsafe]                       # what the receiver puts out with the link gone: try it, blades off\nmotor = -82\n"
        in text
    )
    report = setuplint.lint_text(text)
    assert [f.rule for f in report.findings] == []
    driven = setuplint.lint_text(text.replace("[[-100, -82]", "[[-100, -66]"))
    assert {f.rule for f in driven.findings} == {"motor-on-at-low-stick", "curve-short-of-full"}


def test_a_governed_curve_is_smoothed_in_the_way_that_makes_no_bump() -> None:
    """The curve of a refused answer is put into the file: lint says what the interview says."""
    governed = SWASH | {"governed_above": "20", "throttle_trim": "0"}
    text = setup_text(course(governed | {"smoothing": "monotone"}, asking=False))
    assert 'smoothing = "monotone"' in text
    assert setuplint.lint_text(text).findings == ()
    for kind, written in (("natural", "natural"), ("cardinal", "cardinal"), ("yes", "unknown")):
        step = next(s for s in course(governed | {"smoothing": kind}, asking=False).steps if s.complaint)
        assert "makes a bump" in step.complaint
        rules = {f.rule for f in setuplint.lint_text(text.replace('"monotone"', f'"{written}"')).findings}
        assert "curve-not-monotonic" in rules, kind


def test_a_trimmed_curve_is_smoothed_where_it_gets_no_dip() -> None:
    trimmed = LIFE | {"throttle_trim": "10"}
    text = setup_text(course(trimmed | {"smoothing": "monotone"}, asking=False))
    assert setuplint.lint_text(text).findings == ()
    for kind in ("natural", "cardinal"):
        step = next(s for s in course(trimmed | {"smoothing": kind}, asking=False).steps if s.complaint)
        assert "makes a dip" in step.complaint
        assert setuplint.lint_text(text.replace('"monotone"', f'"{kind}"')).findings != ()


def test_a_switch_that_lends_from_both_sides() -> None:
    text = setup_text(course(SWASH | {"trainer_sides": "both"}, asking=False))
    assert 'positions = ["released", "pulled", "pushed"]' in text
    assert '[trainer]\nlent = "not lend is released"\n' in text
    assert "or not lend is released" in text.partition("[[claims]]")[2]
    assert setuplint.lint_text(text).findings == ()


@pytest.mark.parametrize("open_one", ["capacity_mah", "hover_current_a", "pack_capacity small"])
def test_a_flight_timer_is_worked_out_or_left_out(open_one: str) -> None:
    whole = LIFE | {"packs": "small", "pack_capacity small": "900"}
    assert "[timers.flight]\nseconds = 100  " in setup_text(course(whole, asking=False))
    replies = {key: reply for key, reply in whole.items() if key != open_one}
    if open_one == "pack_capacity small":
        replies |= {open_one: "unknown"}
        replies.pop("capacity_mah")
    assert "[timers" not in setup_text(course(replies, asking=False)), "nothing is made up"
    assert "[timers" not in setup_text(course(ENGINE, asking=False))


GOVERNED = SWASH | {"governed_above": "20"}
IDLE_UP = SWASH | {"modes": "normal, loops", "idle_up loops": "0"}
NOT_SAFE = {
    "a stop below the channel's end": (LIFE | {"motor_off": "900 µs"}, "would not stop that motor"),
    "a rotor that is free only below it": (ENGINE | {"motor_off": "unknown", "rotor_free": "-110"}, "still drive"),
    "an idle below it": (ENGINE | {"motor_off": "unknown", "idle": "-105"}, "goes down to -100"),
    "a governed rotor that is not driven": (
        GOVERNED | {"power": "engine", "governed_above": "-80", "rotor_free": "-70"},
        "not driven, from -80",
    ),
    "a rescue under the governed speed": (
        GOVERNED | {"speed normal": "70", "rescue_power": "50"},
        "less than the governor is flown with, +70",
    ),
    "a rescue after a slow start": (IDLE_UP | {"spin_up loops": "11"}, "the rescue would be late"),
    "a hover at the end of the pitch": (SWASH | {"hover_collective": "85"}, "too little to climb"),
    "a receiver's pack over what is read": (
        SWASH | {"supply": "lipo", "supply_cells": "9", "supply_sensor": "yes"},
        "at 31.5 V",
    ),
}


@pytest.mark.parametrize("what", NOT_SAFE)
def test_what_lint_would_object_to_is_refused_where_it_is_answered(what: str) -> None:
    replies, complaint = NOT_SAFE[what]
    found = course(replies, asking=False)
    assert [complaint in step.complaint.replace("\u00a0", " ") for step in found.steps if step.complaint] == [True]


def test_a_start_is_as_slow_as_the_rescue_can_be_late() -> None:
    assert not [step for step in course(IDLE_UP | {"spin_up loops": "10"}, asking=False).steps if step.complaint]
    report = setuplint.lint_text(setup_text(course(IDLE_UP | {"spin_up loops": "10"}, asking=False)))
    assert report.findings == ()
