"""What explains readings is the one thing that the transmitter holds otherwise, found again from the readings alone."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from setuplint.bench.card_model import Row
from setuplint.records import explain
from setuplint.records.checked import checked_record
from setuplint.records.explain import explained_check
from tests.records.made import Reads, of_setup, record, reference

POINTS = [[-100, -100], [-50, -14], [0, 10], [50, 46], [100, 100]]
HELD = [
    ({"channels.roll.reversed": True}, "roll is reversed"),
    ({"channels.motor.reversed": True}, "motor is reversed"),
    ({"channels.pitch.travel": [100, 80]}, "the travel up of pitch is +80 %, not +100 %"),
    ({"channels.pitch.travel": [90, 90]}, "the travel of pitch, both ways, is +90 %, not +100 %"),
    ({"channels.roll.sub-trim": 6}, "the sub-trim of roll is +6 %, not 0 %"),
    ({"channels.roll.high": 40}, "the high limit of roll is +40 %, not +150 %"),
    ({"overrides.rescue-power.value": 40}, "the value of override rescue-power is +40 %, not +55 %"),
    ({"overrides.held.priority": 10}, "the priorities of held and rescue-power are swapped"),
    ({"channels.roll.expo": 0}, "the expo of roll is 0 %, not 20 %"),
    ({"channels.roll.rate.at.full": 80}, "the rate of roll at rates full is 80 %, not 90 %"),
    ({"channels.tail-gain.from": 30}, "the number of tail-gain in normal is +30 %, not +42 %"),
    ({"channels.attitude.values.idle-up-2": 60}, "the value of attitude at flight idle-up-2 is +60 %, not -100 %"),
    ({"curves.hover-soft.smoothing": "none"}, "curve hover-soft has smoothing none, not monotone"),
    ({"curves.hover-soft.points": POINTS}, "point 3 of curve hover-soft (stick 0 %) is +10 %, not +16 %"),
    ({"channels.pitch.in.idle-up": {"curve": "pitch-calm"}}, "pitch follows its line of normal in idle-up"),
]  # fmt: skip


def because(reads: Reads, **more: Any) -> list[str]:
    setup, card = reference()
    check = explained_check(setup, checked_record(record(reads, **more), setup, card))
    assert check.differing
    assert not check.holds
    return [words.replace("\u00a0", " ") for each in check.explained for words in each.because]


@pytest.mark.quick(5)
@pytest.mark.parametrize(("edits", "words"), HELD, ids=[words for _, words in HELD])
def test_the_one_change_is_found_from_its_readings(edits: dict[str, Any], words: str) -> None:
    assert words in because(of_setup(edits))


def test_two_channels_swapped_at_the_receiver() -> None:
    reads = of_setup({})

    def swapped(row: Row) -> dict[str, Fraction]:
        put = reads(row)
        return {**put, "roll": put["tail-gain"], "tail-gain": put["roll"]}

    assert because(swapped)[0].startswith("roll and tail-gain are swapped")


def test_a_trim_that_was_left_on() -> None:
    def trimmed(row: Row) -> dict[str, Fraction]:
        from dataclasses import replace

        return of_setup({})(replace(row, state=replace(row.state, trim={**row.state.trim, "aileron": Fraction(8)})))

    assert "the aileron trim stands at +8 %" in because(trimmed)


def test_the_other_scale() -> None:
    """Outputs of another sub-trim are told on the scale of the record; a good one on the wrong scale is no fault of the craft."""
    setup, card = reference()
    of_hundred = record(of_setup({"channels.roll.sub-trim": 6}), "of-100", lambda x: (x + 100) / 2)
    check = explained_check(setup, checked_record(of_hundred, setup, card))
    assert "sub-trim of roll" in check.explained[0].because[0]
    assert len(because(lambda row: {n: (x + 100) / 2 for n, x in of_setup({})(row).items()})) == 1
    said = because(lambda row: {n: (x + 100) / 2 for n, x in of_setup({})(row).items()})
    assert said == ["the numbers were read on the scale from 0 to 100: then all is as it should be"]


def test_what_no_single_change_gives_has_no_explanation() -> None:
    wild = iter(range(1_000_000))

    def reads(row: Row) -> dict[str, Fraction]:
        return {**of_setup({})(row), "roll": Fraction((next(wild) * 37) % 90 + 5)}

    assert because(reads) == []


def test_two_faults_of_two_channels_are_explained_each(monkeypatch: pytest.MonkeyPatch) -> None:
    both = of_setup({"channels.roll.reversed": True, "channels.pitch.travel": [100, 80]})
    said = because(both)
    assert "roll is reversed" in said
    assert "the travel up of pitch is +80 %, not +100 %" in said
    monkeypatch.setattr(explain, "MOST_TRIED", 5)
    setup, card = reference()
    check = explained_check(setup, checked_record(record(both), setup, card))
    assert any(each.left_out for each in check.explained)
