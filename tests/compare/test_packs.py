"""Setups that are flown with packs of several counts of cells: what only another pack shows is not proved the same."""

from __future__ import annotations

import setuplint
from setuplint.comparison.safety import changes_elsewhere
from tests.checks.linted import TEXT

TWELVE = TEXT.replace("[sticks.throttle]", "[packs.twelve]\ncells = 12\n\n[sticks.throttle]", 1)
LOW = """
[overrides.low]
channel = "motor"
at-most = 50
when = "pack < 40"
priority = 5
[alarms.low]
when = "pack < 40"
tone = true
"""  # six cells show 30 V at most, twelve 60
HIGHER = LOW.replace("40", "45")


def test_what_another_pack_alone_shows_is_named() -> None:
    one, other = (setuplint.load_text(TWELVE + each, "x.toml") for each in (LOW, HIGHER))
    compared = setuplint.compare(one, other)
    assert compared.changes == ()
    (said,) = compared.open
    assert said.subject == "pack twelve"
    assert said.because.startswith("with 12 cells there are more differences: channel motor, alarm low;")
    with_it = [
        setuplint.load_text(text.replace("cells = 6", "cells = 12", 1), "x.toml")
        for text in (TWELVE + LOW, TWELVE + HIGHER)
    ]
    assert {each.subject for each in setuplint.compare(*with_it).changes} == {"motor", "low"}
    assert setuplint.compare(one, one).open == ()
    assert setuplint.compare(*with_it).open == ()


def test_what_is_told_of_the_battery_is_not_told_of_another_pack() -> None:
    one, other = (
        setuplint.load_text(TWELVE + each, "x.toml") for each in (LOW, LOW.replace("at-most = 50", "at-most = 20"))
    )
    compared = setuplint.compare(one, other)
    assert {each.subject for each in compared.changes} == {"motor"}
    assert compared.open == ()


def test_a_remedy_changes_nothing_with_another_pack_either() -> None:
    one, other = (setuplint.load_text(TWELVE + each, "x.toml").model for each in (LOW, HIGHER))
    assert "it also changes motor where the hazard is not" in changes_elsewhere(one, other, None)
    assert changes_elsewhere(one, one, None) == ""
