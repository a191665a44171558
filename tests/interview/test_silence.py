"""Whatever a pilot answers, the setup lints silently; what is not known is left out, and nothing else is wrong with it."""

from __future__ import annotations

from fractions import Fraction

import pytest

import setuplint
from setuplint.interview import functions
from setuplint.interview.course import CourseNames, course
from setuplint.interview.data import interview
from setuplint.interview.text import setup_text
from tests.interview.random_replies import random_replies

PILOTS = range(40)


def lint(seed: int, unknown: float = 0) -> tuple[setuplint.Report, str]:
    found = course(random_replies(seed, unknown), asking=False)
    assert [step.complaint for step in found.steps if step.complaint] == []
    text = setup_text(found)
    return setuplint.lint_text(text), text


@pytest.mark.quick(10)
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
