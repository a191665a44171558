"""What the alarms tell: the receiver's supply, the link, lost sensors, silence where there should be none, noise at power-up."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

import setuplint
from tests.checks.linted import linted, said, unjudged

SUPPLY, SILENT, REST = "receiver-alarm-below-floor", "alarm-silent", "alarm-at-rest"
LINK, LOST = "link-alarm-missing", "sensor-loss-unheard"
LOW = "conditions.pack-low.when"
LAPWING = Path(__file__).parents[2] / "examples" / "lapwing.toml"


# -- the receiver's supply


def supply(when: str, **more: Any) -> dict[str, Any]:
    return {
        "sensors.supply": {"reads": "receiver-voltage"},
        "alarms.supply-low": {"when": when, "tone": True, "repeat": 4, **more},
    }


@pytest.mark.parametrize(
    ("when", "speaks"),
    [
        ("supply < 4.8", False),
        ("not supply >= 4.8 and hold is off", False),
        ("supply < 4.79", True),
        ("supply <= 4.79", True),
        ("supply > 4.8", True),
        ("supply < 5.4 and save is released", True),
        ("supply < 5.4 and hold is off", False),
        ("supply < 4.5 or supply < 5.4", False),
        ("supply is lost", True),
    ],
)
def test_the_supply_s_floor(when: str, speaks: bool) -> None:
    assert [x.subject for x in said(SUPPLY, supply(when))] == ["supply"] * speaks


def test_the_supply_s_numbers_and_place() -> None:
    (finding,) = said(SUPPLY, supply("supply < 4.6"))
    assert finding.message.startswith("alarm supply-low sounds only below 4.6 V: flying in mode ")
    assert "4.8 V is the floor" in finding.message
    assert 4.6 <= float(finding.witness["supply"]) < 4.8
    assert finding.primary.path == ("alarms", "supply-low", "when")
    assert finding.outputs["motor"] > -95
    (finding,) = said(SUPPLY, {"sensors.supply": {"reads": "receiver-voltage"}})
    assert finding.message.startswith("no alarm listens to supply")
    assert finding.primary.path == ("sensors", "supply")


def test_the_nearest_of_its_thresholds_is_named() -> None:
    (finding,) = said(SUPPLY, supply("supply < 4.2 or supply < 4.6"))
    assert finding.message.startswith("alarm supply-low sounds only below 4.6 V")


def test_what_resets_a_latch_is_none_of_its_thresholds() -> None:
    latch = {"conditions.low": {"when": "supply < 4.5", "until": "supply > 5.2"}}
    (finding,) = said(SUPPLY, {**supply("low"), **latch})
    assert finding.message.startswith("alarm supply-low sounds only below 4.5 V")
    used = {
        "sensors.used": {"reads": "charge-used"},
        "alarms.used-up": {"when": "much", "voice": "charge", "repeat": 9},
    }
    for until in ("used < 100", "used > 2590"):
        (finding,) = said("charge-alarm-late", {**used, "conditions.much": {"when": "used > 2400", "until": until}})
        assert finding.message.startswith("alarm used-up sounds from 2400 mAh on")


def test_other_sensors_are_no_supply() -> None:
    assert said(SUPPLY, {"sensors.esc": {"reads": "temperature"}, "sensors.cell": {"reads": "cell-voltage"}}) == []


def test_each_supply_has_its_own_alarm() -> None:
    two = {**supply("supply < 5.4"), "sensors.spare": {"reads": "receiver-voltage"}}
    assert [x.subject for x in said(SUPPLY, two)] == ["spare"]
    both = {**two, "alarms.supply-low.when": "supply < 5.4 or spare < 5.4"}
    assert said(SUPPLY, both) == []


def test_a_supply_alarm_that_makes_no_sound() -> None:
    rules = {x.rule for x in linted({**supply("supply < 5.4"), "alarms.supply-low.tone": False}).findings}
    assert rules == {SUPPLY, SILENT}


def test_a_supply_that_is_not_judged() -> None:
    assert unjudged(SUPPLY, supply("supply < 4.5"), ("craft.motor-off",)) == ["craft.motor-off is not given"]
    assert unjudged(SUPPLY, {**supply("supply < 5.4"), "alarms.supply-low.when": "suply < 5.4"}) != []


# -- the link


def test_a_link_s_alarm() -> None:
    (finding,) = said(LINK, remove=("alarms.link-weak",))
    assert finding.message.startswith("link reads the radio link, and no alarm sounds for it")
    (finding,) = said(LINK, {"sensors.esc": {"reads": "temperature"}}, ("alarms.link-weak", "sensors.link"))
    assert finding.message.startswith("the craft sends telemetry (pack, esc)")
    assert (finding.subject, finding.primary.path) == ("link", ("sensors", "pack"))
    signal = {"sensors.signal": {"reads": "signal-strength"}, "alarms.weak": {"when": "signal < -92", "tone": True}}
    assert said(LINK, signal, ("alarms.link-weak",)) == [], "one of the two is enough"


def test_a_link_s_alarm_that_is_not_judged() -> None:
    assert unjudged(LINK, {"sensors.link.reads": "links"}) == ["sensors.link cannot be read"]
    assert unjudged(LINK, {"alarms.link-weak.when": "lnk < 60"}) != []


# -- lost sensors


@pytest.mark.parametrize(
    ("when", "speaks"),
    [
        ("pack is lost", False),
        ("not pack > 0", False),
        ("pack is lost and mode is idle-up", True),
        ("pack is lost and save is released", True),
        ("pack is lost and hold is off", False),
        ("link is lost", True),
    ],
)
def test_a_lost_sensor(when: str, speaks: bool) -> None:
    assert [x.subject for x in said(LOST, {"alarms.pack-gone.when": when})] == ["pack"] * speaks


def test_lost_in_idle_up_nothing_sounds() -> None:
    (finding,) = said(LOST, {"alarms.pack-gone.when": "pack is lost and mode is normal"})
    assert finding.message == "flying in mode idle-up with pack lost nothing sounds: the pack runs down unheard"
    assert finding.witness["pack"] == "lost"
    assert finding.outputs["motor"] == 45


def test_one_of_two_sensors_may_be_lost() -> None:
    """On a craft whose alarm hears the pack or a cell, the other one still tells; both lost is what must be said."""
    text = LAPWING.read_text(encoding="utf-8")
    old = 'when = "pack is lost or cell is lost"'
    assert text.count(old) == 1

    def found(when: str) -> list[str]:
        report = setuplint.lint_text(text.replace(old, f'when = "{when}"'), name="lapwing.toml", only=[LOST])
        return [x.message for x in report.findings]

    assert found("pack is lost and cell is lost") == []
    (message,) = found("link is lost")
    assert "with pack and cell lost nothing sounds" in message


def test_a_sensor_that_no_alarm_hears_may_be_lost() -> None:
    assert said(LOST, {"sensors.cell": {"reads": "cell-voltage"}}) == []
    (finding,) = said(LOST, {"sensors.cell": {"reads": "cell-voltage"}}, ("alarms.pack-gone",))
    assert "with pack lost nothing sounds" in finding.message


def test_without_a_sensor_of_the_pack_none_is_lost() -> None:
    gone = ("sensors.pack", "alarms.land-now", "alarms.pack-gone", "conditions.pack-low")
    assert unjudged(LOST, remove=gone) == []


def test_a_lost_sensor_that_is_not_judged() -> None:
    assert unjudged(LOST, {"alarms": "none"}) == ["alarms cannot be read"]
    assert unjudged(LOST, {"alarms.pack-gone.when": "pack is gone"}) != []
    assert unjudged(LOST, {"alarms.pack-gone": "pack"}) == ["alarms.pack-gone cannot be read"]


# -- sound or none


def test_silent_alarms_are_named_one_by_one() -> None:
    found = said(SILENT, {"alarms.link-weak.tone": False}, ("alarms.pack-gone.tone",))
    assert [x.subject for x in found] == ["link-weak", "pack-gone"]
    assert [x.edit.path for x in found if x.edit] == [("alarms", "link-weak", "tone"), ("alarms", "pack-gone", "tone")]
    for sound in ({"voice": "x"}, {"vibrate": True}, {"tone": True}):
        assert said(SILENT, {"alarms.x": {"when": "link < 1", **sound}}) == []
    assert unjudged(SILENT, {"alarms.pack-gone.tone": "loud"}) == ["alarms.pack-gone cannot be read"]


@pytest.mark.parametrize(
    ("when", "speaks"),
    [
        ("pack < 21.6", False),
        ("not pack >= 21.6", True),
        ("pack is not lost and link < 60", False),
        ("pack is not lost", True),
        ("pack is lost", False),
        ("not pack >= 21.6 and hold is off", False),
        ("flight is not normal", False),
        ("rates is full", True),
    ],
)
def test_noise_at_power_up(when: str, speaks: bool) -> None:
    """Nothing is heard yet, so comparisons are false and nothing is lost; the start check asks for hold and normal."""
    edit = {"alarms.other": {"when": when, "tone": True, "repeat": 5}}
    assert [x.subject for x in said(REST, edit)] == ["other"] * speaks


def test_noise_at_power_up_must_repeat_and_be_heard() -> None:
    always = {"when": "hold is on or hold is off", "tone": True}
    assert said(REST, {"alarms.other": always}) == []
    assert said(REST, {"alarms.other": {**always, "repeat": 3, "tone": False}}) == []
    (finding,) = said(REST, {"alarms.other": {**always, "repeat": 3}})
    assert finding.message.startswith("alarm other sounds every 3 s from the moment the transmitter is switched on")
    assert finding.outputs["motor"] == -100


def test_noise_only_with_the_motor_stopped_counts() -> None:
    """Without a start check the motor can run at power-up: others speak of that, and the alarm may."""
    edit = {"alarms.other": {"when": "throttle > -50 and hold is off", "tone": True, "repeat": 3}}
    assert said(REST, edit, ("start",)) == []


def test_the_sensor_of_the_charge_is_the_pack_s_where_there_is_no_other() -> None:
    used = {
        "sensors.used": {"reads": "charge-used"},
        "alarms.used-up": {"when": "used > 2000", "voice": "c", "repeat": 5},
    }
    gone = ("sensors.pack", "alarms.land-now", "alarms.pack-gone", "conditions.pack-low")
    (finding,) = said(LOST, used, gone)
    assert (finding.subject, [place.path for place in finding.related]) == ("used", [("alarms", "used-up")])
    assert said(LOST, {**used, "alarms.used-up.when": "used > 2000 or used is lost"}, gone) == []
    assert said(LOST, used) == [], "the voltage is heard"
    engine = linted(
        {**used, "craft.power": "engine"}, (*gone, "battery"), only=[LOST, "alarm-once", "charge-alarm-late"]
    )
    assert (engine.findings, engine.not_judged) == ((), ()), "an engine has no pack"
    assert said(LOST, {**used, "alarms.used-up.voice": ""}, gone) == [], "nobody listened before"
