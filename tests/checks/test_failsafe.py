"""Failsafe rules: outputs as the receiver gives them, at their limits, and what is not known."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from setuplint.book import rulebook
from setuplint.formats.case_text import case_sentence
from tests.checks.linted import linted, said, unjudged

ALL = [name for name in rulebook.rules() if name.startswith("failsafe")]


def spoken(edit: dict[str, Any], remove: tuple[str, ...] = ()) -> set[tuple[str, str]]:
    return {(finding.rule, finding.subject) for finding in linted(edit, remove, only=ALL).findings}


def test_without_a_table_one_finding_names_all() -> None:
    (finding,) = said("failsafe-missing", remove=("failsafe",))
    assert finding.subject == "failsafe"
    for name in ("pitch (collective)", "roll (aileron)", "attitude (stabiliser)"):
        assert name in finding.message
    assert "tail-gain" not in finding.message
    assert "motor" not in finding.message
    all_gone = {("failsafe-missing", "failsafe"), ("failsafe-motor-missing", "failsafe")}
    assert spoken({}, ("failsafe",)) == all_gone
    assert spoken({"failsafe": {}}) == all_gone
    edit = {"channels.rear": {"drives": "motor", "from": "throttle", "curve": "hover-soft"}}
    (finding,) = said("failsafe-motor-missing", edit, ("failsafe",))
    assert finding.message == "there is no [failsafe]: what motor, rear (motor) do when the link is gone is not known"


def test_each_channel_left_out_is_its_own() -> None:
    assert spoken({}, ("failsafe.roll", "failsafe.attitude")) == {
        ("failsafe-missing", "roll"),
        ("failsafe-missing", "attitude"),
    }


def test_a_channel_that_levels_and_drives_nothing_known_is_not_judged() -> None:
    edit = {"channels.attitude.drives": "other"}
    assert unjudged("failsafe-not-level", edit, ("failsafe.attitude",)) == ["failsafe.attitude is not given"]
    assert unjudged("failsafe-not-level", {}, ("failsafe.attitude",)) == [], "failsafe-missing speaks of it"


def test_the_motor_s_numbers_on_both_scales() -> None:
    (finding,) = said("failsafe-runs-motor", {"failsafe.motor": 0})
    assert finding.message == (
        "with the link gone the receiver puts motor at 0 % (50 of 100), above motor-off (-95 %): switching the "
        "transmitter off starts the motor, throttle hold or not"
    )
    assert dict(finding.outputs) == {"motor": Fraction(0)}
    assert finding.edit is not None
    assert (finding.edit.path, finding.edit.value) == (("failsafe", "motor"), "-100")


def test_nothing_is_applied_to_a_failsafe() -> None:
    """A reversed motor stops at its channel's +100, and a failsafe is what the receiver puts out."""
    edit = {"channels.motor.reversed": True, "failsafe.motor": 100}
    assert ("failsafe-runs-motor", "motor") in spoken(edit)


def test_keep_speaks_without_motor_off_and_a_number_cannot() -> None:
    remove = ("craft.motor-off",)
    (finding,) = said("failsafe-runs-motor", {"failsafe.motor": "keep"}, remove)
    assert finding.edit is None
    assert unjudged("failsafe-runs-motor", {"failsafe.motor": -90}, remove) == ["craft.motor-off is not given"]
    assert unjudged("failsafe-wastes-rotor", {"failsafe.pitch": 30, "failsafe.motor": -90}, remove) == [
        "craft.motor-off is not given"
    ]
    assert unjudged("failsafe-wastes-rotor", {}, remove) == []
    edit = {"craft.rotor": "fixed", "failsafe.tail-gain": 0, "failsafe.motor": -90}
    assert unjudged("failsafe-drops-gain", edit, (*remove, "craft.hover-collective")) == [
        "craft.motor-off is not given"
    ]


def test_the_second_motor_is_asked_too() -> None:
    edit = {"channels.rear": {"drives": "motor", "from": "throttle"}, "failsafe.rear": -90}
    assert spoken(edit) == {("failsafe-runs-motor", "rear")}
    assert spoken({**edit, "failsafe.pitch": 30}) == {("failsafe-runs-motor", "rear")}, "one motor goes on"
    assert spoken({**edit, "failsafe.rear": -95, "failsafe.pitch": 30}) == {("failsafe-wastes-rotor", "pitch")}


@pytest.mark.parametrize(
    ("level", "levelling", "not_levelling", "remedy"),
    [
        ({"at-most": -50}, [-50, -100, "unit"], [-49, 100, "keep", "none"], "-100"),
        ({"at-least": 80}, [80, 100, "unit"], [79.9, -100, "keep"], "100"),
        ({"at-least": -60, "at-most": -50}, [-60, -55, -50], [-61, -49], "-60"),
        ({"value": 20}, [19, 20, 21], [18.9, 21.1], "20"),
    ],
)
def test_what_levels(level: dict[str, Any], levelling: list[Any], not_levelling: list[Any], remedy: str) -> None:
    edit = {"intent.level": {"channel": "attitude", **level}}
    for value in levelling:
        assert said("failsafe-not-level", {**edit, "failsafe.attitude": value}) == [], value
    for value in not_levelling:
        (finding,) = said("failsafe-not-level", {**edit, "failsafe.attitude": value})
        assert finding.edit is not None
        assert finding.edit.value == remedy


def test_without_a_level_nothing_is_asked() -> None:
    assert spoken({"failsafe.attitude": -100}, ("intent.level",)) == set()


def test_a_motor_left_to_the_unit_is_untested_and_wastes_nothing() -> None:
    assert spoken({"failsafe.motor": "unit", "failsafe.pitch": 30}) == {("failsafe-untested", "motor")}
    assert spoken({"failsafe.motor": "none"}) == {("failsafe-untested", "motor")}
    assert spoken({"failsafe.motor": "keep", "failsafe.pitch": "keep"}) == {
        ("failsafe-runs-motor", "motor"),
        ("failsafe-keeps-controls", "pitch"),
    }


def test_an_entry_that_cannot_be_read_is_neither_missing_nor_right() -> None:
    report = linted({"failsafe.motor": "closed"}, only=ALL)
    assert report.findings == ()
    assert {note.because for note in report.not_judged} == {"failsafe.motor cannot be read"}
    assert unjudged("failsafe-missing", {"failsafe": 3}) == ["failsafe cannot be read"]


def test_what_was_taught_with_a_stick_held_over_says_what_the_middle_gives() -> None:
    (finding,) = said("failsafe-held-over", {"failsafe.roll": -60})
    assert finding.message == (
        "with the link gone the receiver puts roll at -60 %, far from the 0 % that belongs to the aileron stick in the "
        "middle: it was taught with the stick held over"
    )
    assert finding.edit is not None
    assert (finding.edit.path, finding.edit.value) == (("failsafe", "roll"), "0")


def test_of_a_channel_that_is_not_described_nothing_is_held_over() -> None:
    edit = {"channels.roll": {"number": 1, "drives": "aileron"}, "failsafe.roll": 60}
    assert unjudged("failsafe-held-over", edit) == ["channels.roll.from is not given"]


def test_a_pitch_channel_with_both_directions_is_not_said_to_brake_where_one_is_right() -> None:
    turn = {"curves.pitch-wide.points": [[-100, 100], [0, 20], [100, -100]], "failsafe.pitch": 30}
    assert said("failsafe-wastes-rotor", turn) == []
    assert [x.subject for x in said("failsafe-wastes-rotor", {**turn, "failsafe.pitch": 40})] == ["pitch"]


def test_a_fixed_pitch_craft_that_falls_needs_no_gain() -> None:
    edit, remove = {"craft.rotor": "fixed", "failsafe.tail-gain": 0}, ("craft.hover-collective",)
    assert said("failsafe-drops-gain", edit, remove) == []
    assert len(said("failsafe-drops-gain", {**edit, "failsafe.motor": "unit"}, remove)) == 1
    assert len(said("failsafe-drops-gain", edit, ("failsafe.motor", *remove))) == 1


def test_the_middle_is_the_pupil_s_too() -> None:
    edit = {
        "switches.lend": {"kind": "momentary"},
        "trainer": {"lent": "lend is pulled", "sticks": ["aileron"]},
        "failsafe.roll": 40,
    }
    assert [finding.subject for finding in said("failsafe-held-over", edit)] == ["roll"]


UNKNOWN = {"craft.rotor-free": -70, "craft.power": "electro"}
RUNS = "failsafe-runs-motor"


def test_what_cannot_be_read_is_taken_for_neither_an_engine_nor_a_motor() -> None:
    assert unjudged(RUNS, {**UNKNOWN, "failsafe.motor": -80}) == ["craft.power cannot be read"]
    assert unjudged(RUNS, {**UNKNOWN, "failsafe.motor": -80}, ("battery",)) == ["craft.power cannot be read"]
    assert unjudged(RUNS, {**UNKNOWN, "failsafe.motor": -95}) == []
    assert len(said(RUNS, {**UNKNOWN, "failsafe.motor": -69}, ("battery",))) == 1


def test_the_guess_of_an_engine_is_named() -> None:
    guess = {"craft.rotor-free": -70, "failsafe.motor": -80}
    (remark,) = linted(guess, ("battery",)).remarks
    assert (remark.kind, remark.primary.path) == ("power-guessed", ("craft", "rotor-free"))
    for edit in ({**guess, "craft.power": "engine"}, {**UNKNOWN}, {"failsafe.motor": -100}):
        assert linted(edit, ("battery",)).remarks == ()
    assert linted(guess).remarks == ()


@pytest.mark.parametrize(
    "rule", ["voltage-alarm-missing", "flight-time-too-long", "motor-off-doubtful", "value-doubtful"]
)
def test_of_an_unknown_power_other_rules_are_not_judged(rule: str) -> None:
    hot = {"sensors.esc": {"reads": "temperature"}, "alarms.hot": {"when": "esc > 160", "tone": True, "repeat": 2}}
    edit = {**UNKNOWN, **hot, "craft.motor-off": -60, "craft.rotor-free": -50, "timers.flight.seconds": 900}
    gone = ("sensors.pack", "alarms.land-now", "alarms.pack-gone", "conditions.pack-low")
    assert unjudged(rule, edit, gone) == ["craft.power cannot be read"]


def test_a_channel_may_drive_what_its_word_was_meant_to_say() -> None:
    why = {"channels.motor.drives cannot be read"}
    meant = {"channels.motor.drives": "moter"}
    asked = linted({**meant, "failsafe.motor": "keep"}, only=ALL).not_judged
    assert {note.because for note in asked} == why
    assert {note.rule for note in asked} >= {RUNS, "failsafe-untested", "failsafe-held-over", "failsafe-keeps-controls"}
    absent = linted(meant, ("failsafe.motor",), only=ALL).not_judged
    assert {(note.rule, note.because) for note in absent} == {
        ("failsafe-motor-missing", *why), ("failsafe-missing", *why)
    }  # fmt: skip


TAUGHT = {
    "failsafe-runs-motor": ("motor", 45),
    "failsafe-not-level": ("attitude", -100),
    "failsafe-wastes-rotor": ("pitch", 50),
    "failsafe-held-over": ("roll", 60),
    "failsafe-drops-gain": ("tail-gain", 5),
}


@pytest.mark.parametrize("rule", TAUGHT)
def test_what_the_receiver_gives_is_seen_with_the_transmitter_off(rule: str) -> None:
    channel, number = TAUGHT[rule]
    (finding,) = said(rule, {f"failsafe.{channel}": number})
    assert finding.outputs[channel] == number
    sentence = case_sentence(finding, {})
    assert sentence.startswith("with everything at rest, then switch the transmitter off: the "), (
        "at rest it gives another"
    )
