"""Flight timers: whether they end by 80 % of the capacity at hover current, and whether they count in flight."""

from __future__ import annotations

from typing import Any

import pytest

from tests.checks.linted import said, unjudged
from tests.checks.test_battery import NO_SENSOR

LONG, STOPS = "flight-time-too-long", "timer-stops-in-flight"


def test_seconds_at_the_limit() -> None:
    """80 % of 2600 mAh are 2080 mAh: at 27 A, 277.3 s."""
    assert said(LONG, {"timers.flight.seconds": 277}) == []
    (finding,) = said(LONG, {"timers.flight.seconds": 278})
    assert finding.message == (
        "timer flight ends after 278 s: at 27 A, as in a hover, that takes 2085 mAh, and 80 % of 2600 mAh is 2080 mAh, "
        "or 277 s"
    )
    assert (finding.subject, finding.status, finding.primary.path) == (
        "flight",
        "advice",
        ("timers", "flight", "seconds"),
    )
    assert finding.edit is not None
    assert finding.edit.value == "277"


@pytest.mark.parametrize("current", [7.3, 27, 71.5])
def test_the_edit_is_silent_and_a_second_more_is_not(current: float) -> None:
    battery = {"battery.hover-current-a": current, "timers.flight.seconds": 5000}
    (finding,) = said(LONG, battery)
    assert finding.edit is not None
    longest = int(finding.edit.value)
    assert longest * current / 3.6 <= 2080 < (longest + 1) * current / 3.6
    assert said(LONG, {**battery, "timers.flight.seconds": longest}) == []
    assert len(said(LONG, {**battery, "timers.flight.seconds": longest + 1})) == 1


def test_the_shortest_that_sounds_counts() -> None:
    long = {"timers.flight.seconds": 400}
    assert said(LONG, {**long, "timers.half": {"seconds": 200, "vibrate": True}}) == []
    assert len(said(LONG, {**long, "timers.half": {"seconds": 200}})) == 1
    assert said(LONG, {"timers.flight.seconds": 400}, ("timers.flight.voice",)) == [], (
        "nobody hears it: no flight timer"
    )


def test_what_is_missing_for_the_time() -> None:
    both = ["battery.capacity-mah is not given", "battery.hover-current-a is not given"]
    assert unjudged(LONG, remove=("battery",)) == both
    assert unjudged(LONG, remove=("battery.capacity-mah",)) == both[:1]
    assert unjudged(LONG, remove=("battery", "timers")) == []
    assert unjudged(LONG, {"timers.flight.seconds": "long"}) == ["timers.flight cannot be read"]


@pytest.mark.parametrize(
    ("runs", "speaks"),
    [
        ("not hold is on", False),
        ("hold is off or save is pulled", False),
        ("throttle > -100", True),
        ("throttle >= -100", False),
        ("mode is normal", True),
        ("save is released", True),
        ("hold is on", True),
        ("pack < 30", True),
    ],
)
def test_a_timer_that_stands_still(runs: str, speaks: bool) -> None:
    """At the bottom of the stick the motor runs too: in idle-up, and in a rescue."""
    assert [x.subject for x in said(STOPS, {"timers.flight.runs": runs})] == ["flight"] * speaks


def test_where_a_timer_stands_still() -> None:
    (finding,) = said(STOPS, {"timers.flight.runs": "mode is normal"})
    assert finding.message.startswith("timer flight stands still while the craft flies in mode idle-up")
    assert finding.witness["flight"] != "normal"
    assert finding.outputs["motor"] > -95
    assert finding.primary.path == ("timers", "flight", "runs")


@pytest.mark.parametrize(
    ("edit", "subjects"),
    [
        ({"timers.show": {"seconds": 9, "runs": "mode is idle-up", "tone": True}}, []),
        ({"timers.show": {"seconds": 9, "runs": "flight is idle-up-1", "tone": True}}, ["flight, show"]),
        ({"timers.show": {"seconds": 9, "tone": True}}, []),
        ({"timers.show": {"seconds": 9, "runs": "mode is idle-up"}}, ["flight"]),
    ],
    ids=["shared", "a gap", "always", "unheard"],
)
def test_two_timers(edit: dict[str, Any], subjects: list[str]) -> None:
    assert [x.subject for x in said(STOPS, {"timers.flight.runs": "mode is normal", **edit})] == subjects


def test_a_timer_that_is_not_judged() -> None:
    assert unjudged(STOPS, remove=("craft.motor-off",)) == [], "it stands still only with hold on, so nobody flies"
    assert unjudged(STOPS, {"timers.flight.runs": "mode is normal"}, ("craft.motor-off",)) == [
        "craft.motor-off is not given"
    ]
    assert unjudged(STOPS, {"timers.flight.runs": "hld is off"}) != []
    assert unjudged(STOPS, remove=("timers",)) == []


def test_a_timer_that_never_counts_in_flight_is_none() -> None:
    spool = {"timers.spool": {"seconds": 10, "runs": "hold is on", "voice": "spool"}, "timers.flight.seconds": 900}
    assert [x.subject for x in said(LONG, spool)] == ["flight"]
    assert said(STOPS, spool) == []
    assert "no sounding timer ends by" in unjudged("voltage-alarm-missing", spool, NO_SENSOR)[0]
    assert "no sounding timer is given" in unjudged("voltage-alarm-missing", spool, (*NO_SENSOR, "timers.flight"))[0]
    assert [x.subject for x in said(STOPS, spool, ("timers.flight",))] == ["spool"], "alone it is taken for one"
