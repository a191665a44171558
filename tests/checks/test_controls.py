"""Controls that go the wrong way, nowhere, another's way, unevenly or slowly: what the examples of the rules do not show."""

from __future__ import annotations

from tests.checks.linted import linted, said, unjudged

RATES = {"switch": "rates", "at": {"soft": 60, "full": 90}}


def test_a_reversal_shows_the_movement_and_both_ways() -> None:
    rate = {"switch": "rates", "at": {"soft": -60, "full": 60}}
    (finding,) = said("control-reversed", {"channels.roll.in.idle-up.rate": rate})
    assert finding.then == "then flight to idle-up-1"
    assert (
        "from +52.3 % to -52.3 % there, and from -52.3 % to +52.3 % in mode normal with rates soft" in finding.message
    )
    assert finding.edit is not None
    assert (finding.edit.path, finding.edit.value) == (
        ("channels", "roll", "in", "idle-up", "rate", "at", "soft"),
        "60",
    )


def test_the_odd_one_out_has_fewer_positions_of_all_switches() -> None:
    """Idle-up is flown in two of three; its line has a switch less, so that no edit is offered."""
    (finding,) = said("control-reversed", {"channels.roll.in.idle-up.rate": -90})
    assert finding.then == "then flight to normal"
    assert "goes the other way in mode normal" in finding.message
    assert "from -52.3 % to +52.3 % there, and from +86.6 % to -86.6 % in mode idle-up" in finding.message
    assert [place.path for place in finding.related] == [("channels", "roll", "in", "idle-up", "rate")]
    assert finding.edit is None
    assert finding.remedy.startswith("See on the craft which of the two ways is right")


def test_in_a_tie_either_may_be_the_slip_and_no_edit_is_offered() -> None:
    (finding,) = said("control-reversed", {"channels.roll.rate": {"switch": "rates", "at": {"soft": -60, "full": 90}}})
    assert finding.primary.path == ("channels", "roll", "rate", "at", "full"), "the later one in the file"
    assert finding.edit is None


def test_a_reversal_behind_what_cannot_be_reached_is_none() -> None:
    never = {"conditions.never": {"when": "rates is soft and rates is full"}, "modes.third": {"when": "never"}}
    assert said("control-reversed", {**never, "channels.roll.in.third.rate": -90}) == []


def test_what_a_control_does_in_a_mode_may_not_be_known() -> None:
    report = linted({"channels.roll.in.idle-up.from": "nowhere"})
    rules = {note.rule for note in report.not_judged}
    assert {"control-dead"} <= rules or any(f.rule == "unknown-name" for f in report.findings)
    assert not any(f.rule.startswith("control-") for f in report.findings)


def test_each_key_that_leaves_a_control_dead_is_told_once() -> None:
    found = said("control-dead", {
        "channels.roll.in.idle-up.rate": 0,
        "overrides.wings-still": {"channel": "roll", "value": 0, "when": "rates is full"},
    })  # fmt: skip
    assert sorted(f.subject for f in found) == ["roll idle-up", "wings-still"]
    assert next(f for f in found if f.subject == "wings-still").then == "then rates to full"


def test_an_override_that_cannot_be_read_leaves_nothing_dead() -> None:
    still = {"channel": "roll", "at-least": 50, "at-most": 40, "when": "rates is full"}
    assert unjudged("control-dead", {"overrides.still": still}) == ["overrides.still cannot be read"]


def test_a_line_that_stands_still_is_the_cause_also_where_an_override_limits_it() -> None:
    limit = {"channel": "roll", "at-least": -85, "at-most": 85, "when": "hold is off"}
    rate = {"switch": "rates", "at": {"soft": 60, "full": 0}}
    (finding,) = said("control-dead", {"channels.roll.rate": rate, "overrides.limit": limit})
    assert finding.primary.path == ("channels", "roll", "rate", "at", "full")
    assert "its rate is 0 %" in finding.message
    narrow = {**limit, "at-least": 10, "at-most": 10, "when": "rates is soft and flight is normal", "priority": 1}
    found = said("control-dead", {"channels.roll.rate": rate, "overrides.limit": limit, "overrides.narrow": narrow})
    assert sorted(f.primary.path[:2] for f in found) == [("channels", "roll"), ("overrides", "narrow")]


def test_of_a_half_that_moves_and_one_that_does_not_the_ends_may_be_alike() -> None:
    """Both ends where the middle is, and one half flat on its way."""
    bump = {"curves.bump": {"points": [[-100, 0], [0, 0], [50, 60], [100, 0]]}, "channels.roll.curve": "bump"}
    (finding,) = said("control-dead", bump)
    assert "half of its travel is dead" in finding.message


def test_two_states_of_one_line_are_told_apart() -> None:
    limit = {"channel": "roll", "value": 0, "when": "save is released and hold is off and throttle > 20"}
    (finding,) = said("control-dead", {"overrides.still": limit, "channels.roll.rate": RATES})
    places = finding.message.split(": override still decides it; ")
    assert places[0].endswith("in mode normal with rates soft and throttle at +30 %")
    assert places[1] == "in mode normal with rates soft and throttle at -100 % it follows aileron"


def test_a_limit_makes_half_of_a_stick_dead() -> None:
    limit = {"channel": "roll", "at-most": 0, "when": "rates is full"}
    (finding,) = said("control-dead", {"overrides.no-right": limit})
    assert finding.primary.path == ("overrides", "no-right")
    assert "override no-right limits it" in finding.message
    assert said("control-lopsided", {"overrides.no-right": limit}) == []
    (finding,) = said("control-lopsided", {"overrides.no-right": {**limit, "at-most": 30}})
    assert finding.primary.path == ("overrides", "no-right")


def test_halves_that_are_unequal_without_a_limit_are_not_the_limits_doing() -> None:
    limit = {"channel": "roll", "at-least": -85, "at-most": 85, "when": "hold is off"}
    for travel, rule in (([0, 100], "control-dead"), ([50, 100], "control-lopsided")):
        (finding,) = said(rule, {"overrides.limit": limit, "channels.roll.travel": travel})
        assert finding.primary.path == ("channels", "roll", "travel")
        assert "override" not in finding.message


def test_too_many_places_of_switches_are_not_skipped_in_silence() -> None:
    switches = {f"switches.s{n}": {"kind": "three-position"} for n in range(7)}
    mix = [{"from": f"s{n}", "values": {"up": 3**n / 1000, "middle": 0, "down": -(3**n) / 1000}} for n in range(7)]
    edit = {**switches, "channels.roll.mix": mix, "channels.roll.travel": [30, 100], "channels.roll.ramp-up": 2}
    rules = ("control-lopsided", "control-reversed", "control-slow")
    assert {f.subject for f in linted(edit, only=rules).findings} == {f"{rule} roll" for rule in rules}


def test_a_time_is_told_from_the_longest() -> None:
    """A movement of 200 points over a ramp of 0.3001 s for 200."""
    roll = {"channels.roll": {"number": 1, "drives": "aileron", "from": "aileron", "ramp-up": 0.3001}}
    (finding,) = said("control-slow", roll)
    assert finding.message.startswith("roll takes 0.3001 s from one end")
    assert finding.then.endswith("roll is there only after 0.3001 s")


def test_a_slow_control_is_shown_from_the_other_end() -> None:
    (finding,) = said(
        "control-slow", {"channels.roll": {"number": 1, "drives": "aileron", "from": "aileron", "ramp-down": 0.4}}
    )
    assert dict(finding.witness)["aileron"] == 100
    assert finding.then == "then aileron -100: roll is there only after 0.4 s"


def test_the_hover_rules_are_silent_where_it_is_out_of_reach() -> None:
    report = linted({"craft.hover-collective": 85})
    assert [f.rule for f in report.findings if f.rule.startswith(("hover", "curve"))] == ["hover-out-of-reach"]
    assert [note for note in report.not_judged if note.rule.startswith("hover")] == []


def test_no_calm_mode_is_no_hover_out_of_reach() -> None:
    edits = {"craft.hover-collective": 85, "modes.normal.aerobatic": True}
    assert said("hover-out-of-reach", edits) == []
    report = linted({}, ("craft.hover-collective",))
    assert ("hover-out-of-reach", "craft.hover-collective is not given") in {
        (n.rule, n.because) for n in report.not_judged
    }


def test_the_gain_holds_weakly_near_zero() -> None:
    (finding,) = said("gyro-gain-lost", {"channels.tail-gain.in.idle-up.from": 10})
    assert finding.message.endswith("the gyro holds weakly")


def test_a_switch_that_turns_the_gain_and_the_rates_is_not_for_the_gain_alone() -> None:
    by = {"number": 5, "drives": "gyro-gain", "from": "rates", "values": {"soft": 42, "full": -36}}
    assert said("gyro-gain-sign", {"channels.tail-gain": by, "channels.roll.rate": 60}) == []
    assert len(said("gyro-gain-sign", {"channels.tail-gain": by, "channels.roll.rate": RATES})) == 1


def test_a_stabilised_craft_is_known_by_its_channel_or_by_its_key() -> None:
    mixed = {"channels.roll.mix": [{"from": "throttle", "rate": 10}], "sticks.aileron.trim": 5}
    rules = ("mix-left-on", "trim-on-stabilised")
    assert [len(said(rule, mixed)) for rule in rules] == [1, 1]
    other = {**mixed, "channels.attitude.drives": "other"}
    assert [len(said(rule, other)) for rule in rules] == [0, 0], "not known: silent"
    assert [len(said(rule, {**other, "craft.stabilised": True})) for rule in rules] == [1, 1]
