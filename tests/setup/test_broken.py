"""What a mistake leaves of its part: unknown, never a default, and no second finding for the same cause."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

import setuplint
from setuplint.book import rulebook
from setuplint.setup import Setup
from setuplint.setup.formulas import And, Holds, Unknown
from setuplint.setup.model import Channel

from .whole import ABSENT, WHOLE, edited, load, only, steps

EXAMPLES = Path(__file__).parents[2] / "examples"
FROM_LOADING = rulebook.names_asked("loading")


def after(*edits: tuple[str, Any]) -> Setup:
    return load(edited(*edits))[1].setup


def described(channel: Channel) -> set[str]:
    """The modes in which it is described, "-" for its own line."""
    modes = {mode for mode, line in channel.lines.items() if line.terms is not None}
    return modes | ({"-"} if channel.own.terms is not None else set())


ALL = {"-", "normal", "sport", "stunt"}


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("conditions.low.when", "pack <"),
        ("conditions.low.when", 3),
        ("conditions.low.when", ABSENT),
        ("conditions.low.after", -1),
        ("conditions.low.stays", "2"),
        ("conditions.low.toggles", "yes"),
        ("conditions.low.wombat", 1),
        ("conditions.low", 3),
    ],
)
def test_a_broken_condition_is_unknown_and_still_a_condition(path: str, value: object) -> None:
    only((path, value))
    setup = after((path, value))
    assert setup.conditions["low"].when == Unknown("conditions.low cannot be read")
    assert setup.conditions["low"].until is None
    assert setup.is_broken("conditions", "low")
    assert setup.alarms["land"].when == Holds("low")
    assert not setup.is_broken("alarms", "land")


def test_a_broken_until_makes_all_of_its_condition_unknown() -> None:
    only(("conditions.armed.until", "or"))
    assert after(("conditions.armed.until", "or")).conditions["armed"].when == Unknown(
        "conditions.armed cannot be read"
    )


@pytest.mark.parametrize(("path", "value"), [("modes.sport.when", "flight is"), ("modes.sport.when", ABSENT)])
def test_a_broken_mode(path: str, value: object) -> None:
    only((path, value))
    setup = after((path, value), ("conditions.low.when", "mode is sport"))
    assert isinstance(setup.modes["sport"].when, Unknown)
    assert list(setup.modes) == ["normal", "sport", "stunt"]
    assert setup.is_broken("modes", "sport")


def test_what_an_override_does_not_say_is_unknown() -> None:
    assert after(("overrides.held.priority", "high")).overrides["held"].priority is None
    assert after(("overrides.held.prioriy", 3), ("overrides.held.priority", ABSENT)).overrides["held"].priority is None
    assert after(("overrides.held.prioriy", 3)).overrides["held"].priority == 100
    assert after(("overrides.held.value", -151)).overrides["held"].value is None
    assert after(("overrides.held.value", ABSENT)).overrides["held"].value is None
    assert isinstance(after(("overrides.held.when", ABSENT)).overrides["held"].when, Unknown)
    assert isinstance(after(("overrides.held.when", "hold")).overrides["held"].when, Unknown)
    near = after(("overrides.held.channel", "moter"))
    assert (near.overrides["held"].channel, near.overrides["held"].value) == ("motor", None)
    assert near.is_broken("overrides", "held")
    assert described(near.channels["motor"]) == ALL


@pytest.mark.parametrize("value", ["zzz", ABSENT, 3])
def test_an_override_of_some_channel_may_act_on_any(value: object) -> None:
    only(("overrides.held.channel", value))
    setup = after(("overrides.held.channel", value))
    assert "held" not in setup.overrides
    assert all(described(channel) == set() for channel in setup.channels.values())
    assert setup.overrides["rescue"].value is None


@pytest.mark.parametrize(
    ("path", "value", "left"),
    [
        ("channels.motor.from", "thr", {"stunt"}),
        ("channels.motor.from", True, {"stunt"}),
        ("channels.motor.from", "pack", {"stunt"}),
        ("channels.motor.rate", "fast", {"sport", "stunt"}),
        ("channels.motor.expo.at.on", 101, {"sport", "stunt"}),
        ("channels.motor.curve", "sotf", {"sport", "stunt"}),
        ("channels.motor.curve", ABSENT, ALL),
        ("channels.motor.ramp-up", 61, {"sport"}),
        ("channels.motor.in.sport.curve", "zzz", {"-", "normal", "stunt"}),
        ("channels.motor.in.sport", 4, {"-", "normal", "stunt"}),
        ("channels.motor.in.sport.cruve", "soft", {"-", "normal", "sport", "stunt"}),
        ("channels.motor.in.sprt", {"from": 1}, {"-", "normal", "stunt"}),
        ("channels.motor.in.zzz", {"from": 1}, {"-"}),
        ("channels.motor.in", 4, {"-"}),
        ("channels.motor.mix", [{"rate": 4}], set()),
        ("channels.motor.mix", [{"from": 1}] * 9, set()),
        ("channels.motor.mix", 3, set()),
        ("channels.motor.mix", [{"from": "throttle"}], {"stunt"}),
        ("channels.motor.reversed", 1, set()),
        ("channels.motor.low", 120, set()),
        ("channels.motor.travel", [1], set()),
        ("channels.motor.number", 33, ALL),
        ("channels.motor.drives", "wheels", ALL),
        ("channels.motor.wombat", 1, ALL),
        ("channels.motor", 3, set()),
    ],
)
def test_a_broken_channel_is_not_described_where_it_matters(path: str, value: object, left: set[str]) -> None:
    setup = after((path, value))
    assert described(setup.channels["motor"]) == left
    assert setup.is_broken("channels", "motor") == (left != ALL or value is not ABSENT)
    assert described(setup.channels["roll"]) == ALL
    servo_unknown = path.rsplit(".", 1)[1] in ("reversed", "low", "travel", "motor")
    assert (setup.overrides["held"].value is None) == servo_unknown


@pytest.mark.parametrize(
    ("edit", "lost"),
    [
        (("curves.soft.points", [[0, 0]]), {"motor": {"-", "normal"}, "roll": {"-", "normal", "stunt"}}),
        (("curves.soft.smoothing", "bumpy"), {"motor": {"-", "normal"}, "roll": {"-", "normal", "stunt"}}),
        (("curves.flat", 3), {"motor": {"sport"}, "roll": set()}),
    ],
)
def test_a_broken_curve(edit: tuple[str, Any], lost: dict[str, set[str]]) -> None:
    only(edit)
    setup = after(edit)
    name = steps(edit[0])[1]
    assert name not in setup.curves
    assert setup.is_broken("curves", name)
    for channel, modes in lost.items():
        assert described(setup.channels[channel]) == ALL - modes


def test_a_broken_switch_keeps_its_positions_where_they_are_known() -> None:
    setup = after(("switches.bank.kind", "wheel"), ("switches.bank.positions", ["a", "b", "c", "d"]))
    assert setup.switches["bank"].positions == ("a", "b", "c", "d")
    assert setup.is_broken("switches", "bank")
    setup = after(("switches.flight.kind", "wheel"))  # with three it may spring back, as with two
    assert "flight" not in setup.switches
    assert described(setup.channels["attitude"]) == set()
    setup = after(("switches.hold.kind", "wheel"))
    assert "hold" not in setup.switches
    assert isinstance(setup.overrides["held"].when, Unknown)
    assert described(setup.channels["roll"]) == set()
    setup = after(("switches.flight.positions", ["Normal", "sport", "stunt"]))
    assert "flight" not in setup.switches
    assert described(setup.channels["attitude"]) == set()


def test_a_broken_sensor() -> None:
    setup = after(("sensors.pack.reads", "volts"))
    assert "pack" not in setup.sensors
    assert setup.conditions["low"].when == Unknown("pack cannot be read")


def test_an_unknown_name_makes_its_atom_unknown_and_leaves_the_rest() -> None:
    setup = after(("overrides.held.when", "hodl is on and low"))
    when = setup.overrides["held"].when
    assert isinstance(when, And)
    assert when.items[1] == Holds("low")
    assert when.items[0] == Unknown("overrides.held.when names “hodl”, which nothing declares")
    assert not setup.is_broken("overrides", "held")


def test_memory_never_stands_on_what_is_unknown() -> None:
    only(("conditions.armed.when", "hodl is off"))
    setup = after(("conditions.armed.when", "hodl is off"))
    assert not setup.conditions["armed"].remembers
    assert isinstance(setup.conditions["armed"].when, Unknown)
    setup = after(("conditions.low.when", "pak < 3"), ("conditions.lamp.when", "low and save is pulled"))
    assert not setup.conditions["lamp"].remembers
    assert setup.conditions["armed"].remembers
    setup = after(("modes.normal.when", "hodl is off"), ("conditions.lamp.when", "mode is sport"))
    assert not setup.conditions["lamp"].remembers


@pytest.mark.parametrize(
    ("edits", "field"),
    [
        ((("craft.motor-off", "low"),), "motor-off"),
        ((("craft.motor-off", ABSENT), ("craft.motor_off", -95)), "motor-off"),
        ((("craft.soft-start", 1),), "soft-start"),
        ((("craft.rotor-free", -96),), "rotor-free"),
        ((("craft.governed-above", -100),), "governed-above"),
    ],
)
def test_a_broken_key_of_the_craft_is_not_known(edits: tuple[tuple[str, Any], ...], field: str) -> None:
    only(*edits)
    setup = after(*edits)
    assert getattr(setup.craft, field.replace("-", "_")) is None
    assert setup.is_broken("craft", field)
    assert not setup.is_broken("craft", "hover-throttle")


def test_broken_single_tables() -> None:
    assert isinstance(after(("start.requires", "or")).start, Unknown)
    assert isinstance(after(("start", 3)).start, Unknown)
    assert isinstance(after(("strat", {"requires": "low"}), ("start", ABSENT)).start, Unknown)
    setup = after(("intent.hold", 3), ("intent.level.channel", "zz"), ("intent.lift", "unti"))
    assert isinstance(setup.intent.hold, Unknown)
    assert (setup.intent.level, setup.intent.lift) == (None, None)
    assert setup.is_broken("intent", "level")
    assert setup.is_broken("intent", "lift")
    assert not setup.is_broken("intent", "rescue")
    setup = after(("failsafe.motor", 200))
    assert "motor" not in (setup.failsafe or {})
    assert setup.is_broken("failsafe", "motor")
    setup = after(("fialsafe", WHOLE["failsafe"]), ("failsafe", ABSENT))
    assert setup.failsafe is None
    assert setup.is_broken("failsafe", "motor")
    assert after(("field.elevation-m", "high")).elevation_m is None
    assert after(("swash.servos", "five")).swash is None
    assert after(("swash.ring", 0)).swash.ring is None  # type: ignore[union-attr]
    assert after(("timers.flight.seconds", 0)).timers.keys() == {"bench"}
    assert isinstance(after(("claims.0.never", "or")).claims[0].never, Unknown)
    assert [claim.index for claim in after(("claims.0", 3)).claims] == [0, 1]
    assert after(("waivers.0.until", "soon")).waivers == ()


def test_a_misspelt_heading_still_declares_its_names() -> None:
    problem = only(("conditons", WHOLE["conditions"]), ("conditions", ABSENT))
    assert problem.path == ("conditons",)
    setup = after(("conditons", WHOLE["conditions"]), ("conditions", ABSENT))
    assert all(isinstance(condition.when, Unknown) for condition in setup.conditions.values())
    setup = after(("override", {"x": {"channel": "motor", "value": 3, "when": "low"}}))
    assert described(setup.channels["motor"]) == set()
    only(("swiches", WHOLE["switches"]), ("switches", ABSENT))
    only(("mods", WHOLE["modes"]), ("modes", ABSENT))


def test_clashing_names_are_unknown_where_they_are_used() -> None:
    problem = only(("knobs.hold", {}))
    assert problem.rule == "name-clash"
    setup = after(("knobs.hold", {}))
    assert setup.overrides["held"].when == Unknown("hold cannot be read")
    assert setup.is_broken("switches", "hold")
    assert setup.is_broken("knobs", "hold")


LINES = """format = 1
[switches.hold]
kind = "two-position"
[sensors.pack]
reads = "pack-voltage"
[channels.motor]
drives = "motor"
from = "throttle"
[overrides.held]
channel = "motor"
value = -100
when = "hold is on"
priority = 5
[conditions.low]
when = "pack < 3"
[intent]
hold = "hold is on"
[alarms.x]
when = "low and hold is on"
tone = true
"""


def test_the_file_of_these_lines_is_right() -> None:
    document, built = load(LINES)
    assert not document.problems
    assert built.problems == ()


@pytest.mark.parametrize(
    ("line", "instead", "broken"),
    [
        ('kind = "two-position"', "kind = ", ("switches", "hold")),
        ("[switches.hold]", "[switches.hold", ("switches", "hold")),
        ('reads = "pack-voltage"', "reads = pack-voltage", ("sensors", "pack")),
        ('from = "throttle"', 'from = "throttle', ("channels", "motor")),
        ('channel = "motor"', "channel = motor", ("overrides", "held")),
        ("value = -100", "value = -", ("overrides", "held")),
        ('when = "hold is on"', "when =", ("overrides", "held")),
        ("priority = 5", "priority", ("overrides", "held")),
        ("priority = 5", "priorty =", ("overrides", "held")),
        ('when = "pack < 3"', "when = pack < 3", ("conditions", "low")),
        ("[conditions.low]", "[conditions.low", ("conditions", "low")),
        ('hold = "hold is on"', "hold = ", ("intent", "hold")),
        ("format = 1", "format = ", ("format",)),
        ("format = 1", "fromat", ()),
        ("format = 1", "= 1", ()),
    ],
)
def test_a_line_that_is_not_toml_costs_that_line(line: str, instead: str, broken: tuple[str, ...]) -> None:
    document, built = load(LINES.replace(line, instead))
    assert len(document.problems) == 1
    assert built.problems == ()
    assert not broken or built.setup.is_broken(*broken)


def test_what_stood_in_a_lost_line_is_unknown() -> None:
    def override(line: str, instead: str) -> Any:
        return load(LINES.replace(line, instead))[1].setup.overrides["held"]

    assert override("priority = 5", "priority = ").priority is None
    assert override("priority = 5", "wombat =").priority is None
    assert override("value = -100", "value =").value is None
    assert override("value = -100", "value =").priority == 5
    assert isinstance(override('when = "hold is on"', "when").when, Unknown)
    setup = load(LINES.replace('drives = "motor"', "driv"))[1].setup
    assert setup.channels["motor"].own.terms is None
    assert isinstance(
        load(LINES.replace("[intent]", "[intent\n").replace("hold = ", "hold "))[1].setup.intent.hold, Unknown
    )


@pytest.mark.parametrize("typed", ["[", "[o", "[overrides", "[overrides.", "[[", "[overrides.x", "# [", "craf"])
def test_a_heading_that_is_being_typed_at_the_end_costs_nothing(typed: str) -> None:
    before = load(LINES)[1].setup
    built = load(LINES + typed)[1]
    assert built.problems == ()
    assert built.setup.channels == before.channels
    assert built.setup.conditions == before.conditions
    assert built.setup.overrides == before.overrides


def test_a_heading_without_a_name_may_hide_anything() -> None:
    document, built = load(LINES.replace("[overrides.held]", "[@]"))
    assert len(document.problems) == 1
    assert built.problems == ()
    assert built.setup.channels["motor"].own.terms is None
    assert built.setup.is_broken("failsafe")


ROOT = Path(__file__).parents[2]
KEY = re.compile(r"([a-z][a-z.-]*) = (.*)")


@pytest.mark.slow
@pytest.mark.parametrize("name", ["reference", "kestrel", "bittern", "goshawk"])
def test_no_line_that_cannot_be_read_makes_a_rule_speak(name: str) -> None:
    """In a safe set-up: what is wrong with the line is said, and nothing that only the lack of it would make true."""
    instead = "{key} =" if name in ("reference", "bittern") else '{key} = "wombat"'
    lines = (ROOT / "examples" / f"{name}.toml").read_text(encoding="utf-8").split("\n")
    broken = 0
    for number, line in enumerate(lines):
        found = KEY.match(line)
        if found is None or (number % 2 and name != "reference"):
            continue
        text = "\n".join([*lines[:number], instead.format(key=found.group(1)), *lines[number + 1 :]])
        findings = setuplint.lint_text(text).findings
        if any(x.rule in FROM_LOADING for x in findings):
            broken += 1
            assert [x.rule for x in findings if x.rule not in FROM_LOADING] == [], (number + 1, line)
    assert broken > 30


def test_a_line_of_a_mode_under_a_mistyped_in() -> None:
    """Beside another that is right."""
    text = (ROOT / "examples" / "kestrel.toml").read_text(encoding="utf-8")
    assert text.count("\nin.idle-up = ") > 1
    for line in re.findall(r"\nin\..*", text):
        wrong = text.replace(line, line.replace("\nin.", "\nxin."))
        assert {x.rule for x in setuplint.lint_text(wrong).findings} == {"not-a-setup"}, line


def test_what_was_not_judged_for_a_line_that_cannot_be_read_is_said() -> None:
    text = (ROOT / "examples" / "reference.toml").read_text(encoding="utf-8")
    for old, new, rule, because in (
        ("idle-up = true ", "idle-up = ", "motor-on-at-low-stick", "modes.idle-up cannot be read"),
        ("requires = ", "requires ", "start-unguarded", "start.requires cannot be read"),
        ('requires = "hold', 'requires = "hld', "start-unguarded", "start.requires rests on what cannot be read"),
        ('kind = "momentary"', 'kind = "momentry"', "rescue-not-momentary", "save cannot be read"),
        ("ramp-up = 2.0 }", "ramp-up = 2,0 }", "idle-up-stops", "channels.motor cannot be read"),
    ):
        assert old in text
        report = setuplint.lint_text(text.replace(old, new))
        assert because in {note.because for note in report.not_judged if note.rule == rule}, report.not_judged


@pytest.mark.parametrize("name", ["reference", "bittern"])
@pytest.mark.parametrize("heading", ["[", "[.x]"])
def test_a_heading_that_may_be_any_is_linted(name: str, heading: str) -> None:
    """An override may have stood under it, or the pack that tells a craft with a clutch from an engine."""
    text = (EXAMPLES / f"{name}.toml").read_text(encoding="utf-8").replace('power = "engine"\n', "")
    report = setuplint.lint_text(text.replace("[alarms.link-weak]", heading))
    assert "not-toml" in {finding.rule for finding in report.findings}
    assert not any(note.because.endswith("is not given") for note in report.not_judged)
