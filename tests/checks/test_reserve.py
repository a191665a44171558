"""Battery advice: sag by current times resistance, charge and seconds left.

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
ORDER, BELOW = "alarm-order", "voltage-alarm-below-floor"
LOW, AFTER = "conditions.pack-low.when", "conditions.pack-low.after"
NO_ALARM = ("alarms.land-now", "conditions.pack-low")
EXAMPLES = Path(__file__).parents[2] / "examples"


def example(name: str, old: str, new: str) -> list[Finding]:
    text = (EXAMPLES / name).read_text(encoding="utf-8")
    assert text.count(old) == 1
    return list(setuplint.lint_text(text.replace(old, new), name=name).findings)


# -- three cells, loaded


def test_three_cells_at_11_volts_pass_and_at_9_do_not() -> None:
    assert example("kestrel.toml", "pack < 11.0", "pack < 11.0") == []
    (finding,) = example("kestrel.toml", "pack < 11.0", "pack < 9.0")
    assert (finding.rule, finding.subject) == (BELOW, "land-now")


@pytest.mark.parametrize("pack", ["9.9", "10.2", "10.35"])
def test_three_cells_between_are_late(pack: str) -> None:
    """On the trainer's 2200 mAh at 16 A, 3.45 V a cell is about 13 s."""
    (finding,) = example("kestrel.toml", "pack < 11.0", f"pack < {pack}")
    assert (finding.rule, finding.subject, finding.status) == (LATE, "land-now", "advice")


# -- nervous


@pytest.mark.parametrize(
    ("chemistry", "limit"), [("lipo", "3.75"), ("lihv", "3.8"), ("li-ion", "3.5"), ("life", "3.15")]
)
def test_threshold_and_sag_together_at_the_limit(chemistry: str, limit: str) -> None:
    """27 A through 21 mΩ take 0.567 V from six cells: the limit x 6 - 0.567 V speaks, 5 mV less does not."""
    at = float(Fraction(limit) * 6) - 0.567
    edit = {"battery.chemistry": chemistry}
    (finding,) = said(NERVOUS, {**edit, LOW: f"pack < {at:.3f}"})
    assert f"a cell of 3.5 mΩ down by about 0.09 V: the cells then still have about {limit} V" in finding.message
    assert (finding.subject, finding.status, finding.primary.path) == (
        "land-now",
        "advice",
        ("conditions", "pack-low", "when"),
    )
    assert said(NERVOUS, {**edit, LOW: f"pack < {at - 0.005:.3f}"}) == []


def test_the_charge_that_is_left_when_sag_trips_it() -> None:
    """3.8 V at rest: 43.4 to 70.3 % in the four sets of a LiPo pack's kind."""
    (finding,) = said(NERVOUS, {LOW: "pack < 22.233"})
    assert "about 3.8 V at rest and 43 to 71 % of their charge; from 3.75 V at rest on" in finding.message


def test_the_remedy_s_threshold_is_silent() -> None:
    (finding,) = said(NERVOUS, {LOW: "pack < 23"})
    found = re.search(r"a threshold under ([0-9.]+) V", finding.remedy)
    assert found is not None
    assert said(NERVOUS, {LOW: f"pack < {float(found[1]) - 0.001:.3f}"}) == []


def test_the_peak_counts_where_the_alarm_does_not_wait_it_out() -> None:
    """60 A take 0.21 V a cell: 3.81 V at rest. The hover's 0.0945 V is what a wait of two seconds leaves."""
    peak = {"battery.peak-current-a": 60}
    (finding,) = said(NERVOUS, {**peak, AFTER: 1.99})
    assert "60 A at the peak" in finding.message
    assert said(NERVOUS, {**peak, AFTER: 2}) == []
    (finding,) = said(NERVOUS, {**peak, AFTER: 2, LOW: "pack < 22.2"})
    assert "27 A in a hover" in finding.message
    assert said(NERVOUS, {**peak, LOW: "pack < 20"}) == []


def test_what_is_missing_for_sag() -> None:
    assert unjudged(NERVOUS, remove=("battery.hover-current-a",)) == ["battery.hover-current-a is not given"]
    assert unjudged(NERVOUS, remove=("battery.resistance-mohm",)) == ["battery.resistance-mohm is not given"]
    assert unjudged(NERVOUS, remove=("battery.chemistry",)) == ["battery.chemistry is not given"]
    assert unjudged(NERVOUS, remove=("battery.cells",)) == ["battery.cells is not given"]
    assert unjudged(NERVOUS, {"battery.peak-current-a": 40}, ("battery.hover-current-a",)) == []
    assert unjudged(NERVOUS, remove=("battery", *NO_ALARM)) == [], "nobody listens"
    cell = {"sensors.pack.reads": "cell-voltage", LOW: "pack < 3.6"}
    assert unjudged(NERVOUS, cell, ("battery.cells",)) == ["battery.cells is not given"]
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
        sorted(cells.charge_table(name, Fraction(volts) + Fraction(sag)) for name in cells.SETS[chemistry])
        for volts in (threshold, floor)
    ]
    upper, lower = ((c[(len(c) - 1) // 2] + c[len(c) // 2]) / 2 for c in charge)
    return float(upper - lower) / 100 * capacity * 3.6 / current


@pytest.mark.parametrize(
    ("chemistry", "threshold", "floor"), [("lipo", "3.5", "3.3"), ("li-ion", "3.1", "3.0"), ("life", "2.9", "2.8")]
)
def test_seconds_in_the_message(chemistry: str, threshold: str, floor: str) -> None:
    wanted = seconds(chemistry, threshold, floor, "0.0945", 2600, 27)
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
    assert (float(found[1]) - float(found[2])) / 100 * 2600 * 3.6 / 27 == pytest.approx(int(found[3]), abs=1.1)


def test_forty_seconds_are_enough() -> None:
    """Seconds go with the capacity: the one that leaves 40 s and the wait of 1.5 s passes, 2 mAh less does not."""
    each = seconds("lipo", "3.6", "3.3", "0.0945", 1, 27)
    enough = 41.5 / each
    timer = {"timers.flight.seconds": 60}
    assert said(LATE, {**timer, "battery.capacity-mah": round(enough + 1, 1)}) == []
    assert len(said(LATE, {**timer, "battery.capacity-mah": round(enough - 1, 1)})) == 1
    assert said(LATE, {**timer, "battery.capacity-mah": round(enough - 50, 1), AFTER: 0}) == []


def test_exactly_forty_seconds() -> None:
    """A Prada2013 cell has 2.9781 V at 10 % and 3.0308 V at 12 %. 10 A through 17.81 mΩ a cell take 0.1781 V, so that the
    floor of 2.8 V is reached at 10 %, and 2.8527 V at 12 %. 2 % of 5600 mAh are 112 mAh: 40.32 s at 10 A."""
    battery = {"chemistry": "life", "cells": 6, "capacity-mah": 5600, "resistance-mohm": 106.86, "hover-current-a": 10}
    edit = {"battery": battery, LOW: "pack < 17.1162"}
    assert said(LATE, {**edit, AFTER: 0.32}) == []
    (finding,) = said(LATE, {**edit, AFTER: 0.33})
    assert (
        "at 10 A a cell sags by about 0.18 V, so that about 12 % of the charge is left then and about 10 % at the floor of 2.8 V"
        in finding.message
    )
    assert "12.0 % and 10.0 % of 5600 mAh that is about 40 s of hover, 0.33 s of which it waits" in finding.message


def test_no_mode_is_named_where_it_is_late_in_all() -> None:
    (finding,) = said(LATE, {LOW: "pack < 21", AFTER: 5})
    assert finding.message.startswith("alarm land-now sounds at 21 V, which is 3.5 V a cell on 6 cells; at 27 A")
    assert "is the most" not in finding.message, "5 s are not too many"
    assert finding.witness == {}


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
    assert "Here that is" not in finding.remedy, "the threshold is right"
    assert said(LATE, {AFTER: 5}) == []
    cells_alone = {"battery.cells": 6, AFTER: 5.1}
    assert len(said(LATE, cells_alone, ("battery",))) == 1, "for that nothing else of the battery need be known"


def test_an_edit_only_where_it_is_enough() -> None:
    """With 45.5 s a wait of 6 s leaves 39.5 s, one of 5 s leaves 40.5 s; with 44.5 s neither will do."""
    each = seconds("lipo", "3.6", "3.3", "0.0945", 1, 27)
    timer = {"timers.flight.seconds": 60}
    (finding,) = said(LATE, {**timer, "battery.capacity-mah": round(45.5 / each, 1), AFTER: 6})
    assert finding.edit is not None
    assert said(LATE, {**timer, "battery.capacity-mah": round(45.5 / each, 1), AFTER: 5}) == []
    (finding,) = said(LATE, {**timer, "battery.capacity-mah": round(44.5 / each, 1), AFTER: 6})
    assert finding.edit is None
    assert finding.primary.path == ("conditions", "pack-low", "when"), "first of all it speaks too low"
    assert "it waits 6 s below that, and 5 s is the most" in finding.message


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
    assert finding.message.startswith("in mode idle-up, alarm last sounds at 20.4 V")
    assert finding.witness["flight"] == "idle-up-1"
    idle = {"when": "pack < 21.9 and mode is idle-up", "tone": True, "repeat": 3}
    assert said(LATE, {**here, "alarms.idle": idle}) == []


def test_the_late_one_is_the_one_that_sounds_there() -> None:
    """In normal the first is in time, whatever the second does; in idle-up there is only the third."""
    edit = {
        "alarms.land-now.when": "pack-low and mode is normal",
        "alarms.second": {"when": "pack < 20.7 and mode is normal and rates is full", "tone": True, "repeat": 3},
        "alarms.third": {"when": "pack < 20.4 and mode is idle-up", "tone": True, "repeat": 3},
    }
    (finding,) = said(LATE, edit)
    assert finding.subject == "third"


MUTE = {"switches.mute": {"kind": "two-position"}}


@pytest.mark.parametrize(
    ("when", "speaks"),
    [
        ("pack < 21.6 and mute is off or pack < 19.8", True),
        ("(pack < 21.6 and mute is off or pack < 19.8) and hold is off", True),
        ("not (pack >= 21.6 or mute is on) or not pack >= 19.8", True),
        ("quiet or pack < 19.8", True),
        ("pack < 21.6 or pack < 19.8", False),
        ("pack < 21.6 and mute is off or pack < 21.9 and mute is on or pack < 19.8", False),
        ("pack < 19.8 or mute is on or pack < 21.6 and mute is off", False),
        ("slow or pack < 21.5", False),
        ("slow or pack < 20.4", True),
    ],
)
def test_each_threshold_of_one_alarm_is_judged_as_that_of_an_alarm_of_its_own(when: str, speaks: bool) -> None:
    own = {
        "conditions.quiet": {"when": "pack < 21.6 and mute is off"},
        "conditions.slow": {"when": "pack < 21.6", "after": 6},
    }
    found = said(LATE, {**MUTE, **own, "alarms.land-now.when": when})
    assert [x.subject for x in found] == ["land-now"] * speaks
    if speaks and "slow" not in when:
        assert "alarm land-now sounds at 19.8 V" in found[0].message
        assert found[0].witness["mute"] == "on"


@pytest.mark.parametrize("length", [3, 3000])
def test_ways_through_many_conditions_are_bounded(length: int) -> None:
    chain = {f"conditions.c{k}": {"when": f"{f'c{k - 1}' if k else 'low'} and hold is off"} for k in range(length)}
    first = {"conditions.low": {"when": "pack < 21.6 and mute is off or pack < 19.8"}, **MUTE}
    edit = {**first, **chain, "alarms.land-now.when": f"c{length - 1}"}
    many = "the thresholds of alarm land-now are too many, or latched, to be judged one by one"
    report = linted(edit, only=[LATE])
    assert (len(report.findings), [x.because for x in report.not_judged]) == ((1, []) if length == 3 else (0, [many]))


def test_more_ways_than_can_be_told_apart_are_named() -> None:
    ways = " or ".join(f"pack < {19.8 + k / 10:.1f} and throttle > {k}" for k in range(17))
    assert any(
        "too many, or latched" in reason
        for reason in unjudged(LATE, {"alarms.land-now.when": f"pack < 21.6 or {ways}"})
    )


def test_a_slow_one_beside_one_that_is_not_judged() -> None:
    other = {AFTER: 6, "alarms.other": {"when": "pack < 21.9", "tone": True, "repeat": 5}}
    assert unjudged(LATE, other, ("battery.chemistry",)) == ["battery.chemistry is not given"]
    assert said(LATE, other) == []


def test_below_the_floor_is_not_also_late() -> None:
    assert [x.rule for x in linted({LOW: "pack < 18"}).findings] == [BELOW]


def test_what_is_missing_for_seconds() -> None:
    for key in ("capacity-mah", "resistance-mohm", "hover-current-a"):
        assert unjudged(LATE, remove=(f"battery.{key}",)) == [f"battery.{key} is not given"]
    assert unjudged(LATE, {"battery.hover-current-a": 0}) == []
    assert unjudged(LATE, remove=("battery", *NO_ALARM)) == [], "nobody listens"


# -- without a resistance


@pytest.mark.slow
@pytest.mark.parametrize("chemistry", ["lipo", "li-ion", "life"])
@pytest.mark.parametrize(("upper", "lower"), [("3.31", "3.3"), ("3.5", "3.3"), ("3.62", "3.05"), ("2.95", "2.8")])
def test_the_most_over_every_sag_is_no_less_than_any_that_is_tried(chemistry: str, upper: str, lower: str) -> None:
    """A thousand sags up to 0.4 V: the most of them is met, nearly, and never passed."""
    high, low, span = Fraction(upper), Fraction(lower), Fraction("0.4")
    most = cells.most_between(chemistry, high, low, span)
    tried = [cells.charge_between(chemistry, high + s, low + s).median for s in (span * k / 1000 for k in range(1001))]
    assert max(tried) <= most
    assert most - max(tried) < Fraction(1, 20)


def test_without_a_resistance_the_floor_leaves_nothing_and_more_is_not_judged() -> None:
    remove = ("battery.resistance-mohm",)
    (finding,) = said(LATE, {LOW: "pack < 19.8"}, remove)
    assert (
        "whatever the resistance (a sag of up to 0.4 V a cell), down to the floor of 3.3 V there are no more than"
        in (finding.message)
    )
    assert "about 0 s of hover, 1.5 s of which it waits, where 40 s are wanted" in finding.message
    assert finding.edit is not None
    assert finding.edit.value == '"pack < 21.6"'
    assert unjudged(LATE, {LOW: "pack < 21.0"}, remove) == ["battery.resistance-mohm is not given"]
    assert [f.subject for f in said(LATE, {AFTER: 6}, remove)] == ["land-now"], "it waits too long, whatever the pack"
