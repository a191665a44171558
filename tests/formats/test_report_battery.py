"""The battery's drawing: where its marks stand, by the numbers of the file."""

from __future__ import annotations

import re
from fractions import Fraction
from pathlib import Path

import setuplint
from setuplint.book import rulebook
from setuplint.pages.report_battery import LEFT, Pack, battery_drawing, battery_figure, battery_remarks, pack_of
from setuplint.setup.model import Setup

REFERENCE = (Path(__file__).parent.parent.parent / "examples" / "reference.toml").read_text(encoding="utf-8")


def model(*changes: tuple[str, str]) -> Setup:
    text = REFERENCE
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    return setuplint.load_text(text).model


def pack(setup: Setup) -> Pack:
    return pack_of(setup, rulebook.rules())


def test_sag_is_current_times_resistance_of_a_cell() -> None:
    """Six cells of 21 milliohm together: 3.5 each, 27 A take 94.5 mV of a cell, 90 A take 315 mV."""
    found = pack(model(("hover-current-a = 27", "hover-current-a = 27\npeak-current-a = 90")))
    assert [sag.volts for sag in found.sags] == [Fraction(945, 10000), Fraction(315, 1000)]
    assert found.alarms == (("land-now", Fraction(36, 10)),)
    assert (found.floor, found.full) == (Fraction(33, 10), Fraction(42, 10))


def test_marks_stand_by_their_volts() -> None:
    """One scale for all: the ticks' own places say where the floor, the alarm, the sag and a full cell belong."""
    drawn = battery_drawing(pack(model()))
    ticks = dict(re.findall(r'<text x="([\d.]+)" y="82" class="mid quiet">([\d.]+)<', drawn))
    (x1, v1), *_, (x2, v2) = ((float(x), float(v)) for x, v in ticks.items())

    def at(volts: float) -> float:
        return x1 + (volts - v1) / (v2 - v1) * (x2 - x1)

    for kind, volts in (("floor", 3.3), ("alarm", 3.6), ("full", 4.2)):
        (x,) = re.findall(rf'<line x1="([\d.]+)"[^>]* class="{kind}"', drawn)
        assert abs(float(x) - at(volts)) < 0.2, kind
    ((x, wide),) = re.findall(r'<rect x="([\d.]+)" y="[\d.]+" width="([\d.]+)" height="[\d.]+" class="band b0"', drawn)
    assert abs(float(x) - at(3.6)) < 0.2
    assert abs(float(x) + float(wide) - at(3.6945)) < 0.2
    ((x, wide),) = re.findall(r'<rect x="([\d.]+)" y="[\d.]+" width="([\d.]+)" height="[\d.]+" class="ruin"', drawn)
    assert (float(x), round(float(x) + float(wide))) == (LEFT, round(at(3.3)))


def test_what_is_not_given_is_not_drawn_and_is_said() -> None:
    bare = model(("resistance-mohm = 21", "# resistance-mohm = 21"))
    assert pack(bare).sags == ()
    assert any("No sag is drawn" in each for each in battery_remarks(bare.battery, pack(bare)))
    other = model(('chemistry = "lipo"', '# chemistry = "lipo"'))
    assert any("No floor is drawn" in each for each in battery_remarks(other.battery, pack(other)))
    assert 'class="floor"' not in battery_figure(other, rulebook.rules())
    unplaced = model(("cells = 6", "# cells = 6"))
    assert pack(unplaced).unplaced == ("land-now",)
    assert "Not drawn: land-now" in battery_figure(unplaced, rulebook.rules())


def test_without_a_battery_there_is_nothing() -> None:
    setup = setuplint.load_text("format = 1\n[craft]\nname = 'Heron'\n").model
    assert battery_figure(setup, rulebook.rules()) == ""
