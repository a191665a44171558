"""`setuplint bench-card`: the words and numbers of the card, and the command."""

from __future__ import annotations

import json
import re
from functools import cache
from pathlib import Path
from typing import Any

import pytest

import setuplint
from setuplint import budget
from setuplint.formats.numbers import exact
from setuplint.pages.card_paper import card_paper
from setuplint.pages.card_text import Box, CardText, card_text
from setuplint.pages.papers import paper_text
from setuplint.plain import settings
from setuplint.plain.evaluate import evaluate
from setuplint.plain.state import Memory, State
from setuplint.setup.model import Setup
from tests import once
from tests.cli.running import ROOT, Command

REFERENCE = ROOT / "examples" / "reference.toml"
TEXT = REFERENCE.read_text(encoding="utf-8")
EXAMPLES = [
    path for path in sorted((ROOT / "examples").glob("**/*.toml")) if "[craft]" in path.read_text(encoding="utf-8")
]


def written(text: str, form: str) -> str:
    setup = setuplint.load_text(text)
    made = once.card_of(text)
    return paper_text(card_paper(card_text(made, setup.texts.values, "wagtail.toml", "2026-11-25"), made), form)


@cache
def told(text: str) -> tuple[CardText, dict[str, Any]]:
    setup = setuplint.load_text(text)
    made = once.card_of(text)
    words = card_text(made, setup.texts.values, "wagtail.toml", "2026-11-25")
    return words, json.loads(paper_text(card_paper(words, made), "json"))


def box(of: CardText, title: str) -> Box:
    return next(each for stage in of.stages for each in stage.boxes if each.title == title)


def test_a_box_says_what_the_controls_must_do() -> None:
    of, _ = told(TEXT)
    assert any("the way it asks for" in text for text in box(of, "Aileron to both ends, rates at soft").after)
    assert any("goes up with the stick" in text for text in box(of, "Mode idle-up along the stick").after)
    assert any("goes against it" in text for text in box(of, "Mode idle-up along the stick").after)
    powered = "The receiver powered, the motor apart"
    assert any("moves one bar alone" in text for text in box(of, powered).after)
    of, _ = told(TEXT.replace("# stabilised = true ", "stabilised = false"))
    assert not any("moves one bar alone" in text for text in box(of, powered).after)


@pytest.mark.quick(1)
@pytest.mark.parametrize(
    ("stem", "never", "always"),
    [
        (
            "bittern",
            ("pack", "leads", "motor connected"),
            ("fuel and ignition off", "the clutch", "The stop stops the engine"),
        ),
        ("goshawk", ("leads out", "leads back"), ("main and tail blades off", "put the flight pack in", "hands off")),
        ("lapwing", ("carburettor", "clutch"), ("motor's leads back in", "a helper behind the pilot reads")),
        ("wren", ("swash plate", "main and tail"), ("propellers off", "the unit's screen")),
    ],
)
def test_a_craft_is_spoken_of_as_what_it_is(stem: str, never: tuple[str, ...], always: tuple[str, ...]) -> None:
    out = plain(written((ROOT / "examples" / f"{stem}.toml").read_text(encoding="utf-8"), "markdown"))
    words = re.sub(r"Shows: .*", "", out)
    for each in never:
        assert each not in words, each
    for each in always:
        assert each in words, each


def plain(words: str) -> str:
    return words.replace("\u00a0", " ")


def test_a_box_says_what_to_do_and_what_each_channel_must_read() -> None:
    of, _ = told(TEXT)
    rescue = box(of, "Rescue in and out in mode normal")
    assert rescue.channels == ("motor", "pitch")
    rows = [(plain(line.do), [tuple(map(plain, cell)) for cell in line.cells]) for line in rescue.rows]
    assert rows[0] == (
        "Put hold off, move the throttle stick to the middle",
        [("+16 %", "58", "1580 µs"), ("+30 %", "65", "1650 µs")],
    )
    assert rows[1] == ("Pull save", [("+55 %", "78", "1775 µs"), ("+30 %", "65", "1650 µs")])
    assert rescue.then == "put hold on, move the throttle stick to the bottom"
    assert rescue.shows == "rescue in and out; override rescue-power decides"
    assert rescue.again


def test_alarms_are_heard_on_one_side_and_not_on_the_other() -> None:
    of, _ = told(TEXT)
    alarm = box(of, "Alarm land-now")
    assert [line.also for line in alarm.rows] == [
        ("alarm land-now is silent",),
        ("alarm land-now: says “land now”, every 5\u00a0s",),
    ]
    assert "21.5 V (3.58 V a cell); wait 1.5 s" in plain(alarm.rows[1].do)
    assert plain(alarm.then) == "bring pack back to 24 V (4 V a cell)"


def test_what_must_not_start_is_told_by_what_is_wrong() -> None:
    of, _ = told(TEXT)
    titles = [each.title for stage in of.stages if stage.key == "transmitter" for each in stage.boxes]
    assert [plain(title) for title in titles] == [
        "Switch on as it must be: it starts",
        "Hold off: it must not start",
        "Flight at idle-up-1: it must not start",
        "Flight at idle-up-2: it must not start",
        "The throttle stick at -90 %: it must not start",
    ]


@pytest.mark.slow
def test_the_modes_voice_is_told_where_it_is_heard() -> None:
    text = (ROOT / "examples" / "lapwing.toml").read_text(encoding="utf-8")
    of, _ = told(text)
    shown = [
        each for stage in of.stages for each in stage.boxes if any("says “show”" in line.also for line in each.rows)
    ]
    assert shown
    for each in shown:
        assert "flight to show" in " ".join(line.do for line in each.rows)
    gain = [each for stage in of.stages for each in stage.boxes if each.title == "Gain to both ends"]
    assert any("flight at show" in " ".join(each.before) for each in gain)


def test_it_says_what_it_covers_and_the_ten() -> None:
    of, _ = told(TEXT)
    assert of.covers == "3 overrides, 2 modes, 3 alarms, 8 lines, 4 places of failsafe and 3 parts of the start check"
    assert of.boxes == 35
    assert of.guide[-1].startswith("★ marks the 10 to repeat after any change: ")
    assert len(re.findall(r"^- \[ \] \*\*\d+\. ★ ", written(TEXT, "markdown"), re.MULTILINE)) == 10
    assert len(re.findall(r"^- \[ \] \*\*\d+\. ", written(TEXT, "markdown"), re.MULTILINE)) == 35


@pytest.mark.slow
def test_what_is_on_from_before_is_told_with_the_box_that_says_how() -> None:
    of, _ = told((ROOT / "examples" / "lapwing.toml").read_text(encoding="utf-8"))
    rescue = box(of, "Rescue in and out in mode normal")
    (number,) = [int(found) for each in rescue.before for found in re.findall(r"armed \(box (\d+) says how\)", each)]
    (arming,) = [each for stage in of.stages for each in stage.boxes if each.number == number]
    assert "Press arm" in arming.rows[0].do


def test_the_stop_is_told_with_the_trim_that_lifts_it() -> None:
    of, _ = told((ROOT / "examples" / "goshawk.toml").read_text(encoding="utf-8"))
    stop = box(of, "The stop, with throttle trim at its ends")
    assert [plain(line.do) for line in stop.rows] == ["Put hold off, throttle trim to +5 %", "Throttle trim to -5 %"]
    assert plain(stop.after[0]) == "The motor stays stopped at or below -92 % (4 of 100, 1040 µs)."


def test_what_is_measured_has_a_blank_and_what_the_file_says() -> None:
    of, _ = told(TEXT)
    hover = box(of, "Measured in the hover: motor")
    assert [(what, plain(said), key) for what, said, key in hover.blanks] == [
        ("motor", "the file says +16 % (58 of 100, 1580 µs)", "craft.hover-throttle"),
    ]
    assert "the file does not say" in written(TEXT.replace("hover-throttle = 16", ""), "markdown")


def rebuilt(setup: Setup, row: dict[str, Any]) -> tuple[State, Memory]:
    """The state that a row of the JSON speaks of, built from its own words alone."""
    controls = {n: v if isinstance(v, str) else exact(v) for n, v in row["controls"].items()}
    sensors = {n: v for n, v in controls.items() if n in setup.sensors}
    packs = [n for n, v in sensors.items() if setup.sensors[n].reads == "pack-voltage" and not isinstance(v, str)]
    if packs:  # a third of a volt is no decimal: the cells' sensors follow
        sensors = {n: v for n, v in sensors.items() if setup.sensors[n].reads != "cell-voltage" or isinstance(v, str)}
    heard = all(value != "unheard" for value in sensors.values())
    given = {n: v for n, v in controls.items() if n not in setup.sensors}
    state = settings.first(setup, given, heard=False)
    if heard and sensors:
        state = settings.after(setup, state, sensors)
    trims = {name: exact(amount) for name, amount in row["trims"].items()}
    state = State(state.positions, state.sticks, state.readings, state.cell, trim=trims)
    return state, Memory(frozenset(row["remembered"]), frozenset(row["remembered"]))


@pytest.mark.quick(2)
@pytest.mark.parametrize("path", EXAMPLES[::3], ids=lambda path: path.stem)
def test_every_reading_of_the_json_is_the_plain_evaluators(path: Path) -> None:
    """From the file's text and the JSON: percent, the other scale and the pulse of every channel, in every row."""
    setup = setuplint.load(path)
    made = once.card(path)
    words = card_text(made, setup.texts.values, path.name, "2026-11-25")
    data = json.loads(paper_text(card_paper(words, made), "json"))
    toggles = {c.name for c in setup.model.conditions.values() if c.toggles}
    rows = [row for stage in data["stages"] for each in stage["boxes"] for row in each["rows"]]
    craft = setup.model.craft
    checked = 0
    for row in rows:
        if row["kind"] == "gone":
            continue
        state, memory = rebuilt(setup.model, row)
        if toggles & memory.on:
            continue  # the JSON does not say whether their `when` held last
        seen = evaluate(setup.model, state, memory)
        assert seen.mode == row["mode"]
        for name, reading in row["readings"].items():
            output = seen.outputs[name]
            if output is None or reading["range"] or name in seen.tied:
                continue
            (percent,) = reading["percent"]
            assert exact(percent) == pytest.approx(output)
            assert reading["of-100"] == [pytest.approx(float((output + 100) / 2))]
            us = craft.pulse_centre + craft.pulse_per_percent * output
            assert reading["pulse-us"] == [pytest.approx(float(us))]
            checked += 1
    assert checked > 50 or path.stem == "wren"


@pytest.mark.slow
def test_the_command_writes_by_the_ending(command: Command, folder: Path) -> None:
    for name, start in (("x.html", "<!doctype html>"), ("x.md", "# Wagtail 470: bench card"), ("x.json", "{")):
        done = command("bench-card", str(REFERENCE), "--out", name, "--today", "2026-11-25")
        assert (done.status, done.out, done.err) == (0, "", "")
        assert Path(name).read_text(encoding="utf-8").startswith(start)
    data: Any = json.loads(Path("x.json").read_text(encoding="utf-8"))
    assert (data["version"], data["date"], data["boxes"], data["left"]) == (1, "2026-11-25", 35, [])
    assert data["warning"] is None
    done = command("bench-card", str(REFERENCE), "--format", "json", "--today", "2026-11-25")
    assert {**json.loads(done.out), "file": ""} == {**data, "file": ""}


def test_a_hazard_is_said_on_top_and_where_it_is_met(command: Command, folder: Path) -> None:
    done = command("bench-card", str(ROOT / "examples" / "hazards" / "rescue-beats-hold.toml"))
    assert done.status == 0
    assert "**Lint of this file: 1 danger. Mend it first" in done.out
    assert "DANGER: the rotor is driven with the hold on" in done.out


@pytest.mark.parametrize("text", ["", "x = [", TEXT.replace("hold is on", "hold is onn")])
def test_a_file_with_a_mistake_makes_no_card(command: Command, folder: Path, text: str) -> None:
    Path("x.toml").write_text(text, encoding="utf-8")
    done = command("bench-card", "x.toml", "--out", "x.html")
    assert done.status == 2
    assert "nothing was written" in done.err
    assert not Path("x.html").exists()


def test_nothing_of_a_file_is_markup() -> None:
    text = TEXT.replace('"land now"', '"<b>@all</b> [x](http://y) | `z` www.a.b"').replace(
        '"Wagtail 470"', '"# <i>*W*"'
    )
    page, words = written(text, "html"), written(text, "markdown")
    assert "<b>@" not in page
    assert "<i>" not in page
    assert "<b>" not in words
    assert "[x](http" not in words
    for part in words.split("\n\n"):
        lines = [line for line in part.splitlines() if line.startswith("  |")]
        assert len({line.replace("\\|", "").count("|") for line in lines}) <= 1


def test_a_file_too_large_for_the_engine_is_said_to_be(command: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its switches alone took all the work there was: that was a traceback."""
    monkeypatch.setattr(budget, "WORK_A_FILE", 200)
    report = setuplint.lint_text(TEXT)
    undecided = {finding.subject.partition(" ")[0] for finding in report.findings if finding.rule == "not-decided"}
    assert "hold-bypassed" in undecided
    done = command("bench-card", REFERENCE)
    assert (done.status, "too large for a bench card: this file used up its 200 units of work" in done.err) == (2, True)
    assert command("lint", REFERENCE).status == 1
