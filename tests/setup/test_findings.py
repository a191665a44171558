"""What is about more than one key (FORMAT.md, MEANING.md 2 to 5): each mistake by its rule, at its place."""

from __future__ import annotations

from typing import Any

import pytest

from setuplint.setup import SetupProblem, claim_formula
from setuplint.setup.formulas import FormulaError
from setuplint.setup.problems import RelatedPlace

from .whole import ABSENT, culprit, edited, load, only, said, steps

Edits = tuple[tuple[str, Any], ...]


def shown(*edits: tuple[str, Any]) -> tuple[SetupProblem, str]:
    """The one problem, and the text it points at."""
    document, built = load(edited(*edits))
    assert len(built.problems) == 1, built.problems
    return built.problems[0], culprit(document, built.problems[0])


@pytest.mark.parametrize(
    ("edits", "at", "words"),
    [
        ((("conditions.armed.stays", 1),), "conditions.armed.stays", "both stays and until"),
        ((("conditions.lamp.stays", 1),), "conditions.lamp.stays", "both stays and toggles"),
        ((("conditions.armed.toggles", True),), "conditions.armed.toggles", "both until and toggles"),
        ((("craft.rotor", "fixed"),), "craft.hover-collective", "rotor = “fixed”"),
        ((("craft.kind", "multirotor"), ("craft.rotor", ABSENT)), "craft.hover-collective", "a multirotor"),
        ((("craft.rotor-free", -96),), "craft.rotor-free", "(-96) is below motor-off (-95)"),
        ((("craft.governed-above", -70),), "craft.governed-above", "is not above rotor-free"),
        (
            (("craft.governed-above", -95), ("craft.rotor-free", ABSENT)),
            "craft.governed-above",
            "is not above motor-off",
        ),
        ((("channels.motor.low", 111),), "channels.motor.low", "low is above high"),
        ((("channels.gain.rate", 50),), "channels.gain.rate", "reads a fixed number"),
        ((("channels.gain.expo", 50),), "channels.gain.expo", "reads a fixed number"),
        ((("channels.gain.curve", "flat"),), "channels.gain.curve", "reads a fixed number"),
        ((("channels.gain.values", {"off": 1}),), "channels.gain.values", "values goes with a switch"),
        ((("channels.attitude.rate", 50),), "channels.attitude.rate", "reads the switch flight"),
        ((("channels.attitude.curve", "straight"),), "channels.attitude.curve", "reads the switch flight"),
        ((("channels.motor.values", {"off": 1}),), "channels.motor.values", "reads the stick throttle"),
        ((("channels.roll.mix.1.expo", 1),), "channels.roll.mix.1.expo", "reads the switch flight"),
        ((("channels.roll.mix.0.values", {}),), "channels.roll.mix.0.values", "reads the stick rudder"),
        ((("channels.motor.in.stunt.rate", 5),), "channels.motor.in.stunt.rate", "reads a fixed number"),
        ((("channels.attitude.in.stunt.rate", 5),), "channels.attitude.in.stunt.rate", "reads the switch flight"),
        ((("channels.attitude.values", ABSENT),), "channels.attitude.from", "without values"),
        ((("channels.gain.in", {"stunt": {"from": "hold"}}),), "channels.gain.in.stunt.from", "without values"),
        ((("channels.attitude.values.sport", ABSENT),), "channels.attitude.values", "nothing for sport of the switch"),
        ((("channels.roll.rate.at.off", ABSENT),), "channels.roll.rate.at", "says nothing for off of the switch hold"),
        ((("channels.motor.expo.at.on", ABSENT),), "channels.motor.expo.at", "says nothing for on of the switch hold"),
        ((("channels.roll.mix.0.from", "aileron"),), "channels.roll.mix.0.from", "“aileron” is read twice"),
        ((("channels.roll.in.stunt", {"from": "rudder"}),), "channels.roll.in.stunt.from", "“rudder” is read twice"),
        (
            (("channels.gain.in", {"stunt": {"from": "dial", "mix": [{"from": "dial"}]}}),),
            "channels.gain.in.stunt.mix.0.from",
            "“dial” is read twice",
        ),
        ((("channels.gain.from", "pack"),), "channels.gain.from", "“pack” is a sensor"),
        ((("channels.gain.from", "armed"),), "channels.gain.from", "“armed” is a condition"),
        ((("channels.roll.rate.switch", "throttle"),), "channels.roll.rate.switch", "“throttle” is a stick"),
        ((("modes.normal.when", ABSENT),), "modes.normal", "has no when, and is not the last"),
        ((("modes.sport.when", ABSENT),), "modes.sport", "has no when, and is not the last"),
        ((("overrides.held.value", ABSENT),), "overrides.held", "does not say what it demands"),
        ((("overrides.held.at-most", 0),), "overrides.held.value", "both value and at-most"),
        ((("overrides.capped.at-least", 61),), "overrides.capped.at-least", "at-least (61) is above at-most (60)"),
        ((("receiver-supply.volts", 6),), "receiver-supply.volts", "a li-ion has no volts"),
        ((("receiver-supply", {"kind": "regulator"}),), "receiver-supply", "receiver-supply has no volts"),
        ((("sensors.link.cells", 2),), "sensors.link.cells", "stands across no cells"),
        ((("sensors.pack.cells", 7),), "sensors.pack.cells", "stands across 7 cells, and the pack has 6"),
        ((("trainer.sticks", ["rudder", "rudder"]),), "trainer.sticks.1", "lends “rudder” twice"),
        ((("intent.level", {"channel": "attitude"}),), "intent.level", "does not say what the channel puts out"),
        ((("intent.level.value", 0),), "intent.level.value", "both value and at-least"),
        ((("intent.lift.at-most", 0),), "intent.lift.value", "both value and at-most"),
        ((("claims.0.never", ABSENT),), "claims.0", "neither never nor always"),
        ((("claims.0.always", "flying"),), "claims.0.always", "both never and always"),
    ],
)
def test_not_a_setup(edits: Edits, at: str, words: str) -> None:
    problem = only(*edits)
    assert (problem.rule, problem.path) == ("not-a-setup", steps(at))
    assert words in problem.message
    assert problem.help


@pytest.mark.parametrize(
    "edits",
    [
        (("conditions.armed.stays", 0), ("conditions.armed.toggles", False)),
        (("conditions.armed.after", 3), ("conditions.lamp.after", 2)),
        (("craft.rotor-free", -95),),
        (("craft.governed-above", -69.9),),
        (("channels.motor.low", 110),),
        (("channels.motor.in.stunt.from", "hold"), ("channels.motor.in.stunt.values", {"off": 1, "on": 2})),
        (("channels.attitude.in.stunt", {"from": "throttle"}),),
        (("channels.attitude.in.sport", {"from": 5}),),
        (("channels.attitude.in.sport", {"from": "flight"}),),
        (("channels.gain.from", ABSENT), ("channels.gain.in", {"stunt": {"rate": 50}})),
        (("channels.roll.in.stunt", {"from": "rudder", "mix": []}),),
        (("channels.gain.mix", [{"from": 1}, {"from": "hold", "values": {"on": 1, "off": 2}}] * 4),),
        (("modes.stunt.when", "flight is stunt"),),
        (("overrides.capped.at-least", ABSENT),),
        (("switches.save.positions", ["released", "pulled", "pushed"]),),
        (("sticks.throttle.rest", "middle"), ("start.enforced", False), ("craft.stabilised", False)),
        (("trainer", ABSENT),),
        (("receiver-supply", {"kind": "regulator", "volts": 6}), ("sensors.pack.cells", 6)),
        (("intent.lift", "unit"),),
        (("intent.level.at-most", ABSENT),),
        (("waivers.0.on", []), ("waivers.0.until", ABSENT)),
        (("modes.normal.when", "not (hold is not on and low or armed) and head >= -100"),),
        (("start", ABSENT), ("intent", ABSENT), ("failsafe", ABSENT)),
    ],
)
def test_what_is_right(edits: Edits) -> None:
    assert said(*edits) == ()


UNKNOWN = [
    ("conditions.low.when", "pak < 3", "pak", "did you mean pack?"),
    ("conditions.low.when", "pack < 3 or hodl is on", "hodl", "did you mean hold?"),
    ("conditions.low.when", "hold is onn", "onn", "did you mean on?"),
    ("conditions.low.when", "hold is wombat", "wombat", "its positions are off and on"),
    ("conditions.low.when", "not armd", "armd", "did you mean armed?"),
    ("conditions.low.when", "lnk is not lost", "lnk", "did you mean link?"),
    ("conditions.armed.until", "sav is pulled", "sav", "did you mean save?"),
    ("alarms.land.when", "mode is sprt", "sprt", "did you mean sport?"),
    ("modes.normal.when", "flite is normal", "flite", "did you mean flight?"),
    ("overrides.held.when", "hold  is  oof", "oof", "did you mean off?"),
    ("timers.flight.runs", "hld is on", "hld", "did you mean hold?"),
    ("start.requires", "throtle < -95", "throtle", "did you mean throttle?"),
    ("intent.rescue", "saev is pulled", "saev", "did you mean save?"),
    ("claims.0.never", "output attitud < 0", "attitud", "did you mean attitude?"),
    ("claims.0.never", "atitude follows throttle", "atitude", "did you mean attitude?"),
    ("claims.0.never", "attitude follows throtle", "throtle", "did you mean throttle?"),
    ("channels.motor.from", "throtle", '"throtle"', "did you mean throttle?"),
    ("channels.roll.mix.0.from", "ruddr", '"ruddr"', "did you mean rudder?"),
    ("channels.motor.curve", "sofft", '"sofft"', "did you mean soft?"),
    ("channels.motor.curve", "strait", '"strait"', "did you mean straight?"),
    ("channels.motor.in.sport.curve", "flatt", '"flatt"', "did you mean flat?"),
    ("channels.roll.rate.switch", "holt", '"holt"', "did you mean hold?"),
    ("overrides.held.channel", "mottor", '"mottor"', "did you mean motor?"),
    ("overrides.held.channel", "zzz", '"zzz"', "the channels are motor, roll, attitude and gain"),
    ("intent.level.channel", "attitud", '"attitud"', "did you mean attitude?"),
]


@pytest.mark.parametrize(("path", "value", "points_at", "help"), UNKNOWN)
def test_unknown_names(path: str, value: str, points_at: str, help: str) -> None:
    problem, text = shown((path, value))
    assert (problem.rule, problem.path) == ("unknown-name", steps(path))
    assert text == points_at
    assert points_at.strip('"') in problem.message
    assert problem.help == help


@pytest.mark.parametrize(
    ("path", "value", "word"),
    [
        ("channels.motor.in.sprt", {"curve": "flat"}, "sprt"),
        ("channels.attitude.values.sprt", 0, "sprt"),
        ("channels.roll.rate.at.onn", 0, "onn"),
        ("failsafe.wombat", 0, "wombat"),
    ],
)
def test_unknown_keys_that_are_names(path: str, value: object, word: str) -> None:
    problem, text = shown((path, value))
    assert (problem.rule, problem.path, problem.key) == ("unknown-name", steps(path), True)
    assert text == word


@pytest.mark.parametrize("word", ["sprot", "wombat"])
def test_a_position_by_another_word_is_one_mistake(word: str) -> None:
    problem = only(("channels.attitude.values", {"normal": 0, word: 0, "stunt": 0}))
    assert (problem.rule, problem.help) == ("unknown-name", "did you mean sport?")


def test_values_for_another_switch_are_one_mistake() -> None:
    problem = only(("channels.attitude.in.stunt.from", "hold"))
    assert (problem.rule, problem.path) == ("unknown-name", steps("channels.attitude.in.stunt.values"))
    assert "hold has none of these positions" in problem.message


@pytest.mark.parametrize(
    ("path", "formula", "points_at", "words"),
    [
        ("conditions.low.when", "hold and armed", "hold", "hold is a switch, where a condition belongs"),
        ("conditions.low.when", "pack", "pack", "pack is a sensor, where a condition belongs"),
        ("conditions.low.when", "throttle", "throttle", "throttle is a stick, where a condition belongs"),
        ("conditions.low.when", "hold < 3", "hold", "hold is a switch, where a stick, knob or sensor belongs"),
        ("conditions.low.when", "armed > 3", "armed", "armed is a condition"),
        ("conditions.low.when", "armed is on", "armed", "armed is a condition, where a switch belongs"),
        ("conditions.low.when", "pack is low", "pack", "pack is a sensor, where a switch belongs"),
        ("conditions.low.when", "hold is lost", "hold", "hold is a switch, where a sensor belongs"),
        ("conditions.low.when", "throttle is lost", "throttle", "throttle is a stick, where a sensor belongs"),
        ("conditions.low.when", "output motor > 3", "output motor > 3", "in claims and rules only"),
        ("modes.normal.when", "hold called", "hold called", "in claims and rules only"),
        ("overrides.held.when", "flying", "flying", "in claims and rules only"),
        ("alarms.land.when", "motor runs", "motor runs", "in claims and rules only"),
        ("timers.flight.runs", "sprung switches released", "sprung switches released", "in claims and rules only"),
        ("start.requires", "start allowed", "start allowed", "in claims and rules only"),
        ("intent.hold", "motor follows throttle", "motor follows throttle", "in claims and rules only"),
        ("claims.0.never", "motor follows hold", "hold", "hold is a switch, where a stick or knob belongs"),
    ],
)
def test_names_used_for_what_they_are_not(path: str, formula: str, points_at: str, words: str) -> None:
    problem, text = shown((path, formula))
    assert (problem.rule, problem.path) == ("not-a-setup", steps(path))
    assert text == points_at
    assert words in problem.message


@pytest.mark.parametrize(
    ("formula", "number", "words"),
    [
        ("throttle > 100.5", "100.5", "throttle never gives 100.5 %: it goes from -100 to 100"),
        ("dial < -101", "-101", "dial never gives -101 %"),
        ("pack < 30.1", "30.1", "pack never shows 30.1 V: it goes from 0 to 30"),
        ("link > 101", "101", "link never shows 101 %"),
        ("output motor > 150.5", "150.5", "the output of motor is never 150.5 %: it goes from -150 to 150"),
    ],
)
def test_thresholds_outside_their_range(formula: str, number: str, words: str) -> None:
    problem, text = shown(("claims.0.never", formula))
    assert (problem.rule, problem.path, text) == ("value-out-of-range", ("claims", 0, "never"), number)
    assert problem.message.startswith(words)
    _, built = load(edited(("claims.0.never", formula)))
    assert "Unknown" not in repr(built.setup.claims[0].never)


# MEANING.md 1.
SENSORS = {
    "pack-voltage": (0, 120),
    "cell-voltage": (0, 5),
    "receiver-voltage": (0, 30),
    "current": (0, 1000),
    "charge-used": (0, 1_000_000),
    "rotor-speed": (0, 20_000),
    "temperature": (-60, 300),
    "link-quality": (0, 100),
    "signal-strength": (-150, 150),
}


@pytest.mark.parametrize("reads", SENSORS)
def test_thresholds_of_sensors_at_both_ends(reads: str) -> None:
    low, high = SENSORS[reads]

    def rules(formula: str, **more: object) -> list[str]:
        sensors, conditions = {"s": {"reads": reads}}, {"c": {"when": formula}}
        _, built = load({"format": 1, "sensors": sensors, "conditions": conditions, **more})
        return [p.rule for p in built.problems]

    assert rules(f"s >= {low} and s <= {high}") == []
    assert rules(f"s > {low - 0.5}") == rules(f"s < {high + 0.5}") == ["value-out-of-range"]
    if reads == "pack-voltage":
        assert rules("s < 15", battery={"cells": 3}) == []
        assert rules("s < 15.1", battery={"cells": 3}) == ["value-out-of-range"]


def test_name_clashes() -> None:
    problem, text = shown(("sensors.bank", {"reads": "current"}))
    assert (problem.rule, problem.path, problem.key, text) == ("name-clash", ("sensors", "bank"), True, "bank")
    assert (problem.subject, problem.message) == ("bank", "bank is the name of a switch and a sensor")
    assert problem.related == (RelatedPlace(("switches", "bank"), "the same name here"),)
    problem = only(("knobs.rudder", {}))
    assert problem.message == "rudder is the name of a stick and a knob"
    three = only(("knobs.bank", {}), ("conditions.bank", {"when": "low"}))
    assert three.message == "bank is the name of a knob, a switch and a condition"
    assert len(three.related) == 2
    rows = {
        "modes": {},
        "channels": {},
        "curves": {"points": [[0, 0], [1, 1]]},
        "alarms": {"when": "low"},
        "timers": {"seconds": 3},
        "overrides": {"channel": "motor", "value": 0, "when": "low"},
    }
    for kind, row in rows.items():
        last_mode_needs_no_when = (("modes.stunt.when", "low"),) if kind == "modes" else ()
        assert said((f"{kind}.hold", row), *last_mode_needs_no_when) == ()


def test_a_name_that_nothing_declares_is_one_finding_with_all_its_places() -> None:
    problem = only(("switches.hold", ABSENT))
    assert (problem.rule, problem.path, problem.subject) == ("unknown-name", ("conditions", "armed", "when"), "hold")
    assert problem.related[0] == RelatedPlace(("conditions", "armed", "until"), "and here")
    assert RelatedPlace(("overrides", "held", "when"), "and here") in problem.related
    assert [p.subject for p in said(("channels.gain", ABSENT), ("curves.soft", ABSENT))] == [
        "curve soft",
        "channel gain",
    ]
    assert only(("alarms.land.when", "mode is sprt")).subject == "mode sprt"
    assert only(("alarms.land.when", "hold is onn")).subject == "hold is onn"


def test_a_required_key_that_is_misspelt_is_one_finding() -> None:
    problem = only(("overrides.held.whne", "hold is on"), ("overrides.held.when", ABSENT))
    assert (problem.path, problem.help) == (("overrides", "held", "whne"), "did you mean when?")


def test_channel_clash() -> None:
    problem = only(("channels.roll.number", 2), ("channels.gain.number", 2))
    assert (problem.rule, problem.path) == ("channel-clash", ("channels", "gain", "number"))
    assert problem.message == "channel 2 of the receiver is motor, roll and gain"
    assert [other.path for other in problem.related] == [
        ("channels", "motor", "number"),
        ("channels", "roll", "number"),
    ]


def test_claims_of_rules_and_questions() -> None:
    setup = load(edited())[1].setup
    assert claim_formula("hold called and output motor > 3", setup) == claim_formula(
        "  hold   called and output motor > 3.0", setup
    )
    for text, start, end in [("hold called and hodl is on", 16, 20), ("rotor drivn", 6, 11), ("mode is x", 8, 9)]:
        with pytest.raises(FormulaError) as caught:
            claim_formula(text, setup)
        assert (caught.value.start, caught.value.end) == (start, end)


@pytest.mark.parametrize(
    ("formula", "message", "help"),
    [
        ("(hold is on", "the formula ends where “)” is expected", "close the parenthesis"),
        ("hold is on)", "“)” stands where and, or, or the end is expected", "a “(” for each “)”"),
        ("hold is on save is pulled", "“save” stands where and, or, or the end", "write “and” or “or” between"),
        ("hold on", "“on” stands where and, or, is, a comparison or the end", "did you mean “is on”?"),
        ("hold on on", "“on” stands where and, or, is, a comparison or the end", "write for example “hold is on”"),
        ("pack over 21", "“over” stands where and, or, is, a comparison or the end", "did you mean >?"),
        ("hold == on", "“==” is not a part of a formula", "did you mean is?"),
        ("pack == 21", "“==” is not a part of a formula", "compare a number by <, <=, > or >="),
        ("hold is on, save is pulled", "“,” is not a part of a formula", "write “and” or “or” between two"),
        ("!hold is on", "“!hold” is not a part of a formula", "did you mean not hold?"),
        ("hold is on xor save is pulled", "“xor” stands where and, or", "write “and” or “or” between"),  # not: or
        ("output motor below 20", "“below” stands where <, <=, > or >= is expected", "did you mean <?"),
        (
            "motor running",
            "“running” stands where and, or, is",
            "did you mean “motor runs”? Claims and rules alone can ask that",
        ),
        ("pack <", "the formula ends where a number is expected", "“pack < 21.6”"),
        ("mode calm", "“calm” stands where “is” is expected", "“mode is normal”"),
    ],
)
def test_a_formula_that_cannot_be_read_says_how_one_is_written(formula: str, message: str, help: str) -> None:
    with pytest.raises(FormulaError) as caught:
        claim_formula(formula, load(edited())[1].setup)
    assert message in caught.value.message
    assert help in caught.value.help


def test_claims_are_kept_as_what_must_never_be() -> None:
    first, second = load(edited())[1].setup.claims
    assert first.subject == "mode is stunt and output attitude < 0 and sprung switches released"
    assert second.subject == "not (not hold called or dial > 50 or roll follows aileron)"
    assert first.never == claim_formula(first.subject, load(edited())[1].setup)
    assert second.never == claim_formula(second.subject, load(edited())[1].setup)


def test_modes_are_in_the_order_of_their_headings() -> None:
    text = 'format = 1\n[switches.s]\nkind = "momentary"\n[modes.zebra]\nwhen = "s is pulled"\n[modes.ant]\n'
    _document, built = load(text)
    assert built.problems == ()
    assert list(built.setup.modes) == ["zebra", "ant"]


MISTAKES = """format = 1
wombat = 3
[craft]
motor_off = -95
hover-throttle = "16"
[battery]
cells = 60
[switches.hold]
kind = "tow-position"
positions = ["off", "on"]
[sensors.pack]
reads = "pack-voltage"
[conditions.low]
when = "pak < 21.6"
[conditions.held]
when = "hold is on or or low"
[conditions.a]
when = "b"
[conditions.b]
when = "not a"
[curves.soft]
points = [[0, 0], [0, 1]]
[channels.motor]
from = "throttle"
curve = "sotf"
sub-trim = -101
[alarms.x]
tone = true
[failsafe]
motor = -151
"""


def test_all_at_once() -> None:
    document, built = load(MISTAKES)
    assert [(p.rule, culprit(document, p)) for p in built.problems] == [
        ("not-a-setup", "wombat"),
        ("not-a-setup", "motor_off"),
        ("not-a-setup", '"16"'),
        ("not-a-setup", "60"),
        ("not-a-setup", '"tow-position"'),
        ("unknown-name", "pak"),
        ("not-a-setup", "or"),
        ("condition-loop", "b"),
        ("curve-unordered", "0"),
        ("unknown-name", '"sotf"'),
        ("not-a-setup", "-101"),
        ("not-a-setup", "[alarms.x]"),
        ("value-out-of-range", "-151"),
    ]
    assert len({p.subject for p in built.problems}) == 13


def test_what_is_said_is_plain_and_bounded() -> None:
    for problem in load(MISTAKES)[1].problems:
        for text in (problem.message, problem.help, problem.subject):
            assert text
            assert text.isprintable()
            assert len(text) < 250
    long = "x" * 5000
    (problem,) = load(f'format = 1\n[craft]\n"{long}" = "\\u001b[31m{long}"\n')[1].problems
    assert len(problem.message) < 250
    (problem,) = load(f'format = 1\n[craft]\nkind = "\\u001b[31m{long}"\n')[1].problems
    assert problem.message.isprintable()
    assert len(problem.message) < 250
