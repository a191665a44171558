"""Every row of FORMAT.md: what is taken, at both ends of its range, and what is refused just beyond."""

from __future__ import annotations

import datetime
from typing import Any

import pytest

from setuplint.setup import SetupProblem
from setuplint.setup.problems import Nearest

from .whole import ABSENT, WHOLE, culprit, edited, load, only, said, steps

PERCENT = (-150, 150)
NUMBERS: dict[str, tuple[float, float]] = {
    "craft.motor-off": PERCENT,
    "craft.rotor-free": PERCENT,
    "craft.hover-throttle": PERCENT,
    "craft.hover-collective": PERCENT,
    "craft.governed-above": PERCENT,
    "craft.hover-measured-at-m": (-500, 9000),
    "craft.pulse.centre": (500, 2500),
    "craft.pulse.per-percent": (0.1, 20),
    "battery.capacity-mah": (1, 1_000_000),
    "battery.resistance-mohm": (0, 10_000),
    "battery.hover-current-a": (0, 1000),
    "battery.peak-current-a": (0, 1000),
    "sticks.throttle.trim": (0, 100),
    "conditions.low.after": (0, 3600),
    "conditions.low.stays": (0, 3600),
    "channels.gain.from": PERCENT,
    "channels.motor.rate": PERCENT,
    "channels.motor.expo.at.on": (-50, 100),
    "channels.roll.rate.at.on": PERCENT,
    "channels.roll.mix.0.rate": PERCENT,
    "channels.roll.mix.0.expo": (-50, 100),
    "channels.roll.mix.1.values.stunt": PERCENT,
    "channels.attitude.values.normal": PERCENT,
    "channels.motor.ramp-up": (0, 60),
    "channels.motor.ramp-down": (0, 60),
    "channels.motor.travel.0": (0, 150),
    "channels.motor.travel.1": (0, 150),
    "channels.motor.sub-trim": (-100, 100),
    "channels.motor.low": PERCENT,
    "channels.motor.high": PERCENT,
    "channels.motor.in.stunt.from": PERCENT,
    "channels.motor.in.sport.rate": PERCENT,
    "channels.motor.in.sport.expo": (-50, 100),
    "channels.motor.in.sport.ramp-up": (0, 60),
    "channels.motor.in.sport.ramp-down": (0, 60),
    "overrides.held.value": PERCENT,
    "overrides.held.priority": (-1_000_000, 1_000_000),
    "overrides.capped.at-least": PERCENT,
    "overrides.capped.at-most": PERCENT,
    "alarms.land.repeat": (0, 3600),
    "failsafe.motor": PERCENT,
    "timers.flight.seconds": (1, 86_400),
    "field.elevation-m": (-500, 9000),
    "swash.collective": PERCENT,
    "swash.cyclic": PERCENT,
    "swash.ring": (1, 150),
    "intent.level.at-least": PERCENT,
    "intent.level.at-most": PERCENT,
    "intent.lift.value": PERCENT,
    "curves.flat.points.0.1": PERCENT,
}
WHOLE_NUMBERS = {
    "battery.cells": (1, 24),
    "packs.winter.cells": (1, 24),
    "receiver-supply.cells": (1, 10),
    "channels.motor.number": (1, 32),
}
WORDS = {
    "craft.kind": "helicopter multirotor",
    "craft.rotor": "collective fixed",
    "battery.chemistry": "lipo lihv li-ion life",
    "switches.bank.kind": "momentary two-position three-position selector",
    "sensors.link.reads": "pack-voltage cell-voltage receiver-voltage current charge-used rotor-speed temperature "
    "link-quality signal-strength",
    "curves.soft.smoothing": "none monotone cardinal natural unknown",
    "channels.motor.drives": "motor collective aileron elevator rudder gyro-gain stabiliser other",
    "failsafe.roll": "keep unit none",
    "swash.servos": "one two-90 three-120 three-135 three-140 four-90",
    "sticks.throttle.rest": "bottom middle",
    "receiver-supply.kind": "regulator lipo lihv li-ion life nimh",
    "trainer.sticks.0": "throttle aileron elevator rudder",
    "intent.lift": "unit",
}
FLAGS = [
    "craft.soft-start",
    "craft.arms-when-stopped",
    "craft.stabilised",
    "start.enforced",
    "sensors.pack.shown",
    "conditions.low.toggles",
    "modes.sport.idle-up",
    "modes.sport.aerobatic",
    "channels.motor.reversed",
    "alarms.land.tone",
    "alarms.land.vibrate",
    "timers.flight.tone",
    "timers.flight.vibrate",
]
TEXTS = [
    "craft.name",
    "craft.radio",
    "sticks.throttle.place",
    "knobs.head.place",
    "switches.flight.place",
    "modes.normal.voice",
    "alarms.land.voice",
    "timers.flight.voice",
    "claims.0.because",
    "waivers.0.rule",
    "waivers.0.reason",
]
FORMULAS = [
    "conditions.low.when",
    "conditions.armed.until",
    "modes.normal.when",
    "overrides.held.when",
    "alarms.land.when",
    "timers.flight.runs",
    "start.requires",
    "trainer.lent",
    "intent.hold",
    "intent.stop",
    "intent.rescue",
    "claims.0.never",
    "claims.1.always",
]
REQUIRED = {
    "format": "",
    "switches.hold.kind": "switches.hold",
    "sensors.link.reads": "sensors.link",
    "conditions.lamp.when": "conditions.lamp",
    "modes.normal.when": "modes.normal",
    "curves.flat.points": "curves.flat",
    "channels.roll.mix.0.from": "channels.roll.mix.0",
    "channels.roll.rate.at": "channels.roll.rate",
    "channels.roll.rate.switch": "channels.roll.rate",
    "overrides.held.channel": "overrides.held",
    "overrides.held.value": "overrides.held",
    "overrides.held.when": "overrides.held",
    "alarms.land.when": "alarms.land",
    "timers.bench.seconds": "timers.bench",
    "field.elevation-m": "field",
    "swash.servos": "swash",
    "trainer.lent": "trainer",
    "receiver-supply.kind": "receiver-supply",
    "receiver-supply.cells": "receiver-supply",
    "trainer.sticks": "trainer",
    "intent.level.channel": "intent.level",
    "waivers.0.rule": "waivers.0",
    "waivers.0.reason": "waivers.0",
}
TABLES = [
    "craft",
    "craft.pulse",
    "battery",
    "sticks.throttle",
    "knobs.head",
    "switches.hold",
    "sensors.pack",
    "conditions.low",
    "modes.normal",
    "curves.soft",
    "channels.motor",
    "channels.motor.in.sport",
    "channels.roll.mix.0",
    "overrides.held",
    "alarms.land",
    "timers.flight",
    "field",
    "swash",
    "packs.winter",
    "receiver-supply",
    "start",
    "trainer",
    "intent",
    "intent.level",
    "claims.0",
    "waivers.0",
]


def about(path: str, *edits: tuple[str, Any]) -> list[SetupProblem]:
    """What is said of the value at a path itself, apart from what it does to others."""
    return [p for p in said(*edits) if p.path == steps(path) and ("outside" in p.message or "belong" in p.message)]


def test_the_whole_format_is_taken() -> None:
    document, built = load(WHOLE)
    assert not document.problems
    assert built.problems == ()
    assert built.setup.broken == frozenset()


@pytest.mark.quick(15)
@pytest.mark.parametrize("path", NUMBERS)
def test_numbers_at_both_ends_and_just_beyond(path: str) -> None:
    low, high = NUMBERS[path]
    for good in (low, high):
        assert about(path, (path, good)) == []
    for bad in (round(low - 0.001, 4), round(high + 0.001, 4)):
        document, built = load(edited((path, bad)))
        found = [p for p in built.problems if p.path == steps(path)]
        assert len(found) == 1
        assert culprit(document, found[0]) == str(bad)
        assert str(bad) in found[0].message
        assert f"{low:g} to {high:g}".replace("e+06", "") in found[0].message.replace(",000,000", "")
        assert found[0].rule == ("value-out-of-range" if high == 150 else "not-a-setup")


@pytest.mark.quick(50)
@pytest.mark.parametrize("path", [*NUMBERS, *WHOLE_NUMBERS])
@pytest.mark.parametrize("value", [True, "1", [1], datetime.date(2026, 1, 2)])
def test_numbers_are_numbers(path: str, value: object) -> None:
    if isinstance(value, str) and path in ("channels.gain.from", "channels.motor.in.stunt.from"):
        return  # a name: below
    problems = [p for p in said((path, value)) if p.path == steps(path)]
    if isinstance(value, str) and path == "failsafe.motor":
        assert "keep, unit or none" in problems[0].help
        return
    assert [p.rule for p in problems] == ["not-a-setup"]
    assert "number from" in problems[0].message
    assert ("without quotes" in problems[0].help) == (value == "1")


@pytest.mark.parametrize("path", ["craft.motor-off", "overrides.held.value", "channels.gain.from", "failsafe.motor"])
@pytest.mark.parametrize("value", [float("nan"), float("inf"), float("-inf")])
def test_numbers_are_finite(path: str, value: float) -> None:
    problem = only((path, value))
    assert (problem.rule, problem.path) == ("not-a-setup", steps(path))
    assert "not an amount" in problem.message


@pytest.mark.parametrize("path", WHOLE_NUMBERS)
def test_whole_numbers(path: str) -> None:
    low, high = WHOLE_NUMBERS[path]
    for good in (low, high):
        assert about(path, (path, good)) == []
    for bad in (low - 1, high + 1, low + 0.5, float(low)):
        problems = [p for p in said((path, bad)) if p.path == steps(path)]
        assert [p.rule for p in problems] == ["not-a-setup"]
        assert f"{low} to {high}" in problems[0].message


@pytest.mark.parametrize("path", WORDS)
def test_words(path: str) -> None:
    words = WORDS[path].split()
    for word in words:
        assert not [p for p in said((path, word)) if "cannot be" in p.message]
    problem = next(p for p in said((path, words[0].upper() + "x")) if p.path == steps(path))
    assert problem.rule == "not-a-setup"
    assert words[0] in problem.help
    assert any("belong" in p.message for p in said((path, [1])) if p.path == steps(path))


@pytest.mark.parametrize("path", FLAGS)
def test_flags(path: str) -> None:
    for good in (True, False):
        assert about(path, (path, good)) == []
    for bad in (1, "true"):
        problem = only((path, bad))
        assert (problem.rule, problem.path) == ("not-a-setup", steps(path))
        assert "true or false belongs" in problem.message


@pytest.mark.parametrize("path", [*TEXTS, *FORMULAS])
def test_texts_and_formulas_are_in_quotes(path: str) -> None:
    for bad in (3, True, ["x"]):
        problems = [p for p in said((path, bad)) if p.path == steps(path)]
        assert [p.rule for p in problems] == ["not-a-setup"]
        assert "in quotes belongs" in problems[0].message


@pytest.mark.parametrize("path", FORMULAS)
def test_a_formula_that_cannot_be_read_is_shown_where(path: str) -> None:
    document, built = load(edited((path, "hold is on or or hold is off")))
    (problem,) = built.problems
    assert (problem.rule, problem.path) == ("not-a-setup", steps(path))
    assert culprit(document, problem) == "or"
    assert problem.within == (14, 16)


def test_name_of_the_craft() -> None:
    assert said(("craft.name", "x" * 60)) == ()
    assert "61 characters, more than 60" in only(("craft.name", "x" * 61)).message
    assert "is empty" in only(("craft.name", "")).message
    assert load(edited(("craft.name", ABSENT)))[1].setup.craft.name == "dunlin"


@pytest.mark.parametrize("path", REQUIRED)
def test_required_keys(path: str) -> None:
    problem = only((path, ABSENT))
    assert problem.rule == "not-a-setup"
    assert problem.path == (steps(REQUIRED[path]) if REQUIRED[path] else ())
    assert path.rsplit(".", 1)[-1] in problem.message + problem.help
    assert problem.help.startswith(("add", "begin"))


@pytest.mark.parametrize("path", TABLES)
def test_unknown_keys(path: str) -> None:
    document, built = load(edited((f"{path}.wombat", 1)))
    (problem,) = built.problems
    assert (problem.rule, problem.path, problem.key) == ("not-a-setup", (*steps(path), "wombat"), True)
    assert culprit(document, problem) == "wombat"
    assert "its keys are" in problem.help


@pytest.mark.parametrize("path", TABLES)
def test_a_table_is_a_table(path: str) -> None:
    problems = [p for p in said((path, 7)) if p.path == steps(path)]
    assert [p.rule for p in problems] == ["not-a-setup"]
    assert "table belongs" in problems[0].message


def test_format() -> None:
    assert only(("format", ABSENT)).help == "begin it with format = 1"
    for other in (2, 0, True, "1", 1.0):
        document, built = load({"format": other, "craft": {"kind": "nonsense"}, "wombat": 3})
        assert [p.path for p in built.problems] == [("format",)]
        assert culprit(document, built.problems[0]) in ("2", "0", "true", '"1"', "1.0")
        assert built.setup.craft.name == "dunlin"
        assert built.setup.channels == {}


def test_extends_that_cannot_be_read_may_bring_names() -> None:
    problem = only(("extends", "club.toml"), ("overrides.held.when", "fuse is out"), ("alarms.land.when", "egt > 3"))
    assert (problem.rule, problem.path) == ("not-a-setup", ("extends",))
    assert [p.rule for p in said(("extends", "club.toml"), ("overrides.held.channel", "moto"))] == [
        "not-a-setup",
        "unknown-name",
    ]


def test_empty_tables_are_like_absent_ones() -> None:
    for table in (
        "modes",
        "failsafe",
        "start",
        "intent",
        "craft",
        "battery",
        "sticks",
        "conditions",
        "curves",
        "timers",
    ):
        small = {"format": 1, table: {}}
        _, built = load(small)
        assert built.problems == ()
        assert built.setup.failsafe is None
        assert built.setup.start is None
        assert built.setup.intent.hold is None


def test_sticks_are_four_and_their_tables_may_be_empty() -> None:
    _, built = load({"format": 1, "knobs": {"x": {}}})
    assert list(built.setup.sticks) == ["throttle", "aileron", "elevator", "rudder", "x"]
    assert built.setup.sticks["x"].knob
    problem = only(("sticks.ruder", {"trim": 3}))
    assert (problem.rule, problem.help, problem.key) == ("not-a-setup", "did you mean rudder?", True)


def test_switch_positions() -> None:
    def positions(**switch: object) -> tuple[str, ...]:
        _, built = load({"format": 1, "switches": {"s": switch}})
        assert built.problems == ()
        return built.setup.switches["s"].positions

    assert positions(kind="momentary") == ("released", "pulled")
    assert positions(kind="momentary", positions=["a", "b", "c"]) == ("a", "b", "c")
    assert positions(kind="two-position") == ("off", "on")
    assert positions(kind="three-position") == ("up", "middle", "down")
    assert positions(kind="two-position", positions=["a", "b-2"]) == ("a", "b-2")
    assert positions(kind="selector", positions=["a", "b"]) == ("a", "b")
    assert positions(kind="selector", positions=list("abcdefghijkl")) == tuple("abcdefghijkl")


@pytest.mark.parametrize(
    ("kind", "positions", "rule", "words"),
    [
        ("selector", None, "not-a-setup", "without positions"),
        ("selector", ["a"], "not-a-setup", "has 1 item"),
        ("selector", list("abcdefghijklm"), "not-a-setup", "has 13 items"),
        ("momentary", ["a", "b", "c", "d"], "not-a-setup", "has 4 positions, and a momentary switch has 2 or 3"),
        ("two-position", ["a", "b", "c"], "not-a-setup", "has 3 positions"),
        ("three-position", ["a", "b"], "not-a-setup", "has 2 positions"),
        ("two-position", ["a", "a"], "not-a-setup", "two positions “a”"),
        ("two-position", ["a", "Up High"], "not-a-setup", "“Up High” is not a name"),
        ("two-position", ["a", "lost"], "name-clash", "“lost” is a word"),
        ("two-position", ["a", 3], "not-a-setup", "a word belongs"),
    ],
)
def test_bad_switch_positions(kind: str, positions: object, rule: str, words: str) -> None:
    switch = {"kind": kind} if positions is None else {"kind": kind, "positions": positions}
    _, built = load({"format": 1, "switches": {"s": switch}})
    (problem,) = built.problems
    assert problem.rule == rule
    assert words in problem.message


@pytest.mark.parametrize(
    ("points", "rule", "at", "words"),
    [
        ([[0, 1]], "curve-unordered", "points", "one point"),
        ([], "curve-unordered", "points", "no points"),
        ([[0, 1], [0, 2]], "curve-unordered", "points.1.0", "do not rise: 0 comes after 0"),
        ([[0, 1], [5, 2], [-5.5, 3]], "curve-unordered", "points.2.0", "-5.5 comes after 5"),
        ([[-100.1, 1], [5, 2]], "curve-unordered", "points.0.0", "input -100.1, outside -100 to 100"),
        ([[0, 1], [100.5, 2]], "curve-unordered", "points.1.0", "100.5, outside"),
        ([[0, 151], [5, 2]], "value-out-of-range", "points.0.1", "151, outside -150 to 150"),
        ([[0, 1, 2], [5, 2]], "not-a-setup", "points.0", "not a pair"),
        ([[0], [5, 2]], "not-a-setup", "points.0", "not a pair"),
        ([0, 1], "not-a-setup", "points.0", "pair [input, output] belongs"),
        ([["a", 1], [5, 2]], "not-a-setup", "points.0.0", "number from -100 to 100"),
        ([[n, 0] for n in range(34)], "not-a-setup", "points", "34 items"),
        ("straight", "not-a-setup", "points", "pairs [input, output] belongs"),
    ],
)
def test_curve_points(points: object, rule: str, at: str, words: str) -> None:
    problems = said(("curves.flat.points", points))
    assert (problems[0].rule, problems[0].path) == (rule, steps(f"curves.flat.{at}"))
    assert words in problems[0].message
    assert len(problems) == (2 if points == [0, 1] else 1)


def test_curves_take_33_points_to_the_ends() -> None:
    assert said(("curves.flat.points", [[-100 + 6.25 * n, 150] for n in range(33)])) == ()
    assert said(("curves.flat.points", [[-100, -150], [100, 150]])) == ()


def test_lists_of_channels() -> None:
    mix = [{"from": n} for n in range(8)]
    assert said(("channels.gain.mix", mix)) == ()
    assert "has 9 items, where at most 8 belong" in only(("channels.gain.mix", [*mix, {"from": 1}])).message
    for travel in ([100], [100, 100, 100]):
        assert "where 2 belong" in only(("channels.motor.travel", travel)).message


def test_which_word_a_missing_key_has_is_not_proposed() -> None:
    """A throttle hold on a switch that springs back would be a hazard of the remedy's making."""
    _, built = load({"format": 1, "switches": {"hold": {"positions": ["off", "on"]}}})
    (problem,) = built.problems
    assert problem.help == 'add kind = "momentary", "two-position", "three-position" or "selector"'
    assert only(("receiver-supply", {})).help.startswith('add kind = "regulator", "lipo", ')


def test_of_words_as_near_the_one_that_begins_the_same_was_meant() -> None:
    """A motor whose channel drives "other" is judged by no rule about danger."""
    assert only(("channels.motor.drives", "moter")).help.startswith("did you mean “motor”?")


def test_a_word_of_the_trade_that_names_nothing_here_is_a_misspelt_name() -> None:
    """Roll is the aileron; a knob of nearly that name comes first where no aileron can be meant."""
    document = {**edited(), "knobs": {"rolls": {}}, "conditions": {"x": {"when": "rol > 0"}, "y": {"when": "roll > 0"}}}
    helps = {problem.path[1]: problem.help for problem in load(document)[1].problems if problem.path[0] == "conditions"}
    assert helps == {"x": "did you mean rolls?", "y": "did you mean aileron?"}
    assert Nearest().match("roll", ["rolls", "yaws"]) == "rolls"


def test_a_number_is_not_said_to_be_meant_where_it_stands() -> None:
    _, built = load({"format": 1, "curves": {"soft": {"points": [-100, 20, 60]}}})
    assert {each.help for each in built.problems} == {"write for example points = [[-100, -100], [0, 16], [100, 100]]"}


@pytest.mark.parametrize(
    ("path", "value", "help"),
    [
        ("switches.hold.kind", 2, "put the one that is meant there, in quotes"),
        # Not: did you mean none?
        ("curves.hover.smoothing", "on", "it is none, monotone, cardinal, natural or unknown"),
        # The throttle hold, or what the channel had last.
        ("failsafe.motor", "hold", "it is a number from -150 to 150 (% of travel), or keep, unit or none"),
        ("overrides.held.value", 1000, "give a number from -150 to 150, in percent of travel and not the pulse in µs"),
        ("overrides.value", -100, "give it a name: write [overrides.NAME] above its keys"),
    ],
)
def test_no_remedy_proposes_what_may_be_the_opposite(path: str, value: Any, help: str) -> None:
    _, built = load(edited((path, value)))
    assert help in [problem.help for problem in built.problems]


@pytest.mark.parametrize(
    "path", ["switches.hold", "conditions.low", "channels.motor", "modes.sport", "sensors.pack", "overrides.held"]
)
def test_a_part_whose_name_is_none_is_told_once_and_known_by_the_one_that_is_meant(path: str) -> None:
    """Not: there is no switch “hold”, did you mean Hold? Nor that nothing overrides a channel Motor."""
    kind, name = path.split(".")
    wrong = name.capitalize()
    _, built = load(
        {**edited(), kind: {wrong if each == name else each: part for each, part in edited()[kind].items()}}
    )
    (problem,) = built.problems
    assert (problem.path, problem.help) == ((kind, wrong), f"did you mean {name}?"), problem.message
    assert (kind, name) in built.setup.broken
    assert (name in getattr(built.setup, kind), wrong in getattr(built.setup, kind)) == (True, False)


def test_what_is_wrong_in_a_part_whose_name_is_none_is_not_relied_on() -> None:
    """Of two that mean one name, one has it."""
    parts = {"Low": {"when": "save is pulled", "repeat": "on"}, "LOW": {"when": "hold is on"}}
    _, built = load({**edited(), "alarms": parts})
    assert ("alarms", "Low", "repeat") in [problem.path for problem in built.problems]
    assert ("alarms", "low", "repeat") in built.setup.broken
    assert (built.setup.alarms["low"].repeat, set(built.setup.alarms)) == (0, {"low", "LOW"})


def test_failsafe_names_channels() -> None:
    problem = only(("failsafe.moto", -100), ("failsafe.motor", ABSENT))
    assert (problem.rule, problem.path, problem.key) == ("unknown-name", ("failsafe", "moto"), True)
    assert problem.help == "did you mean motor?"


def test_waivers() -> None:
    for bad in ("2027-04-01", datetime.datetime(2027, 4, 1, 0, 0), 3):
        assert "a date belongs" in only(("waivers.0.until", bad)).message
    assert "a text in quotes belongs" in only(("waivers.0.on", ["a", 3])).message
    assert "a list of texts belongs" in only(("waivers.0.on", "stunt")).message
    for key in ("rule", "reason"):
        assert "is empty" in only((f"waivers.0.{key}", "")).message
    for nothing in (" ", "\u200b \u2060"):
        assert "has nothing in it" in only(("waivers.0.reason", nothing)).message


@pytest.mark.parametrize("kind", ["knobs", "switches", "sensors", "conditions", "modes", "curves", "channels"])
@pytest.mark.parametrize("name", ["Gain", "a b", "a--b", "-a", "a-", "1a", "häng", "a_b", "", "x.y"])
def test_names(kind: str, name: str) -> None:
    rows = {
        "switches": {"kind": "momentary"},
        "sensors": {"reads": "current"},
        "conditions": {"when": "throttle > 0"},
        "curves": {"points": [[0, 0], [1, 1]]},
    }
    document, built = load({"format": 1, kind: {name: rows.get(kind, {})}})
    (problem,) = built.problems
    assert (problem.rule, problem.path, problem.key) == ("not-a-setup", (kind, name), True)
    assert "is not a name" in problem.message
    assert culprit(document, problem).strip('"') == name


@pytest.mark.parametrize(
    "name", ["and", "or", "not", "is", "lost", "mode", "output", "flying", "levelled", "lifted", "true"]
)
@pytest.mark.parametrize("kind", ["knobs", "modes", "channels"])
def test_words_of_the_language_are_no_names(name: str, kind: str) -> None:
    (problem,) = load({"format": 1, kind: {name: {}}})[1].problems
    assert (problem.rule, problem.path, problem.key) == ("name-clash", (kind, name), True)


def test_no_curve_is_called_straight() -> None:
    problem = only(("curves.straight", {"points": [[0, 0], [1, 1]]}))
    assert (problem.rule, problem.path, problem.key) == ("not-a-setup", ("curves", "straight"), True)


def test_unknown_tables() -> None:
    problem = only(("alarm", {"x": {"when": "low", "tone": True}}))
    assert (problem.path, problem.help, problem.key) == (("alarm",), "did you mean alarms?", True)
    assert "the parts are" in only(("wombat", 3)).help


def test_defaults() -> None:
    _, built = load(
        {
            "format": 1,
            "craft": {"motor-off": -90},
            "switches": {"s": {"kind": "momentary"}},
            "modes": {"a": {"aerobatic": True}},
            "channels": {"c": {"from": "throttle"}, "d": {}},
            "overrides": {"o": {"channel": "c", "value": 1, "when": "s is pulled"}},
            "curves": {"k": {"points": [[0, 0], [1, 1]]}},
        }
    )
    setup = built.setup
    assert (setup.craft.kind, setup.craft.rotor, setup.craft.rotor_free) == ("helicopter", "collective", -90)
    assert (setup.craft.pulse_centre, setup.craft.pulse_per_percent) == (1500, 5)
    assert setup.craft.soft_start is None
    assert setup.modes["a"].idle_up
    channel = setup.channels["c"]
    assert (channel.drives, channel.number, channel.reversed) == ("other", None, False)
    assert (channel.down, channel.up, channel.sub_trim, channel.low, channel.high) == (100, 100, 0, -150, 150)
    term = channel.own.terms[0]  # type: ignore[index]
    assert (term.kind, term.rate, term.expo, term.curve) == ("stick", 100, 0, None)
    assert not setup.channels["d"].described
    assert setup.overrides["o"].priority == 0
    assert setup.curves["k"].smoothing == "none"
    assert load({"format": 1, "craft": {"kind": "multirotor"}})[1].setup.craft.rotor == "fixed"


@pytest.mark.parametrize(
    ("keys", "idle_up"),
    [
        ({}, False),
        ({"idle-up": True}, True),
        ({"aerobatic": True}, True),
        ({"aerobatic": True, "idle-up": False}, False),
        ({"aerobatic": False, "idle-up": True}, True),
    ],
)
def test_aerobatic_implies_idle_up_unless_it_says_no(keys: dict[str, bool], idle_up: bool) -> None:
    setup = load({"format": 1, "modes": {"a": keys}})[1].setup
    assert setup.modes["a"].idle_up == idle_up
    assert setup.modes["a"].aerobatic == keys.get("aerobatic", False)


def test_numbers_are_exact() -> None:
    _, built = load('format = 1\n[craft]\nmotor-off = -94.1\n[conditions.x]\nwhen = "throttle > 0.1"\n')
    craft, condition = built.setup.craft, built.setup.conditions["x"]
    assert craft.motor_off is not None
    assert craft.motor_off * 10 == -941
    assert condition.when.number * 10 == 1  # type: ignore[union-attr]


@pytest.mark.parametrize("number", ["1e-999999999", "0." + "0" * 60 + "1", "1e-41"])
def test_numbers_of_too_many_digits(number: str) -> None:
    (problem,) = load(f"format = 1\n[craft]\nmotor-off = {number}\n")[1].problems
    assert problem.path == ("craft", "motor-off")
    assert "more digits" in problem.message
