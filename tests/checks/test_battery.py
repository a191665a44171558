"""The pack's alarms: floors a cell, the count of cells, the case shown and the numbers in the message."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from tests.checks.linted import linted, said, unjudged

BELOW = "voltage-alarm-below-floor"
MISSING = "voltage-alarm-missing"
MISMATCH = "cell-count-mismatch"
LOW = "conditions.pack-low.when"
NO_ALARM = ("alarms.land-now", "conditions.pack-low")
NO_SENSOR = ("sensors.pack", "alarms.land-now", "alarms.pack-gone", "conditions.pack-low")
CELL = {"sensors.pack.reads": "cell-voltage"}


def test_the_message_has_every_number() -> None:
    (finding,) = said(BELOW, {"battery.cells": 4, LOW: "pack < 11.1"})
    assert finding.message == (
        "alarm land-now sounds only below 11.1 V, which is 2.775 V a cell on 4 cells, when it is too late: the "
        "floor of a LiPo cell is 3.3 V loaded, 13.2 V for this pack of 4; in flight, with the pack at 11.2 V, 2.8 V a cell, "
        "nothing sounds; 11.1 V fits a pack of 3 cells (3.7 V a cell)"
    )
    assert (finding.subject, finding.primary.path) == ("land-now", ("conditions", "pack-low", "when"))
    assert finding.witness["pack"] == 11.2
    assert finding.outputs["motor"] > -95


@pytest.mark.parametrize(
    ("chemistry", "floor"),
    [("lipo", "19.8"), ("lihv", "19.8"), ("li-ion", "18"), ("life", "16.8")],
)
def test_floors_of_six_cells(chemistry: str, floor: str) -> None:
    """Exactly the floor passes, 10 mV less on the pack does not, whichever way round the comparison is written."""
    under = str(Decimal(floor) - Decimal("0.01"))
    for written in ("pack < {}", "pack <= {}", "not pack >= {}", "not (hold is off and pack > {}) and hold is off"):
        assert said(BELOW, {"battery.chemistry": chemistry, LOW: written.format(floor)}) == [], written
        (finding,) = said(BELOW, {"battery.chemistry": chemistry, LOW: written.format(under)})
        assert f"sounds only below {under.rstrip('0')} V" in finding.message


def test_a_cell_s_sensor_and_the_pack_s_agree() -> None:
    (finding,) = said(BELOW, {**CELL, LOW: "pack < 3.2"})
    assert "sounds only below 3.2 V a cell, when" in finding.message
    assert said(BELOW, {**CELL, LOW: "pack < 3.3"}) == []
    assert said(MISMATCH, {**CELL, LOW: "pack < 3.2"}) == []
    both = {"sensors.cell": {"reads": "cell-voltage"}}
    (finding,) = said(BELOW, both)
    assert finding.witness["pack"] == "lost", "with the pack's sensor lost only the cell's is heard, and nobody listens"
    assert said(BELOW, {**both, LOW: "pack < 21.6 or cell < 3.3"}) == []


def test_a_right_threshold_that_is_mute_in_a_mode() -> None:
    (finding,) = said(BELOW, {"alarms.land-now.when": "pack-low and mode is normal"})
    assert (
        "land-now is silent where it is needed, though its threshold, 21.6 V, which is 3.6 V a cell" in finding.message
    )
    assert "in mode idle-up, with the pack at" in finding.message
    assert finding.primary.path == ("alarms", "land-now", "when") or finding.primary.path[0] == "conditions"
    assert finding.witness["flight"] != "normal"


def test_an_alarm_without_a_sound_is_told_from_one_too_low() -> None:
    (finding,) = said(BELOW, remove=("alarms.land-now.voice",))
    assert finding.message.startswith(
        "alarm land-now has neither voice, tone nor vibration, and makes no sound: the floor"
    )
    assert finding.primary.path == ("alarms", "land-now")


def test_of_several_alarms_the_nearest_is_named() -> None:
    edit = {
        LOW: "pack < 18",
        "alarms.empty": {"when": "pack < 19.2", "tone": True, "repeat": 2},
        "alarms.never-heard": {"when": "pack < 20"},
    }
    (finding,) = said(BELOW, edit)
    assert finding.subject == "empty"
    assert "below 19.2 V, which is 3.2 V a cell" in finding.message


def test_a_latch_that_mutes_shows_its_steps() -> None:
    edit = {
        "conditions.saved": {"when": "save is pulled", "until": "hold is on"},
        "alarms.land-now.when": "pack-low and not saved",
    }
    (finding,) = said(BELOW, edit)
    assert any(step.get("save") == "pulled" for step in finding.steps)


@pytest.mark.parametrize("key", ["chemistry", "cells"])
def test_nothing_is_guessed_of_the_battery(key: str) -> None:
    for rule in (BELOW, MISMATCH):
        assert unjudged(rule, {LOW: "pack < 14.4"}, (f"battery.{key}",)) == [f"battery.{key} is not given"]


def test_an_alarm_that_cannot_be_read_may_sound() -> None:
    edit = {LOW: "pack < 14.4", "alarms.other": {"when": "pack < 21.6", "voice": 7}}
    assert "alarms.other cannot be read" in unjudged(BELOW, edit)
    assert len(said(BELOW, {LOW: "pack < 14.4", "timers.flight.voice": 7})) == 1


def test_without_an_alarm_one_rule_speaks() -> None:
    report = linted(remove=NO_ALARM)
    assert [(finding.rule, finding.subject) for finding in report.findings] == [(MISSING, "pack")]
    assert report.not_judged == ()


def test_an_alarm_that_cannot_be_read_may_listen() -> None:
    assert unjudged(MISSING, {LOW: "pack < < 21.6"}) == ["conditions.pack-low cannot be read"]
    assert unjudged(MISSING, {"alarms.land-now": 3}, ("conditions.pack-low",)) != []


@pytest.mark.parametrize(
    ("edit", "remove", "because"),
    [
        ({"timers.flight.seconds": 277}, (), []),
        ({"timers.flight.seconds": 278}, (), ["no sensor reads the pack's voltage, and no sounding timer ends by 80 % of "
                                              "the capacity at hover-current-a"]),
        ({}, ("timers.flight.voice",), ["no sensor reads the pack's voltage, and no sounding timer is given"]),
        ({}, ("battery",), ["battery.capacity-mah is not given", "battery.hover-current-a is not given"]),
        ({}, ("battery.capacity-mah",), ["battery.capacity-mah is not given"]),
        ({}, ("battery.hover-current-a",), ["battery.hover-current-a is not given"]),
        ({"sensors.pack": {"reads": "pack-volts"}}, (), ["sensors.pack cannot be read"]),
    ],
)  # fmt: skip
def test_a_timer_in_place_of_a_sensor(edit: dict[str, Any], remove: tuple[str, ...], because: list[str]) -> None:
    """2600 mAh, 80 % of it at 27 A: 277.3 s."""
    assert unjudged(MISSING, edit, (*NO_SENSOR, *remove)) == because


@pytest.mark.parametrize(
    ("threshold", "said_of_it"),
    [
        ("14.4", "14.4 V, which is 2.4 V a cell on 6 cells, under the floor of 3.3 V: 14.4 V fits a pack of 4 cells (3.6 V a "
                 "cell)"),
        ("28.8", "28.8 V, which is 4.8 V a cell on 6 cells, more than a full cell's 4.2 V: 28.8 V fits a pack of 7 to 8 cells"),
        ("25.2", ""),
        ("19.8", ""),
        ("3.2", ""),
    ],
)  # fmt: skip
def test_a_second_alarm_from_another_craft(threshold: str, said_of_it: str) -> None:
    found = said(MISMATCH, {"alarms.empty": {"when": f"pack < {threshold}", "tone": True, "repeat": 3}})
    wanted = [f"alarm empty has its threshold at {said_of_it}"] if said_of_it else []
    assert [finding.message for finding in found] == wanted


def test_a_guard_against_a_sensor_that_is_off_is_no_threshold() -> None:
    """Four volts would be careful for one cell."""
    edit = {"alarms.land-now.when": "pack-low and pack > 4"}
    assert said(MISMATCH, edit) == []
    (finding,) = said(BELOW, edit)
    assert "its threshold, 21.6 V" in finding.message
    assert "fits" not in finding.message
    second = {"alarms.empty": {"when": "pack < 20 and not pack <= 4", "tone": True, "repeat": 3}}
    assert said(MISMATCH, second) == []


def test_one_threshold_that_two_alarms_use_is_one_cause() -> None:
    edit = {
        "conditions.old": {"when": "pack < 14.4"},
        "alarms.one": {"when": "old", "tone": True, "repeat": 3},
        "alarms.two": {"when": "old", "voice": "old", "repeat": 3},
    }
    assert [finding.subject for finding in said(MISMATCH, edit)] == ["one"]


def test_the_count_is_said_inside_the_floor_s_finding() -> None:
    report = linted({LOW: "pack < 14.4"})
    assert [finding.rule for finding in report.findings] == [BELOW]
    assert "14.4 V fits a pack of 4 cells (3.6 V a cell)" in report.findings[0].message


def test_a_number_that_this_pack_never_shows_fits_another_count() -> None:
    report = linted({LOW: "pack < 43.2"})
    assert [finding.rule for finding in report.findings] == ["cell-count-mismatch", "value-out-of-range"]
    assert "43.2 V fits a pack of 11 to 13 cells" in report.findings[0].message


def test_a_cell_s_sensor_alone_needs_no_count() -> None:
    (finding,) = said(BELOW, {**CELL, LOW: "pack < 3.2"}, ("battery.cells",))
    assert finding.message.endswith(
        "the floor of a LiPo cell is 3.3 V loaded; in flight, with a cell at 3.2 V, nothing sounds"
    )
    assert said(BELOW, {**CELL, LOW: "pack < 3.3"}, ("battery.cells",)) == []
    beside = {"sensors.whole": {"reads": "pack-voltage", "shown": True}, **CELL}
    (finding,) = said(BELOW, {**beside, LOW: "pack < 3.2"}, ("battery.cells",))
    assert finding.message.endswith("with a cell at 3.2 V, nothing sounds")
    always = said("voltage-alarm-always", {**beside, LOW: "pack < 4.3"}, ("battery.cells",))
    assert [x.subject for x in always] == ["land-now"], "the count of cells makes no difference to it"
    heard = {**beside, LOW: "pack < 3.2 or whole < 18"}
    for rule in (BELOW, "voltage-alarm-always"):
        assert unjudged(rule, heard, ("battery.cells",)) == ["battery.cells is not given"]


def test_a_late_count_is_told_with_its_share() -> None:
    edit = {
        "sensors.used": {"reads": "charge-used"},
        "alarms.used-up": {"when": "used > 2340", "voice": "charge", "repeat": 10},
    }
    (finding,) = said("charge-alarm-late", edit)
    assert finding.message == (
        "alarm used-up sounds from 2340 mAh on, 90 % of the capacity: flying in mode normal with 2340 mAh used nothing that "
        "listens to used sounds, and 80 % of 2600 mAh is 2080 mAh"
    )
    assert finding.edit is not None
    assert finding.edit.value == '"used > 2080"'
    assert unjudged("charge-alarm-late", edit, ("battery.capacity-mah",)) == ["battery.capacity-mah is not given"]


@pytest.mark.parametrize(
    "rule", [BELOW, MISSING, MISMATCH, "voltage-alarm-always", "voltage-alarm-late", "sensor-loss-unheard"]
)
def test_a_sensor_that_cannot_be_read_may_be_the_pack_s(rule: str) -> None:
    assert set(unjudged(rule, {"sensors.pack.reads": "pack"})) <= {"sensors.pack cannot be read", "pack cannot be read"}
    assert unjudged(rule, {"sensors.pack.reads": "pack"})


@pytest.mark.parametrize("until", ["pack > 19", "pack > 20", "not pack < 24"])
def test_what_resets_a_latch_is_no_threshold(until: str) -> None:
    (finding,) = said(BELOW, {LOW: "pack < 18", "conditions.pack-low.until": until})
    assert finding.message.startswith("alarm land-now sounds only below 18 V, which is 3 V a cell on 6 cells")
    assert finding.edit is not None
    assert said(MISMATCH, {"conditions.pack-low.until": "pack > 25.5"}) == []
    other_way = {"conditions.well": {"when": "pack > 25", "until": "pack < 18"}, "alarms.land-now.when": "not well"}
    (finding,) = said(BELOW, other_way)
    assert finding.message.startswith("alarm land-now sounds only below 18 V"), (
        "here it is the reset that lets it sound"
    )


def test_what_a_case_with_one_sensor_lost_says() -> None:
    """The alarm is right, and cannot sound: nothing listens to the sensor that is heard."""
    (finding,) = said(BELOW, {"sensors.cell": {"reads": "cell-voltage", "shown": True}})
    assert finding.message.startswith("no alarm listens to cell: the floor of a LiPo cell is 3.3 V loaded")
    assert "with sensor pack lost and the pack at " in finding.message
    assert finding.message.endswith("no alarm for the voltage sounds, only pack-gone")
    assert (finding.subject, finding.primary.path) == ("land-now", ("sensors", "cell"))
    assert finding.remedy.startswith("Let an alarm listen to cell too")
    low = {"sensors.cell": {"reads": "cell-voltage"}, "alarms.land-now.when": "pack < 21.6 or cell < 3.2"}
    (finding,) = said(BELOW, low)
    assert finding.message.startswith("alarm land-now sounds only below 3.2 V a cell, when it is too late")


def test_of_a_sensor_without_a_threshold_the_alarm_that_compares_it_is_named() -> None:
    """land-now listens to the pack alone, and is right; it is the other that hears the cell and does not warn of it."""
    cell = {"sensors.cell.reads": "cell-voltage", "alarms.full": {"when": "cell > 4.1", "voice": "full", "repeat": 10}}
    (finding,) = said(BELOW, cell)
    assert finding.subject == "full"
    assert "alarm full compares cell, but sounds below no threshold of it" in finding.message


def test_of_two_equal_numbers_the_one_that_is_wrong_is_raised() -> None:
    """The half pack's threshold, copied to the whole one's."""
    half = {"sensors.half": {"reads": "pack-voltage", "cells": 3}, "alarms.land-now.when": "half < 10.8 or pack < 10.8"}
    (finding,) = said(BELOW, half, ("conditions.pack-low",))
    assert finding.edit is not None
    assert finding.edit.value == '"half < 10.8 or pack < 21.6"'


def test_what_waits_or_lingers_is_to_be_shortened() -> None:
    (finding,) = said(BELOW, {"conditions.pack-low.after": 12})
    assert finding.remedy == "Shorten what keeps it silent, the `after` of pack-low: 5 s, all together, are the most."
    muted = {
        "switches.ack": {"kind": "momentary"},
        "conditions.mute": {"when": "ack is pulled", "stays": 11},
        "alarms.land-now.when": "pack-low and not (mute and ack is released)",
        LOW: "pack < 28",
    }
    (finding,) = said(BELOW, muted)
    assert "the `stays` of mute" in finding.remedy
    assert (
        "and its threshold, 28 V, which is 4.667 V a cell on 6 cells, is more than a full cell's 4.2 V"
        in finding.message
    )
    assert finding.message.endswith("nothing sounds, for 11 s, while condition mute stays on")


def test_the_threshold_that_counts_in_a_mode_is_the_one_named() -> None:
    (finding,) = said(
        BELOW, {"alarms.land-now.when": "pack < 21.6 and mode is normal or pack < 19.7 and mode is idle-up"}
    )
    assert finding.message.startswith("alarm land-now sounds only below 19.7 V")
    assert "; in mode idle-up, with the pack at 19.7 V" in finding.message
    assert finding.edit is not None


def test_every_threshold_of_an_alarm_is_told() -> None:
    for when in ("pack < 18 or pack < 26", "pack < 26 or pack < 18"):
        (finding,) = said(MISMATCH, {"alarms.other": {"when": when, "tone": True, "repeat": 5}})
        assert finding.message.startswith(
            "alarm other has its thresholds at 26 V, which is 4.333 V a cell on 6 cells, more "
        )
        assert "; and at 18 V, which is 3 V a cell on 6 cells, under the floor" in finding.message
