"""Battery advice: sag by current times resistance, charge and seconds left, full packs, and the order of two stages.

Every number here is worked out by hand beside its test; the charges are those of `cells`, checked on their own.
"""

from __future__ import annotations

import re
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

import setuplint
from setuplint.checks import cells
from setuplint.findings import Finding
from tests.checks.linted import linted, said, unjudged

ALWAYS, NERVOUS, LATE = "voltage-alarm-always", "voltage-alarm-nervous", "voltage-alarm-late"
ORDER, FLAT, BELOW = "alarm-order", "voltage-warns-late", "voltage-alarm-below-floor"
LOW, AFTER = "conditions.pack-low.when", "conditions.pack-low.after"
NO_ALARM = ("alarms.land-now", "conditions.pack-low")
EXAMPLES = Path(__file__).parents[2] / "examples"


def example(name: str, old: str, new: str) -> list[Finding]:
    text = (EXAMPLES / name).read_text(encoding="utf-8")
    assert text.count(old) == 1
    return list(setuplint.lint_text(text.replace(old, new), name=name).findings)


# -- practice's own figures


def test_three_cells_at_10_8_volts_pass_and_at_9_do_not() -> None:
    assert example("kestrel.toml", "pack < 10.8", "pack < 10.8") == []
    (finding,) = example("kestrel.toml", "pack < 10.8", "pack < 9.0")
    assert (finding.rule, finding.subject) == (BELOW, "land-now")


@pytest.mark.parametrize("pack", ["9.9", "10.2", "10.35"])
def test_three_cells_between_are_late(pack: str) -> None:
    """On the trainer's 2200 mAh at 16 A, 3.45 V a cell is about 22 s."""
    (finding,) = example("kestrel.toml", "pack < 10.8", f"pack < {pack}")
    assert (finding.rule, finding.subject, finding.status) == (LATE, "land-now", "advice")


# -- nervous


@pytest.mark.parametrize(
    ("chemistry", "limit"), [("lipo", "3.75"), ("lihv", "3.8"), ("li-ion", "3.5"), ("life", "3.15")]
)
def test_threshold_and_sag_together_at_the_limit(chemistry: str, limit: str) -> None:
    """24 A through 21 mΩ take 0.504 V from six cells: the limit x 6 - 0.504 V speaks, 5 mV less does not."""
    at = float(Fraction(limit) * 6) - 0.504
    edit = {"battery.chemistry": chemistry}
    (finding,) = said(NERVOUS, {**edit, LOW: f"pack < {at:.3f}"})
    assert f"a cell of 3.5 mΩ down by about 0.08 V: it speaks of cells that have about {limit} V" in finding.message
    assert (finding.subject, finding.status, finding.primary.path) == (
        "land-now",
        "advice",
        ("conditions", "pack-low", "when"),
    )
    assert said(NERVOUS, {**edit, LOW: f"pack < {at - 0.005:.3f}"}) == []


def test_the_remedy_s_threshold_is_silent() -> None:
    (finding,) = said(NERVOUS, {LOW: "pack < 23"})
    found = re.search(r"a threshold under ([0-9.]+) V", finding.remedy)
    assert found is not None
    assert said(NERVOUS, {LOW: f"pack < {float(found[1]) - 0.001:.3f}"}) == []


def test_the_peak_counts_where_the_alarm_does_not_wait_it_out() -> None:
    """60 A take 0.21 V a cell: 3.81 V at rest. The hover's 0.084 V is what a wait of two seconds leaves."""
    peak = {"battery.peak-current-a": 60}
    (finding,) = said(NERVOUS, {**peak, AFTER: 1.99})
    assert "60 A at the peak" in finding.message
    assert said(NERVOUS, {**peak, AFTER: 2}) == []
    (finding,) = said(NERVOUS, {**peak, AFTER: 2, LOW: "pack < 22.2"})
    assert "24 A in a hover" in finding.message
    assert said(NERVOUS, {**peak, LOW: "pack < 20"}) == []


def test_what_is_missing_for_sag() -> None:
    assert unjudged(NERVOUS, remove=("battery.hover-current-a",)) == ["battery.hover-current-a is not given"]
    assert unjudged(NERVOUS, remove=("battery.resistance-mohm",)) == ["battery.resistance-mohm is not given"]
    assert unjudged(NERVOUS, remove=("battery.chemistry",)) == ["battery.chemistry is not given"]
    assert unjudged(NERVOUS, remove=("battery.cells",)) == ["battery.cells is not given"]
    assert unjudged(NERVOUS, {"battery.peak-current-a": 40}, ("battery.hover-current-a",)) == []
    assert unjudged(NERVOUS, remove=("battery", *NO_ALARM)) == [], "nobody listens"
    assert unjudged(NERVOUS, {"battery.resistance-mohm": "low"}) == ["battery.resistance-mohm cannot be read"]


@pytest.mark.parametrize(
    ("edit", "speaks"),
    [
        ({LOW: "pack < 22.2 or pack < 21.6"}, True),
        ({LOW: "pack < 22.2 and pack < 21.6"}, False),
        ({LOW: "not (pack >= 22.2 or pack >= 21.6)"}, False),
        ({LOW: "not (pack >= 22.2 and pack >= 21.6)"}, True),
        ({LOW: "pack > 6 and pack < 21.6"}, False),
        ({LOW: "pack < 21.6", "conditions.pack-low.until": "pack > 22.4"}, False),
        ({LOW: "pack < 22.2", "conditions.pack-low.until": "pack > 22.4"}, True),
        ({LOW: "pack < 22.2 and throttle > 0"}, True),
        ({LOW: "pack > 22.2"}, False),
    ],
)
def test_which_threshold_of_a_formula_counts(edit: dict[str, Any], speaks: bool) -> None:
    """Of parts that must all hold the lowest, of parts of which one will do the highest; not what resets a latch."""
    assert [x.rule for x in said(NERVOUS, edit)] == [NERVOUS] * speaks


def test_a_threshold_that_no_pack_can_show_is_another_rule_s() -> None:
    """Six cells show 30 V at most."""
    for rule in (NERVOUS, ALWAYS, LATE, ORDER):
        assert said(rule, {"alarms.other": {"when": "pack < 31", "tone": True, "repeat": 5}}) == []


# -- late


def seconds(chemistry: str, threshold: str, floor: str, sag: str, capacity: int, current: int) -> float:
    charge = [
        sorted(cells.charge(name, Fraction(volts) + Fraction(sag)) for name in cells.SETS[chemistry])
        for volts in (threshold, floor)
    ]
    upper, lower = ((c[(len(c) - 1) // 2] + c[len(c) // 2]) / 2 for c in charge)
    return float(upper - lower) / 100 * capacity * 3.6 / current


@pytest.mark.parametrize(
    ("chemistry", "threshold", "floor"), [("lipo", "3.5", "3.3"), ("li-ion", "3.1", "3.0"), ("life", "2.9", "2.8")]
)
def test_seconds_in_the_message(chemistry: str, threshold: str, floor: str) -> None:
    wanted = seconds(chemistry, threshold, floor, "0.084", 2600, 24)
    (finding,) = said(LATE, {"battery.chemistry": chemistry, LOW: f"pack < {float(Fraction(threshold) * 6):g}"})
    found = re.search(r"about (\d+) s (?:\((\d+) to (\d+) s\) )?of hover, 1.5 s of which it waits", finding.message)
    assert found is not None, finding.message
    assert int(found[1]) == int(wanted)
    assert (found[2] is None) == (chemistry == "life"), "one published cell has no range"
    if found[2] is not None:
        assert int(found[2]) <= int(found[1]) <= int(found[3])
    assert f"the floor of {float(floor):g} V" in finding.message
    assert "40 s are wanted" in finding.message
    assert finding.status == "advice"


def test_the_charge_in_the_message_gives_the_seconds_again() -> None:
    (finding,) = said(LATE, {LOW: "pack < 21"})
    found = re.search(r"medians ([0-9.]+) % and ([0-9.]+) % of 2600 mAh that is about (\d+) s", finding.message)
    assert found is not None
    assert (float(found[1]) - float(found[2])) / 100 * 2600 * 3.6 / 24 == pytest.approx(int(found[3]), abs=1.1)


def test_forty_seconds_are_enough() -> None:
    """Seconds go with the capacity: the one that leaves 40 s and the wait of 1.5 s passes, 2 mAh less does not."""
    each = seconds("lipo", "3.6", "3.3", "0.084", 1, 24)
    enough = 41.5 / each
    timer = {"timers.flight.seconds": 60}
    assert said(LATE, {**timer, "battery.capacity-mah": round(enough + 1, 1)}) == []
    assert len(said(LATE, {**timer, "battery.capacity-mah": round(enough - 1, 1)})) == 1
    assert said(LATE, {**timer, "battery.capacity-mah": round(enough - 50, 1), AFTER: 0}) == []


def test_the_remedy_s_threshold_is_in_time() -> None:
    (finding,) = said(LATE, {LOW: "pack < 20.4"})
    found = re.search(r"from about ([0-9.]+) V, ([0-9.]+) V a cell on", finding.remedy)
    assert found is not None
    assert said(LATE, {LOW: f"pack < {found[1]}"}) == []
    assert len(said(LATE, {LOW: f"pack < {float(found[1]) - 0.06:.2f}"})) == 1


def test_a_wait_of_more_than_five_seconds() -> None:
    (finding,) = said(LATE, {AFTER: 5.1})
    assert finding.message.endswith("it waits 5.1 s below that, and 5 s is the most")
    assert finding.edit is not None
    assert (finding.edit.path, finding.edit.value) == (("conditions", "pack-low", "after"), "5")
    assert said(LATE, {AFTER: 5}) == []
    cells_alone = {"battery.cells": 6, AFTER: 5.1}
    assert len(said(LATE, cells_alone, ("battery",))) == 1, "for that nothing else of the battery need be known"


def test_waits_add_up_through_conditions() -> None:
    slow = {"conditions.still-low": {"when": "pack-low", "after": 4}, "alarms.land-now.when": "still-low"}
    (finding,) = said(LATE, slow)
    assert "it waits 5.5 s" in finding.message
    assert finding.edit is None, "either could be the one that is too long"
    lingering = {
        "conditions.good": {"when": "pack >= 21.6", "stays": 6},
        "alarms.land-now.when": "not good and hold is off",
    }
    (finding,) = said(LATE, lingering)
    assert finding.primary.path == ("conditions", "good", "stays")


def test_the_first_of_two_stages_may_be_in_time_alone() -> None:
    last = {"alarms.land-at-once": {"when": "pack < 20.4", "voice": "at once", "repeat": 3}}
    assert said(LATE, last) == []
    (finding,) = said(LATE, {**last, LOW: "pack < 21"})
    assert finding.subject == "land-now", "the one that leaves more"


def test_in_time_in_one_mode_only() -> None:
    here = {"alarms.land-now.when": "pack-low and mode is normal"}
    (finding,) = said(LATE, {**here, "alarms.last": {"when": "pack < 20.4", "tone": True, "repeat": 3}})
    assert finding.message.startswith("in mode idle-up, alarm last speaks at 20.4 V")
    assert finding.witness["flight"] == "idle-up-1"
    idle = {"when": "pack < 21.9 and mode is idle-up", "tone": True, "repeat": 3}
    assert said(LATE, {**here, "alarms.idle": idle}) == []


def test_below_the_floor_is_not_also_late() -> None:
    assert [x.rule for x in linted({LOW: "pack < 18"}).findings] == [BELOW]


def test_what_is_missing_for_seconds() -> None:
    for key in ("capacity-mah", "resistance-mohm", "hover-current-a"):
        assert unjudged(LATE, remove=(f"battery.{key}",)) == [f"battery.{key} is not given"]
    assert unjudged(LATE, {"battery.hover-current-a": 0}) == []


# -- full packs


@pytest.mark.parametrize(
    ("chemistry", "full"), [("lipo", "4.2"), ("lihv", "4.35"), ("li-ion", "4.2"), ("life", "3.65")]
)
def test_full_packs_of_six(chemistry: str, full: str) -> None:
    pack = float(Fraction(full) * 6)
    edit = {"battery.chemistry": chemistry}
    assert said(ALWAYS, {**edit, LOW: f"pack < {pack:g}"}) == []
    for written in ("pack < {:.2f}", "not pack >= {:.2f}", "pack <= {:.2f} and hold is off"):
        (finding,) = said(ALWAYS, {**edit, LOW: written.format(pack + 0.01)})
        assert f"{pack:g} V ({full} V a cell on 6 cells): it is set to sound below {pack + 0.01:.2f}" in finding.message
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
    edit = {LOW: "pack < 26 and hold is off", "conditions.pack-low.until": "hold is on"}
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
