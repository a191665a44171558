"""What one movement changes: mode jumps at the hover of the mode that is left, and a rescue switch with other work.

In the reference normal hovers with the stick at 0 (collective +30, motor +16) and idle-up at +12.5 (collective +30).
"""

from __future__ import annotations

from typing import Any

from setuplint.findings import Edit, Finding
from tests.checks.linted import linted, said, unjudged


def flat(value: float, **line: Any) -> dict[str, Any]:
    """Idle-up's motor flat at a value, without its ramp."""
    return {
        "curves.spool-flat.points": [[-100, value], [100, value]],
        "channels.motor.in.idle-up": {"curve": "spool-flat", **line},
    }


def by_subject(rule: str, edit: dict[str, Any], remove: tuple[str, ...] = ()) -> dict[str, Finding]:
    found = said(rule, edit, remove)
    assert len({x.subject for x in found}) == len(found)
    return {x.subject: x for x in found}


def jumps(edit: dict[str, Any], remove: tuple[str, ...] = ()) -> dict[str, Finding]:
    return by_subject("mode-jump", edit, remove)


def test_a_jump_is_told_with_its_hover_and_its_numbers() -> None:
    found = jumps(flat(60))
    assert list(found) == ["normal", "idle-up"]
    entered = found["idle-up"]
    assert entered.message == (
        "flight to idle-up-1 leaves normal for idle-up, and with the throttle stick at 0 %, where normal hovers, "
        "motor goes from +16 % (58 of 100) to +60 % (80 of 100), by 44 points"
    )
    assert (entered.then, dict(entered.outputs)) == ("then flight to idle-up-1", {"motor": 60})
    assert entered.witness["throttle"] == 0
    assert "with the throttle stick at +12.5 %, where idle-up hovers, motor goes from +60 %" in found["normal"].message
    assert found["normal"].witness["throttle"] == 12.5


def test_channels_that_jump_together_are_one_finding() -> None:
    found = jumps({**flat(60), "curves.pitch-wide.points": [[-100, -100], [0, 0], [100, 100]]})["idle-up"]
    assert "by 44 points; pitch goes from +30 % to 0 %, by 30 points" in found.message
    assert dict(found.outputs) == {"motor": 60, "pitch": 0}


def test_a_ramp_of_a_second_softens_in_its_own_direction_alone() -> None:
    assert "idle-up" in jumps(flat(60, **{"ramp-up": 0.99}))
    assert "idle-up" not in jumps(flat(60, **{"ramp-up": 1}))
    assert "idle-up" in jumps(flat(60, **{"ramp-down": 5}))


def test_at_fixed_pitch_the_motor_says_where_it_hovers() -> None:
    fixed = {"craft.rotor": "fixed", "craft.hover-throttle": 46}
    found = jumps({**fixed, **flat(80)}, ("craft.hover-collective",))
    assert "with the throttle stick at +50 %, where normal hovers, motor goes from +46 %" in found["idle-up"].message
    assert "with the throttle stick at 0 %, motor goes from +80 % (90 of 100) to +16 %" in found["normal"].message


def test_without_a_hover_the_stick_is_in_the_middle() -> None:
    found = jumps({"curves.pitch-wide.points": [[-100, -100], [0, 10], [100, 100]]}, ("craft.hover-collective",))
    assert "with the throttle stick at 0 %, pitch goes from +30 % to +10 %" in found["idle-up"].message


def test_hold_and_rescue_on_either_side_are_no_jump() -> None:
    held = {"modes.idle-up.when": "flight is not normal", "modes.held": {}, "modes.normal.when": "flight is normal"}
    called = {"modes.normal.when": "flight is normal and hold is off and save is released"}
    assert jumps({**held, **called, "channels.motor.in.held": {"from": 80}}) == {}
    assert "held" in jumps(
        {**held, "modes.normal.when": "flight is normal and rates is soft", "channels.motor.in.held": {"from": 80}}
    )


def test_a_knob_may_stand_anywhere() -> None:
    found = jumps({"knobs.boost": {}, "channels.motor.in.idle-up": {"from": "boost"}})
    assert {"normal", "idle-up"} == set(found)
    assert found["idle-up"].witness["boost"] == 50


def test_a_knob_that_turns_both_modes_alike_adds_no_jump() -> None:
    boost = {"knobs.boost": {}, "channels.motor.mix": [{"from": "boost", "rate": 10}]}
    assert jumps({**boost, **flat(40.5)}) == {}
    assert "by 25.5 points" in jumps({**boost, **flat(41.5)})["idle-up"].message


def test_a_tie_after_the_movement_is_won_by_the_worst() -> None:
    tie = {
        name: {"channel": "motor", "value": value, "when": "mode is idle-up", "priority": 5}
        for name, value in (("overrides.a", 35), ("overrides.b", 60))
    }
    plain = {"channels.motor.in.idle-up": {"curve": "spool-flat"}}
    found = jumps({**tie, **plain})["idle-up"]
    assert found.outputs["motor"] == 60
    assert "b wins the tie on motor" in found.assumed


def test_memory_is_kept_through_the_movement() -> None:
    """A momentary switch that turns idle-up on and off: pulled again it goes back."""
    toggled = {
        "switches.up": {"kind": "momentary"},
        "conditions.stunt": {"when": "up is pulled", "toggles": True},
        "modes.normal.when": "not stunt",
    }
    found = jumps({**toggled, **flat(60)})
    assert found["normal"].steps[0]["up"] == "pulled"
    assert found["normal"].then == "then up to pulled"


def test_a_line_by_switch_hovers_by_switch() -> None:
    """At half the rate the collective hovers at +40; the switch that halves it is another one."""
    halved = {
        "curves.pitch-calm.points": [[-100, -70], [0, 20], [20, 30], [100, 80]],
        "channels.pitch.rate": {"switch": "rates", "at": {"soft": 50, "full": 100}},
        "channels.pitch.in.idle-up": {"from": 0},
    }
    found = jumps({**halved})["idle-up"]
    assert (found.witness["throttle"], found.witness["rates"]) in ((40, "soft"), (20, "full"))
    assert "pitch goes from +30 % to 0 %" in found.message


def test_what_cannot_be_read_is_not_judged() -> None:
    edit = {"overrides.gone": {"channel": "motor", "value": 0, "when": "nosuch is on"}}
    assert unjudged("mode-jump", edit) == ["overrides.gone.when names “nosuch”, which nothing declares"]


def test_a_channel_may_be_a_motor_where_what_it_drives_cannot_be_read() -> None:
    assert unjudged("mode-jump", {**flat(80), "channels.motor.drives": "rotor"}) == [
        "channels.motor.drives cannot be read"
    ]


def test_whose_stick_hovers_may_not_be_known() -> None:
    edit: dict[str, Any] = {**flat(80), "trainer": {"lent": "rates is full", "sticks": ["throttle"]}}
    assert said("mode-jump", edit)
    edit["trainer.sticks"] = ["power"]
    assert set(unjudged("mode-jump", edit)) == {"trainer.sticks cannot be read"}


# -- rescue-shared


HALF = {"kind": "three-position", "positions": ["released", "half", "pulled"]}


def test_hold_in_the_rescues_formula_is_released_by_the_movement_that_calls_it() -> None:
    found = by_subject("rescue-shared", {"intent.rescue": "save is pulled and hold is off"})["rescue"]
    assert found.message.startswith(
        "hold to off calls the rescue and releases the throttle hold with the same movement"
    )
    assert "motor goes from -100 % (0 of 100) to +55 % (77.5 of 100)" in found.message
    assert found.witness == {"hold": "on", "save": "pulled"}


def test_other_work_is_named_by_what_differs() -> None:
    work = {"switches.save": HALF, "overrides.quiet": {"channel": "motor", "value": 0, "when": "save is half"}}
    found = by_subject("rescue-shared", work)["rescue"]
    assert "save both calls the rescue and, while it is not called, does something else" in found.message
    assert "it moves motor from" in found.message
    assert found.then == "then save to half"
    mode = by_subject(
        "rescue-shared", {"switches.save": HALF, "modes.normal.when": "flight is normal and save is half"}
    )
    assert "mode idle-up is flown in one place of it and mode normal in another" in mode["rescue"].message


def test_a_place_without_the_rescue_that_does_the_same_is_no_other_work() -> None:
    assert by_subject("rescue-shared", {"switches.save": HALF}) == {}


def test_no_rescue_no_finding() -> None:
    assert by_subject("rescue-shared", {"switches.save": HALF}, ("intent.rescue",)) == {}


def test_more_modes_than_can_be_paired_are_not_decided() -> None:
    places = [f"p{n}" for n in range(9)]
    controls = {f"switches.{s}": {"kind": "selector", "positions": places} for s in ("one", "two")}
    modes = {
        f"modes.m{a}-{b}": {"when": f"one is {a} and two is {b}", "voice": "x"} for a in places for b in places[:-1]
    }
    report = linted(
        {**controls, **modes},
        remove=("modes", "channels.motor.in", "channels.pitch.in", "channels.tail-gain.in", "claims"),
        only=["mode-jump"],
    )
    assert [x.rule for x in report.findings] == ["not-decided"]
    assert "72 modes and 18 movements between them are too many" in report.findings[0].message


def test_a_ramp_is_offered_in_the_direction_of_the_jump_and_not_where_it_makes_the_hold_slow() -> None:
    flat = {"channels.motor.in.idle-up": {"curve": "spool-flat"}}
    (up,) = said("mode-jump", {"curves.spool-flat.points": [[-100, 42], [100, 42]], **flat})
    assert up.edit == Edit(("channels", "motor", "in", "idle-up", "ramp-up"), "1")
    assert up.remedy.endswith("Here that is ramp-up = 1 of motor in idle-up.")
    (down,) = said("mode-jump", {"curves.spool-flat.points": [[-100, 60], [100, 60]]})
    assert down.edit is None
    assert down.remedy.endswith("Here a ramp-down of 1 s would not do: hold-slow would report it.")
    (unknown,) = said("mode-jump", {"curves.spool-flat.points": [[-100, 60], [100, 60]]}, ("craft.motor-off",))
    assert unknown.edit is None
    assert unknown.remedy.endswith("Here a ramp-down of 1 s would not do: hold-slow could not be judged with it.")


def test_the_case_of_a_rate_stands_where_the_difference_is_largest() -> None:
    """It stood where the one output is just over nothing: no bench shows that."""
    save = {"switches.save": {"kind": "three-position", "positions": ["released", "half", "pulled"]}}
    rate = {"switch": "save", "at": {"released": 5, "half": 9, "pulled": 9}}
    (found,) = said("rescue-shared", {**save, "channels.roll.rate": rate, "channels.roll.expo": 0})
    assert found.message.endswith("it moves roll from +5 % to +9 %")
    assert found.witness["aileron"] == 100


def test_a_channel_or_override_that_cannot_be_read_may_be_what_differs() -> None:
    save = {"switches.save": {"kind": "three-position", "positions": ["released", "half", "pulled"]}}
    rate = {"switch": "save", "at": {"released": 60, "half": "x", "pulled": 60}}
    assert unjudged("rescue-shared", {**save, "channels.roll.rate": rate}) == ["channels.roll cannot be read"]
    held = {"overrides.calm": {"channel": "roll", "value": "x", "when": "save is half"}}
    assert unjudged("rescue-shared", {**save, **held}) == ["overrides.calm cannot be read"]
    assert unjudged("rescue-shared", save) == []


def test_a_difference_too_small_to_print_is_told_by_itself() -> None:
    save = {"switches.save": {"kind": "three-position", "positions": ["released", "half", "pulled"]}}
    values = {"released": 42, "half": 42.0001, "pulled": 42}
    gain = {"number": 5, "drives": "gyro-gain", "from": "save", "values": values}
    (found,) = said("rescue-shared", {**save, "channels.tail-gain": gain})
    assert found.message.endswith("it moves tail-gain by 0.0001 points from +42 %")


def test_a_movement_between_states_of_which_something_is_not_known_is_not_judged() -> None:
    """It was silent, as if proved."""
    edit: dict[str, Any] = {"intent.hold": "hold is onn"}  # the rescue may let it go
    assert unjudged("rescue-shared", edit) == ["intent.hold names “onn”, which nothing declares"]
    edit = {"overrides.gain-down": {"channel": "tail-gain", "value": -40, "when": "rates is ful"}}
    assert unjudged("gyro-gain-sign", edit) == ["overrides.gain-down.when names “ful”, which nothing declares"]


def test_the_movement_of_a_switch_that_cannot_be_read_is_one() -> None:
    """No other switch that is left changes the mode, with neither the hold nor the rescue called."""
    unread = {"switches.flight.kind": "lever", "channels.roll.rate": 80, "channels.tail-gain.in.idle-up.from": -42}
    for rule in ("mode-jump", "gyro-gain-sign"):
        assert set(unjudged(rule, {**flat(80), **unread}, ("switches.rates",))) == {"flight cannot be read"}


def test_five_switches_of_the_rescue_are_compared_without_trying_every_pair_of_places() -> None:
    """243 cases of one line, whose constants alone are others."""
    names = [f"guard-{n}" for n in range(5)]
    mix = [{"from": name, "values": {"off": 0, "half": 0.1 * 3**n, "on": 0}} for n, name in enumerate(names)]
    call = " and ".join(f"{name} is on" for name in names)
    edit: dict[str, Any] = {
        f"switches.{name}": {"kind": "three-position", "positions": ["off", "half", "on"]} for name in names
    }
    edit |= {f"overrides.{name}.when": call for name in ("rescue-power", "rescue-level")}
    edit |= {"knobs.fine": {}, "intent.rescue": call}
    edit["channels.lamp"] = {"number": 9, "drives": "other", "from": "fine", "rate": 50, "mix": mix}
    assert [f.rule for f in said("rescue-shared", edit)] == ["rescue-shared"]
