"""Rules about hold and stop: whose doing it is, the numbers of the case, and what is not known."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from setuplint.book import rule_file, rulebook, run
from setuplint.book.choices import Choices
from setuplint.findings import Finding
from setuplint.setup import loaded_setup
from tests.checks.linted import TEXT, linted, said, unjudged
from tests.rules.edits import edited

TWIN: dict[str, Any] = {
    "channels.motor-two": {"number": 8, "drives": "motor", "from": "throttle", "curve": "hover-soft"},
    "failsafe.motor-two": -100,
}
HELD_TWO = {"overrides.held-two": {"channel": "motor-two", "value": -100, "when": "hold is on", "priority": 100}}
BUTTON: dict[str, Any] = {
    "switches.hold": {"kind": "momentary", "positions": ["off", "on"]},
    "switches.free": {"kind": "momentary"},
    "conditions.holding": {"when": "hold is on", "until": "free is pulled"},
    "intent.hold": "holding",
    "overrides.held.when": "holding",
    "start.requires": "holding and flight is normal and throttle < -95",
    "timers.flight.runs": "not holding",
}
READY: dict[str, Any] = {"switches.hold": {"kind": "three-position", "positions": ["off", "ready", "on"]}}


def mended(finding: Finding, edit: dict[str, Any]) -> set[str]:
    """The rules that speak newly or still once the finding's own edit is made."""
    assert finding.edit is not None
    path = ".".join(str(step) for step in finding.edit.path)
    before = {f.rule for f in linted(edit).findings} - {finding.rule}
    return {f.rule for f in linted({**edit, path: int(finding.edit.value)}).findings} - before


# -- hold-missing


def test_a_hold_that_cannot_be_read_is_not_judged() -> None:
    report = linted({"intent.hold": "hold is onn"})
    assert not {f.rule for f in report.findings} & {"hold-missing", "hold-bypassed", "hold-two-moves"}
    assert "hold-missing" in {n.rule for n in report.not_judged if "onn" in n.because}


def test_a_hold_that_is_never_called_is_told_once() -> None:
    edit = {"intent.hold": "hold is on and hold is off", "overrides.held.when": "hold is on and hold is off"}
    spoken = {f.rule for f in linted(edit).findings}
    assert "hold-missing" in spoken
    assert not spoken & {"hold-bypassed", "hold-two-moves", "hold-springs-back", "start-without-hold"}


def test_a_missing_hold_silences_no_rule_about_stop() -> None:
    edit = {"switches.cut": {"kind": "two-position"}, "intent.stop": "cut is on"}
    spoken = {f.rule for f in linted(edit, ("intent.hold",)).findings}
    assert {"hold-missing", "stop-bypassed"} <= spoken


# -- hold-bypassed, stop-bypassed


def test_a_rescue_that_beats_the_hold_is_told_with_both_priorities() -> None:
    edit = {"overrides.held.priority": 10}
    (finding,) = said("hold-bypassed", edit)
    assert finding.subject == "rescue-power"
    assert "held is on too: priority 50 beats 10" in finding.message
    assert "+55 % (77.5 of 100)" in finding.message
    assert finding.witness == {"hold": "on", "save": "pulled"}
    assert finding.outputs == {"motor": Fraction(55)}
    assert mended(finding, edit) == set()


def test_a_hold_in_one_mode_only_is_one_cause() -> None:
    (finding,) = said("hold-bypassed", {"overrides.held.when": "hold is on and mode is normal"})
    assert finding.subject == "motor"
    assert finding.primary.path == ("channels", "motor", "in", "idle-up")


def test_a_hold_in_one_mode_only_that_the_rescue_beats_there_is_two() -> None:
    edit = {"overrides.held.when": "hold is on and mode is normal", "overrides.held.priority": 10}
    found = {f.subject: f for f in said("hold-bypassed", edit)}
    assert set(found) == {"motor", "rescue-power"}
    assert found["rescue-power"].witness == {"flight": "normal", "hold": "on", "save": "pulled"}


def test_a_value_that_does_not_stop_is_mended_by_one_that_does() -> None:
    edit = {"overrides.held.value": 0}
    (finding,) = said("hold-bypassed", edit)
    assert finding.subject == "held"
    assert mended(finding, edit) == set()


def test_travel_that_lifts_the_held_motor_is_pointed_at() -> None:
    (finding,) = said("hold-bypassed", {"channels.motor.travel": [80, 100]})
    assert ("channels", "motor", "travel") in {place.path for place in finding.related}
    assert finding.edit is None, "no value of the override stops this motor"


def test_of_two_motors_the_one_without_a_hold_is_named() -> None:
    (finding,) = said("hold-bypassed", TWIN)
    assert finding.subject == "motor-two"
    assert finding.outputs["motor-two"] > -95
    assert said("hold-bypassed", {**TWIN, **HELD_TWO}) == []


def test_of_two_motors_the_one_that_is_held_is_not_blamed_where_motor_off_is_not_known() -> None:
    """-100 stops any motor; that the other's hold stops it at -60 is not known."""
    (finding,) = said("hold-bypassed", TWIN, ("craft.motor-off",))
    assert finding.subject == "motor-two"
    between = {**TWIN, **HELD_TWO, "overrides.held-two.value": -60}
    assert set(unjudged("hold-bypassed", between, ("craft.motor-off",))) == {"craft.motor-off is not given"}


def test_a_claim_that_two_motors_break_together() -> None:
    """No motor alone makes `rotor driven` false."""
    rule = rule_file.read_rule(
        'signal = "notice"\ntitle = "x"\nwhy = "x"\nremedy = "x"\n'
        'never = "not hold called and mode is normal and not rotor driven"\n', "still"
    ).rule  # fmt: skip
    loaded = loaded_setup(edited(TEXT, {**TWIN, **HELD_TWO}), "twin.toml")
    report = run.lint(*loaded, choices=Choices({**rulebook.rules(), "still": rule}), only=["still"])
    (finding,) = report.findings
    assert finding.outputs == {"motor": Fraction(-100), "motor-two": Fraction(-100)}


def test_no_priority_is_offered_where_what_stops_the_motor_comes_late() -> None:
    """The cut beats the hold, and waits two seconds: another priority mends nothing."""
    late: dict[str, Any] = {
        "switches.cut": {"kind": "two-position"}, "conditions.cutting": {"when": "cut is on", "after": 2},
        "overrides.held.value": -80, "craft.rotor-free": -70, "intent.stop": "cut is on and hold is on",
        "overrides.cut": {"channel": "motor", "value": -100, "when": "cutting and hold is on", "priority": 110},
    }  # fmt: skip
    (finding,) = said("stop-bypassed", late)
    assert "while condition cutting waits" in finding.message
    assert finding.edit is None


# -- hold-idles


def test_of_two_motors_the_one_that_idles_is_named() -> None:
    edit = {**TWIN, **HELD_TWO, "craft.rotor-free": -70, "overrides.held-two.value": -80}
    (finding,) = said("hold-idles", edit)
    assert finding.subject == "held-two"
    assert "-80 % (10 of 100)" in finding.message
    assert mended(finding, edit) == set()


def test_without_motor_off_nothing_is_judged() -> None:
    guarded = {"intent.hold": "hold is on and rates is full"}
    assert unjudged("hold-two-moves", guarded, ("craft.motor-off",)) == ["craft.motor-off is not given"]
    for rule in ("hold-idles", "hold-bypassed"):
        assert unjudged(rule, guarded, ("craft.motor-off",)) == [], "-100 stops any motor"
        between = {**guarded, "overrides.held.value": -60}
        assert unjudged(rule, between, ("craft.motor-off",)) == ["craft.motor-off is not given"], rule
    assert unjudged("hold-two-moves", remove=("craft.motor-off",)) == [], "from everywhere one movement calls it"


# -- hold-springs-back, hold-two-moves


def test_a_latch_that_another_button_resets_stays() -> None:
    assert said("hold-springs-back", BUTTON) == []


def test_a_latch_that_letting_go_resets_springs_back() -> None:
    (finding,) = said("hold-springs-back", {**BUTTON, "conditions.holding.until": "hold is off"})
    assert finding.witness["hold"] == "on"
    assert ("switches", "hold") in {place.path for place in finding.related}


def test_while_the_reset_is_held_no_movement_calls_the_latch() -> None:
    (finding,) = said("hold-two-moves", BUTTON | {"conditions.holding.until": "rates is full"})
    assert finding.witness["rates"] == "full"


def test_what_the_hold_waits_for_is_said() -> None:
    edit = {"intent.hold": "hold is on and throttle < -95", "overrides.held.when": "hold is on and throttle < -95"}
    (finding,) = said("hold-two-moves", edit)
    assert "waits for the throttle stick" in finding.message
    (finding,) = said("hold-two-moves", {"knobs.cut": {}, "intent.hold": "cut > 50", "overrides.held.when": "cut > 50"})
    assert "waits for the cut knob too" in finding.message


# -- hold-shared


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"overrides.gain-low": {"channel": "tail-gain", "value": 30, "when": "hold is ready"}},
         "tail-gain at +36 %, hold at ready at +30 %"),
        ({"channels.roll.rate": {"switch": "hold", "at": {"off": 60, "ready": 90, "on": 60}}}, "roll at "),
        ({"channels.tail-gain.in.idle-up.from": "hold",
          "channels.tail-gain.in.idle-up.values": {"off": 36, "ready": 37, "on": 36}}, "+37 %"),
    ],
)  # fmt: skip
def test_another_output_in_the_same_idle_up_mode(more: dict[str, Any], words: str) -> None:
    (finding,) = said("hold-shared", {**READY, **more})
    assert "in mode idle-up" in finding.message
    assert words in finding.message
    assert finding.witness["flight"] != "normal"


def test_the_same_output_under_another_override_is_no_difference() -> None:
    more = {
        "overrides.gain-same": {"channel": "tail-gain", "value": 36, "when": "hold is ready and flight is not normal"}
    }
    assert said("hold-shared", {**READY, **more}) == []


def test_the_movement_that_lands_in_idle_up_is_shown() -> None:
    edit = {"intent.hold": "hold is on or flight is idle-up-2"}
    (finding,) = said("hold-shared", edit)
    assert finding.then == "then flight to idle-up-1"
    assert finding.outputs == {"motor": Fraction(45)}


def test_the_other_place_is_one_without_the_hold() -> None:
    """The hold's own position comes first on the switch, and is in idle-up too."""
    edit = {
        "switches.flight": {"kind": "selector", "positions": ["normal", "held", "idle-up-1", "idle-up-2"]},
        "channels.attitude.values": {"normal": 100, "held": 100, "idle-up-1": -100, "idle-up-2": -100},
        "intent.hold": "flight is held", "overrides.held.when": "flight is held",
        "start.requires": "flight is held and throttle < -95", "timers.flight.runs": "flight is not held",
    }  # fmt: skip
    (finding,) = said("hold-shared", edit)
    assert finding.then == "then flight to idle-up-1"


def test_a_tie_that_may_go_either_way_is_no_difference_between_places() -> None:
    gain = {"channel": "tail-gain", "when": "flight is not normal"}
    edit = {**READY, "overrides.gain-one": {**gain, "value": 20}, "overrides.gain-two": {**gain, "value": 30}}
    edit["overrides.far"] = {"channel": "tail-gain", "value": 10, "when": "hold is on", "priority": -1}
    report = linted(edit, only=["hold-shared", "override-conflict", "not-decided"])
    assert [f.rule for f in report.findings] == ["override-conflict"]


# -- hold-freezes-controls


def test_a_knob_is_no_stick() -> None:
    edit = {
        "knobs.set": {}, "modes.normal.when": "flight is normal and hold is off",
        "modes.idle-up.when": "flight is not normal and hold is off", "modes.held": {"voice": "hold"},
        "channels.pitch.in.held": {"from": "set", "curve": "straight"},
    }  # fmt: skip
    (finding,) = said("hold-freezes-controls", edit)
    assert finding.subject == "pitch"
    assert finding.primary.path == ("channels", "pitch", "in", "held")


def test_frozen_in_one_mode_only() -> None:
    edit = {"overrides.pitch-held": {"channel": "pitch", "value": 5, "when": "hold is on and mode is idle-up"}}
    (finding,) = said("hold-freezes-controls", edit)
    assert "stays at +5 %" in finding.message
    assert finding.witness["flight"] == "idle-up-1"


def test_frozen_whether_held_or_not_is_not_the_holds_doing() -> None:
    edit = {"overrides.pitch-still": {"channel": "pitch", "value": 0, "when": "rates is full"}}
    assert said("hold-freezes-controls", edit) == []


def test_a_place_that_calls_the_hold_as_well_does_not_count_as_released() -> None:
    edit = {
        "switches.hold": {"kind": "three-position", "positions": ["off", "on", "cut"]},
        "intent.hold": "hold is not off", "overrides.held.when": "hold is not off",
        "start.requires": "hold is not off and flight is normal and throttle < -95",
        "overrides.pitch-still": {"channel": "pitch", "value": 0, "when": "hold is not on"},
    }  # fmt: skip
    assert said("hold-freezes-controls", edit) == []
    edit["overrides.pitch-still"] = {"channel": "pitch", "value": 0, "when": "hold is cut"}
    assert [f.subject for f in said("hold-freezes-controls", edit)] == ["pitch-still"]


@pytest.mark.parametrize("hold", ["hold is onn", "hold is on or hold is onn"])
def test_a_hold_of_which_something_is_not_known_is_not_judged(hold: str) -> None:
    """No switch was known to call it, so nothing was late after it."""
    waiting = {note.rule for note in linted({"intent.hold": hold, "channels.motor.ramp-down": 2}).not_judged}
    assert {"hold-bypassed", "hold-slow", "hold-shared"} <= waiting


def test_an_override_that_cannot_be_read_freezes_nothing() -> None:
    """Nobody knows what it would do: two bounds that cross, or none of the three keys."""
    for demand in ({"at-least": 50, "at-most": 40}, {}):
        edit = {"overrides.roll-held": {"channel": "roll", "when": "hold is on", **demand}}
        assert unjudged("hold-freezes-controls", edit) == ["overrides.roll-held cannot be read"]


def test_a_knob_of_the_hold_is_moved_only_where_its_switches_do_not_let_go() -> None:
    """Frozen by the knob that both need, whether the hold is called or not."""
    edit = {
        "knobs.cut": {}, "intent.hold": "hold is on and cut > 50", "overrides.held.when": "hold is on",
        "overrides.roll-held": {"channel": "roll", "value": 0, "when": "cut > 50"},
    }  # fmt: skip
    assert said("hold-freezes-controls", edit) == []


def test_a_line_that_the_hold_stills_is_the_cause_also_where_an_override_limits_it() -> None:
    edit = {
        "channels.roll.rate": {"switch": "hold", "at": {"off": 80, "on": 0}},
        "overrides.limit": {"channel": "roll", "at-least": -85, "at-most": 85, "when": "rates is soft"},
    }
    found = said("hold-freezes-controls", edit)
    assert {f.subject for f in found} == {"roll"}
    assert "the channel's own line decides it" in found[0].message


def test_a_difference_that_three_decimals_do_not_show_is_told_by_itself() -> None:
    switch = {"switches.hold": {"kind": "three-position", "positions": ["off", "ready", "on"]}}
    gain = {"number": 5, "drives": "gyro-gain", "from": "hold", "values": {"off": 42, "ready": 42.000001, "on": 42}}
    (found,) = said("hold-shared", {**switch, "channels.tail-gain": gain})
    assert found.message.endswith("hold at off puts tail-gain at +42 %, hold at ready 0.000001 points beside that")


LATCHED: dict[str, Any] = {
    "switches.cut": {"kind": "momentary"}, "conditions.cut-off": {"when": "cut is pulled", "until": "throttle < -99"},
    "intent.hold": "cut-off", "overrides.held.when": "cut-off or hold is on",
}  # fmt: skip


@pytest.mark.parametrize(("when", "speaks"), [("pack < 20", 0), ("pack < 20 and cut-off", 1), ("link is lost", 0)])
def test_what_a_sensor_freezes_is_not_the_holds_doing(when: str, speaks: int) -> None:
    still = {"overrides.roll-held": {"channel": "roll", "value": 0, "when": when}}
    assert len(said("hold-freezes-controls", {**LATCHED, **still})) == speaks


def test_a_sensor_may_call_the_hold() -> None:
    edit = {
        "intent.hold": "hold is on or pack < 18", "overrides.held.when": "hold is on or pack < 18",
        "overrides.roll-held": {"channel": "roll", "value": 0, "when": "pack < 18"},
    }  # fmt: skip
    assert len(said("hold-freezes-controls", edit)) == 1


def test_many_places_beside_the_hold_are_not_passed_over() -> None:
    """Frozen in the last of them alone; or, by the hold or not, in half of them, which are too many to look at."""
    names = [f"s{n}" for n in range(8)]
    switches = {f"switches.{name}": {"kind": "two-position"} for name in names}
    last = " and ".join(f"{name} is on" for name in names)
    odd = f"s0 is on and ({' or '.join(f'{name} is on' for name in names[1:])} or save is released)"
    either_way = f"{odd} and (cut-off or not cut-off)"

    def found(when: str) -> list[str]:
        still = {"overrides.roll-held": {"channel": "roll", "value": 0, "when": when}}
        return [f.rule for f in linted({**LATCHED, **switches, **still}, only=["hold-freezes-controls"]).findings]

    assert found(f"{last} and cut-off") == ["hold-freezes-controls"]
    assert found(last) == []
    assert found(odd) == []
    assert found(either_way) == ["not-decided"]


def test_a_channel_whose_drives_cannot_be_read_may_be_a_motor() -> None:
    """What the others prove of the motor that is known proves nothing of it."""
    because = "channels.motor-two.drives cannot be read"
    unread = {**TWIN, "channels.motor-two": {**TWIN["channels.motor-two"], "drives": "moter"}}
    for rule in ("hold-bypassed", "start-unguarded"):
        assert because in unjudged(rule, unread)
        assert because not in unjudged(rule, {**unread, **HELD_TWO})  # it would stand, and so proves no less


def test_a_line_that_cannot_be_read_may_be_what_the_hold_keeps_still() -> None:
    edit = {"channels.roll.rate": {"switch": "hold", "at": {"off": 60, "on": "none"}}}
    assert unjudged("hold-freezes-controls", edit) == ["channels.roll cannot be read"]
    assert unjudged("hold-freezes-controls", {"channels.roll.number": "one"}) == []
    edit = {"channels.roll.drives": "ailerons"}
    assert unjudged("hold-freezes-controls", edit) == ["channels.roll.drives cannot be read"]


def test_an_override_that_nobody_knows_when_it_is_on_may_be_what_the_hold_does_too() -> None:
    """From the middle of the switch it stops the motor, in a mode of idle-up, though that does not call the hold."""
    edit: dict[str, Any] = {
        "switches.hold": {"kind": "three-position", "positions": ["off", "low", "on"]},
        "overrides.held.when": "hold is not off",
        "craft.motor-off": -95,
    }
    assert said("hold-shared", edit)
    edit["overrides.held.when"] = "hold is not of"
    assert unjudged("hold-shared", edit) == ["overrides.held.when names “of”, which nothing declares"]
