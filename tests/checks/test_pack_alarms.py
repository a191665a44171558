"""Alarms of the pack: on a full pack, in the right order, and LiFePO4 by its voltage alone."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from tests.checks.linted import said, unjudged

ALWAYS, ORDER, FLAT = "voltage-alarm-always", "alarm-order", "voltage-warns-late"
LOW = "conditions.pack-low.when"
NO_ALARM = ("alarms.land-now", "conditions.pack-low")


# -- full packs


@pytest.mark.parametrize(
    ("chemistry", "full"), [("lipo", "4.2"), ("lihv", "4.35"), ("li-ion", "4.2"), ("life", "3.65")]
)
def test_full_packs_of_six(chemistry: str, full: str) -> None:
    pack = float(Fraction(full) * 6)
    edit = {"battery.chemistry": chemistry}
    assert said(ALWAYS, {**edit, LOW: f"pack < {pack:g}"}) == []
    assert said(ALWAYS, {**edit, LOW: f"pack < {pack + 0.01:.2f}"}) == [], (
        "it fits seven cells: cell-count-mismatch says so"
    )
    for written in ("pack <= {:.2f}", "not pack > {:.2f}", "pack <= {:.2f} and hold is off"):
        (finding,) = said(ALWAYS, {**edit, LOW: written.format(pack)})
        assert f"{pack:g} V ({full} V a cell on 6 cells): it is set to sound below {pack:g}" in finding.message
        assert finding.witness["pack"] == pack
        assert "link" not in finding.witness


def test_the_wrong_way_round() -> None:
    (finding,) = said(ALWAYS, {LOW: "pack > 21.6"})
    assert "it is set to sound above 21.6 V, 3.6 V a cell" in finding.message


def test_a_cell_s_sensor_says_volts_a_cell() -> None:
    (finding,) = said(ALWAYS, {"sensors.pack.reads": "cell-voltage", LOW: "pack < 4.21"})
    assert "a full pack at rest, 4.2 V a cell: it is set to sound below 4.21 V" in finding.message
    assert unjudged(ALWAYS, {"sensors.pack.reads": "cell-voltage", LOW: "pack < 3.6"}, ("battery.cells",)) == []
    assert unjudged(ALWAYS, remove=("battery.cells",)) == ["battery.cells is not given"]
    assert unjudged(ALWAYS, remove=("battery.chemistry",)) == ["battery.chemistry is not given"]
    assert unjudged(ALWAYS, remove=("battery", *NO_ALARM)) == [], "nobody listens"


@pytest.mark.parametrize(
    "when",
    [
        "pack > 6 and link < 60",
        "pack > 6 and link is lost",
        "pack < 21.6 or link < 60",
        "pack > 6 and empty",
        "pack is lost or pack < 21.6",
    ],
)
def test_a_full_pack_must_be_the_reason(when: str) -> None:
    """Other sensors at rest, and nothing remembered of an empty pack."""
    edit = {
        "conditions.empty": {"when": "pack < 20.4", "until": "hold is on"},
        "alarms.other": {"when": when, "tone": True},
    }
    assert said(ALWAYS, edit) == []


def test_a_latch_that_a_full_pack_sets() -> None:
    edit = {LOW: "pack <= 25.2 and hold is off", "conditions.pack-low.until": "hold is on"}
    (finding,) = said(ALWAYS, edit)
    assert finding.witness["pack"] == 25.2


# -- order


LAST = {"when": "pack < 20.4", "tone": True, "repeat": 3}


def test_the_lower_without_the_higher() -> None:
    (finding,) = said(ORDER, {"alarms.last": LAST, "alarms.land-now.when": "pack-low and rates is soft"})
    assert finding.subject == "last, land-now"
    assert finding.witness["rates"] == "full"
    assert "alarm last (3.4 V a cell) can sound without alarm land-now (3.6 V a cell)" in finding.message
    assert finding.primary.path == ("alarms", "land-now", "when")


@pytest.mark.parametrize(
    "edit",
    [
        {"alarms.last": LAST},
        {"alarms.last": {**LAST, "when": "pack < 20.4 or link < 60"}},
        {"alarms.last": {**LAST, "when": "empty"}, "conditions.empty": {"when": "pack < 20.4", "until": "hold is on"}},
        {"alarms.last": {**LAST, "when": "cell < 3.4"}, "sensors.cell": {"reads": "cell-voltage"}},
        {"alarms.last": {"when": "pack < 20.4"}, "alarms.land-now.when": "pack-low and rates is soft"},
    ],
    ids=["both always", "of the link", "remembered", "the other sensor lost", "without a sound"],
)
def test_the_order_is_kept(edit: dict[str, Any]) -> None:
    assert said(ORDER, edit) == []


def test_comparisons_the_other_way_round() -> None:
    last = {**LAST, "when": "not pack >= 20.4 and hold is off"}
    (finding,) = said(ORDER, {"alarms.last": last, "alarms.land-now.when": "pack-low and rates is soft"})
    assert finding.subject == "last, land-now"


def test_an_order_that_is_not_judged() -> None:
    assert unjudged(ORDER, {"alarms.last": LAST}, ("battery.cells",)) == ["battery.cells is not given"]
    assert unjudged(ORDER, {"alarms.last": LAST, "alarms.land-now.when": "pack-lw"}) != []


def test_one_finding_for_three_stages() -> None:
    """The first and the second are mute in one position; only the last sounds there, without either."""
    edit = {
        "alarms.first": {"when": "pack < 21.9 and rates is soft", "tone": True, "repeat": 9},
        "alarms.land-now.when": "pack-low and rates is soft",
        "alarms.last": LAST,
    }
    (finding,) = said(ORDER, edit)
    assert finding.subject == "last, land-now"
    shared = {**edit, "alarms.land-now.when": "pack-low and rates is full"}
    assert [x.subject for x in said(ORDER, shared)] == ["land-now, first"], (
        "the last has one of them before it everywhere"
    )


# -- LiFePO4


LIFE = {"battery.chemistry": "life", LOW: "pack < 18.3"}


def test_lifepo4_by_its_voltage_alone() -> None:
    (finding,) = said(FLAT, LIFE, ("timers.flight",))
    assert "3.3 V is about 77 % full and 3.2 V about 29 %" in finding.message
    assert said(FLAT, LIFE) == []
    assert said(FLAT, {**LIFE, "timers.flight.tone": True}, ("timers.flight.voice",)) == []
    assert said(FLAT, LIFE, ("timers.flight", *NO_ALARM)) == [], "there is no voltage alarm to rely on"
    used = {"sensors.used": {"reads": "charge-used"}, "alarms.used-up": {"when": "used > 2000", "tone": True}}
    assert said(FLAT, {**LIFE, **used}, ("timers.flight",)) == []
    mute = {**used, "alarms.used-up": {"when": "used > 2000"}}
    assert len(said(FLAT, {**LIFE, **mute}, ("timers.flight",))) == 1
    assert unjudged(FLAT, remove=("battery.chemistry",)) == ["battery.chemistry is not given"]
    assert unjudged(FLAT, {**LIFE, "timers.flight.seconds": "long"}) == ["timers.flight cannot be read"]
