"""Rules about the pack are judged with every pack that the craft flies on; sensors on a part of it."""

from __future__ import annotations

from pathlib import Path

import pytest

import setuplint
from tests.checks.linted import linted

REFERENCE = (Path(__file__).parents[2] / "examples" / "reference.toml").read_text(encoding="utf-8")


def said(text: str) -> list[tuple[str, str]]:
    return [(f.rule, f.subject) for f in setuplint.lint_text(text, "packs.toml").findings]


def test_a_finding_of_another_pack_names_it_and_points_at_its_keys() -> None:
    text = REFERENCE + "\n[packs.small]\ncapacity-mah = 1500\n"
    report = setuplint.lint_text(text, "packs.toml")
    found = next(f for f in report.findings if f.rule == "flight-time-too-long")
    assert found.subject == "flight with small"
    assert found.message.startswith("with pack small: ")
    assert ("packs", "small", "capacity-mah") in [place.path for place in found.related]


def test_what_is_so_of_every_pack_is_said_once() -> None:
    text = REFERENCE.replace('when = "pack < 21.6"', 'when = "pack < 15"') + "\n[packs.winter]\nhover-current-a = 27\n"
    assert said(text).count(("voltage-alarm-below-floor", "land-now")) == 1
    assert not [rule for rule, subject in said(text) if "winter" in subject]


def test_of_one_pack_it_does_not_silence_what_is_said_of_another() -> None:
    """Too late for seven cells, and above a full pack of four: each in its own words."""
    text = REFERENCE.replace("cells = 6", "cells = 4") + "\n[packs.old]\ncells = 7\n"
    assert ("cell-count-mismatch", "land-now") in said(text)
    assert ("voltage-alarm-below-floor", "land-now with old") in said(text)


def test_without_a_battery_the_first_pack_is_in_its_place() -> None:
    text = REFERENCE.replace("[battery]", "[packs.only]")
    assert said(text) == said(REFERENCE) == []
    assert setuplint.load_text(text, "packs.toml").model.battery.cells == 6


@pytest.mark.parametrize(("volts", "speaks"), [("10.8", False), ("9.8", True)])
def test_a_sensor_on_half_the_pack_shows_half_its_volts(volts: str, speaks: bool) -> None:
    text = REFERENCE.replace('reads = "pack-voltage"', 'reads = "pack-voltage"\ncells = 3')
    found = said(text.replace('when = "pack < 21.6"', f'when = "pack < {volts}"'))
    assert (("voltage-alarm-below-floor", "land-now") in found) is speaks


def test_a_count_that_is_in_time_for_one_pack_is_late_for_a_smaller_one() -> None:
    edit = {
        "packs.winter": {"capacity-mah": 2000},
        "sensors.used": {"reads": "charge-used"},
        "alarms.used-up": {"when": "used > 2080", "voice": "charge", "repeat": 10},
    }
    (finding,) = linted(edit, only=["charge-alarm-late"]).findings
    assert finding.subject == "used-up with winter"
    assert "80 % of 2000 mAh is 1600 mAh" in finding.message
