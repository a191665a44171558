"""Rules about the pack are judged with every pack that the craft flies on; sensors on a part of it."""

from __future__ import annotations

from pathlib import Path

import pytest

import setuplint
from setuplint.book.packs import of_other_counts
from setuplint.formats.finding_text import finding_block
from setuplint.formats.terminal import Look
from tests.checks.linted import linted
from tests.checks.test_battery import NO_SENSOR
from tests.rules.edits import edited

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


def because(text: str) -> set[str]:
    return {note.because for note in setuplint.lint_text(text, "packs.toml").not_judged}


def test_what_a_pack_lacks_is_told_by_its_own_keys() -> None:
    assert because(REFERENCE + '\n[packs.w]\ncells = "six"\n') == {"packs.w.cells cannot be read"}
    first = REFERENCE.replace("[battery]", "[packs.only]")
    assert because(first + "\n[packs.b]\ncells = 6\n") >= {
        "packs.b.chemistry is not given",
        "packs.b.capacity-mah is not given",
    }
    both = edited(REFERENCE, {"packs.w": {"cells": 6}}, ("battery.chemistry",))
    assert because(both) == {"battery.chemistry is not given"}
    (reason,) = because(edited(REFERENCE, {"packs.small": {"capacity-mah": 2000}}, NO_SENSOR))
    assert reason.endswith("80 % of the capacity at hover-current-a, with pack small")
    loud = edited(first, {"alarms.other": {"when": "pack < < 3", "tone": True}})
    assert all("with pack" not in reason for reason in because(loud))


def test_the_case_of_a_pack_is_in_its_own_volts() -> None:
    """36 V are 3 V a cell of twelve; and `trace`, which knows six alone, would refuse them."""
    muted = {
        "switches.ack": {"kind": "momentary"},
        "conditions.mute": {"when": "ack is pulled", "stays": 11},
        "alarms.land-now.when": "pack-low and not (mute and ack is released)",
        "conditions.pack-low.when": "pack < 43.2",
        "packs.twelve": {"cells": 12},
    }
    report = linted(muted, only=["voltage-alarm-below-floor"])
    own, other = sorted(report.findings, key=lambda finding: finding.pack)
    assert (own.pack, other.pack) == ("", "twelve")
    text = finding_block(report, other, Look(), set())
    assert "36 V (3 V a cell)" in text.replace("\u00a0", " ")
    assert "To see it" not in text
    assert "To see it" in finding_block(report, own, Look(), set())
    assert "motor -100 % (0 of 100)" in text.replace("\u00a0", " ")


def test_each_pack_that_can_never_show_a_threshold_is_named() -> None:
    rule = ["value-out-of-range"]
    (found,) = linted({"packs.a.cells": 6, "packs.b.cells": 5, "packs.c.cells": 3}, only=rule).findings
    assert found.message == "pack never shows 21.6 V with pack c: it goes from 0 to 15 there"
    other = {"packs.a.cells": 4, "packs.b.cells": 2, "packs.c.cells": 4}
    (found,) = linted({**other, "conditions.pack-low.when": "pack < 43.2"}, only=rule).findings
    assert found.message == (
        "pack never shows 43.2 V with the battery, with pack a or pack c or with pack b: "
        "it goes from 0 to 30, from 0 to 20 and from 0 to 10 there"
    )
    assert "with a number from 0 to 10" in found.remedy
    assert (
        linted(
            {"packs.c.cells": 3, "sensors.pack.cells": 3, "conditions.pack-low.when": "pack < 10"}, only=rule
        ).findings
        == ()
    )


def landing(when: str, **packs: int) -> dict[str, object]:
    """A motor that an override above the hold drives at some volts of the pack, and packs of so many cells."""
    land = {"channel": "motor", "value": -30, "when": when, "priority": 200}
    return {
        "sensors.cell": {"reads": "cell-voltage", "shown": True},
        "overrides.land": land,
        **{f"packs.{name}.cells": cells for name, cells in packs.items()},
    }


@pytest.mark.parametrize(("when", "cells"), [("pack > 29 and cell < 4", 12), ("pack < 12 and cell > 3.5", 3)])
def test_a_danger_with_another_pack_alone_is_found_and_names_it(when: str, cells: int) -> None:
    """RULES takes [battery], and the hold stops the motor with that; whoever flies the other pack is hurt all the same."""
    (found,) = linted(landing(when, same=6, other=cells, again=cells), only=["hold-bypassed"]).findings
    assert (found.subject, found.pack) == ("land with other", "other")
    assert found.message.startswith("with pack other: ")
    assert linted(landing(when), only=["hold-bypassed"]).findings == ()


def test_what_is_so_with_the_battery_is_not_told_of_other_packs_again() -> None:
    found = linted(landing("pack > 1", other=12), only=["hold-bypassed", "rescue-too-weak"]).findings
    assert [x.subject for x in found] == ["land", "land"]


def test_what_never_is_with_the_battery_and_is_with_another_pack_is_not_said_to_be_never() -> None:
    never = landing("pack > 29 and cell < 4")
    notices = ["override-shadowed", "condition-constant"]
    assert [x.rule for x in linted(never, only=notices).findings] == ["override-shadowed"]
    assert linted({**never, "packs.other.cells": 12}, only=notices).findings == ()
    assert [x.subject for x in linted({**never, "packs.other.cells": 7}, only=notices).findings] == ["land"]


@pytest.mark.parametrize(
    "edit", [{}, {"packs.twelve.cells": 6}, {"packs.twelve.cells": 12, "conditions.low": {"when": "pack < 20"}}]
)
def test_nothing_is_judged_again_where_the_pack_makes_no_difference(edit: dict[str, object]) -> None:
    setup = setuplint.load_text(edited(REFERENCE, edit)).model
    assert of_other_counts(setup) == []
