"""`setuplint sheet`: what to enter, in a safe order, the same numbers that the channels put out."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

import setuplint
from setuplint.pages.papers import paper_text
from setuplint.pages.sheet import Sheet, changed_sheet, sheet_paper, whole_sheet
from setuplint.plain.evaluate import evaluate
from setuplint.plain.settings import first
from setuplint.setup.fingerprint import fingerprint
from tests.cli.running import ROOT, Command
from tests.rules.edits import edited

REFERENCE = ROOT / "examples" / "reference.toml"
TEXT = REFERENCE.read_text(encoding="utf-8")
EXAMPLES = [
    path for path in sorted((ROOT / "examples").glob("*.toml")) if "[craft]" in path.read_text(encoding="utf-8")
]


def made(text: str) -> Sheet:
    return whole_sheet(setuplint.load_text(text).model, "wagtail.toml", "2026-11-25")


def rows(of: Sheet, key: str) -> list[tuple[str, ...]]:
    return [row for section in of.tables if section.key == key for row in section.rows]


def mark(text: str) -> str:
    return fingerprint(setuplint.load_text(text).model)


def test_what_stops_the_motor_is_entered_first() -> None:
    """Before it stands the memory alone; then the failsafe, before any curve, line or override that could drive the motor."""
    keys = [section.key for section in made(TEXT).tables]
    assert keys[:6] == ["first", "hold", "channels", "travel", "switches", "failsafe"]
    first_curve = next(n for n, key in enumerate(keys) if key.startswith("curve "))
    assert max(keys.index("failsafe"), keys.index("modes")) < first_curve
    assert first_curve < keys.index("lines") < keys.index("overrides") < keys.index("start")
    assert [row[0] for row in rows(made(TEXT), "first")] == ["memory", "channel motor", "switch hold"]


def test_a_sensor_of_turns_says_of_what_it_counts() -> None:
    text = f'{TEXT}\n[sensors.head]\nreads = "rotor-speed"\n'
    assert ("head", "rotor-speed", "turns a minute") in [row[:3] for row in rows(made(text), "sensors")]


@pytest.mark.parametrize(
    ("edits", "first", "overrides"),
    [
        ({"craft": {"name": "Wagtail 470"}}, ["switch hold"], ["held"]),  # nobody has measured motor-off
        ({"craft": {}, "overrides.held.value": -97}, ["switch hold"], ["held"]),  # and it is no end of the scale
        ({"craft.rotor-free": -60, "overrides.held.value": -70}, ["switch hold"], ["held"]),  # an engine idles on
        ({"overrides.held.when": "apart", "conditions.apart": {"when": "hold is on", "until": "save is pulled"}},
         ["condition apart", "switch hold", "switch save"], ["held"]),
        ({"overrides.held.value": -90}, [], []),
        ({"overrides.held.channel": "pitch", "modes": {"held": {"when": "hold is on"}, "normal": {}},
          "channels.motor.in": {"held": {"from": -100}}, "channels.pitch.in": {}, "channels.tail-gain.in": {}, "claims": []},
         ["switch hold", "mode held"], []),
    ],
)  # fmt: skip
def test_what_stops_it_brings_all_that_it_needs(edits: dict[str, Any], first: list[str], overrides: list[str]) -> None:
    told = made(edited(TEXT, edits, ()))
    assert [row[0] for row in rows(told, "first")][2:] == first
    assert [row[0] for row in rows(told, "hold")] == overrides
    note = next(table.note for table in told.tables if table.key == "first")
    assert ("NOTHING IN THE FILE STOPS IT" in note) is (not first)
    assert ("no motor-off" in note) is ("motor-off" not in edits.get("craft", {"motor-off"}) and bool(first))


def test_every_column_has_a_name_and_every_gap_a_word() -> None:
    bare = edited(TEXT, {"sensors.pack.shown": False}, ("battery", "channels.motor.number", "failsafe.roll"))
    for text in (TEXT, bare, *(path.read_text(encoding="utf-8") for path in EXAMPLES)):
        for table in made(text).tables:
            assert all(table.heads), table.key
            assert all(len(row) == len(table.heads) and row[0] for row in table.rows)
    assert ("motor", "none in the file", "motor", "normal") in rows(made(bare), "channels")
    assert ("roll", "1", "not in the file", "", "") in rows(made(bare), "failsafe")
    assert rows(made(TEXT), "sensors")[0] == ("pack", "pack-voltage", "V", "6 cells", "on the screen in flight")
    assert rows(made(bare), "sensors")[0][3:] == ("cells: none in the file", "not on the screen in flight")


def test_what_stops_the_motor_is_not_told_twice() -> None:
    assert [row[0] for row in rows(made(TEXT), "hold")] == ["held"]
    assert [row[0] for row in rows(made(TEXT), "overrides")] == ["rescue-power", "rescue-level"]
    assert rows(made(TEXT), "hold")[0][-1] == "rescue-power"


def test_points_are_on_both_scales_and_as_a_pulse() -> None:
    found = rows(made(TEXT), "curve hover-soft")
    plain = [tuple(cell.replace("\u00a0", " ") for cell in row) for row in found]
    assert plain[2] == ("3", "0 %", "+16 %", "58", "1580 µs")
    assert plain[1][1:4] == ("-50 %", "-14 %", "43")


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_pulses_are_those_that_the_channel_puts_out(path: Path) -> None:
    """An override's pulse is what the plain evaluator gives with it deciding alone."""
    setup = setuplint.load(path).model
    told = made(path.read_text(encoding="utf-8"))
    found = {row[0]: row for key in ("hold", "overrides") for row in rows(told, key)}
    assert found.keys() == setup.overrides.keys()
    seen = evaluate(setup, first(setup, {}, heard=True))
    for name, decider in seen.deciders.items():
        value = seen.outputs[name]
        if decider is not None and value is not None:
            assert found[decider][7].split("\u00a0")[0].split(" ")[0] == f"{float(setup.craft.pulse(value)):g}"
    for name, row in found.items():
        override = setup.overrides[name]
        channel = setup.channels[override.channel]
        if (channel.reversed, channel.sub_trim, channel.down, channel.up) == (False, 0, 100, 100):
            assert override.value is not None
            assert row[6] == f"{float((override.value + 100) / 2):g}"


def test_a_shared_file_does_not_change_the_fingerprint(tmp_path: Path) -> None:
    """The set-up in one file, and with its switches in a file that it extends; and always the same digits."""
    switches = '[switches.hold]\nkind = "two-position"\n'
    craft = '[craft]\nname = "Wagtail"\n'
    (tmp_path / "radio.toml").write_text(f"format = 1\n{switches}", encoding="utf-8")
    (tmp_path / "own.toml").write_text(f'format = 1\nextends = "radio.toml"\n{craft}', encoding="utf-8")
    whole = mark(f"format = 1\n{craft}{switches}")
    assert fingerprint(setuplint.load(tmp_path / "own.toml").model) == whole == "8c5a9dab"


def test_since_has_only_what_changed() -> None:
    new = TEXT.replace("value = 55", "value = 60").replace("[0, 16]", "[0, 18]")
    found = changed_sheet(made(new), made(TEXT))
    assert [section.key for section in found.tables] == ["curve hover-soft", "overrides"]
    assert [row[0] for row in rows(found, "curve hover-soft")] == ["3"]
    assert [row[0] for row in rows(found, "overrides")] == ["rescue-power"]
    assert changed_sheet(made(TEXT), made(TEXT)).tables == ()


def test_since_says_what_to_take_out() -> None:
    less = TEXT.replace('[alarms.link-weak]\nwhen = "link < 60 or link is lost"\ntone = true\nrepeat = 2\n', "")
    assert less != TEXT
    found = changed_sheet(made(less), made(TEXT))
    assert [row[0] for row in rows(found, "alarms")] == ["link-weak (take it out)"]


def test_what_moves_to_another_table_is_not_taken_out() -> None:
    """An override that does not stop the motor any more, and a switch that the stop does not read any more."""
    new = edited(TEXT, {"overrides.held.value": -80, "overrides.held.when": "rates is full"}, ())
    found = changed_sheet(made(new), made(TEXT))
    told = [row[0] for table in found.tables for row in table.rows]
    assert "held" in told
    assert not [name for name in told if "take it out" in name]


def test_the_command_writes_by_the_ending(command: Command, folder: Path) -> None:
    for name, start in (("x.html", "<!doctype html>"), ("x.md", "# Wagtail 470"), ("x.json", "{")):
        done = command("sheet", str(REFERENCE), "--out", name, "--today", "2026-11-25")
        assert (done.status, done.out, done.err) == (0, "", "")
        assert Path(name).read_text(encoding="utf-8").startswith(start)
    told: Any = json.loads(Path("x.json").read_text(encoding="utf-8"))
    assert (told["version"], told["date"], told["fingerprint"]) == (1, "2026-11-25", mark(TEXT))
    done = command("sheet", str(REFERENCE))
    assert done.out.startswith("# Wagtail 470: what to enter\n")
    assert "| Read back |" in done.out


def test_a_hazard_is_said_on_top(command: Command, folder: Path) -> None:
    """Whoever enters it would enter the hazard."""
    hazard = str(ROOT / "examples" / "hazards" / "rescue-beats-hold.toml")
    said = "Lint of this file: 1 danger. Mend it first: a sheet shows what the file says, hazards too. Danger: Throttle hold "
    said += "does not stop the motor: override rescue-power puts motor at +30 % (65 of 100), though held is on too: priority "
    said += "150 beats 100."
    assert command("sheet", hazard).out.startswith(f"**{said}**\n\n# Firecrest 150")
    assert f"<strong>{said}</strong>" in command("sheet", hazard, "--format", "html").out
    assert json.loads(command("sheet", hazard, "--since", hazard, "--format", "json").out)["warning"] == said
    assert json.loads(command("sheet", str(REFERENCE), "--format", "json").out)["warning"] is None


@pytest.mark.slow
@pytest.mark.parametrize("made", ["sheet", "bench-card"])
def test_another_ending_is_refused_unless_a_format_is_asked_for(command: Command, folder: Path, made: str) -> None:
    done = command(made, str(REFERENCE), "--out", "x.pdf")
    said = "setuplint: x.pdf: end it in .html, .md or .json, or say which with --format\n"
    assert (done.status, done.err, Path("x.pdf").exists()) == (2, said, False)
    assert command(made, str(REFERENCE), "--out", "x.txt", "--format", "markdown").status == 0
    assert command(made, str(REFERENCE), "--out", "X.HTML").status == 0
    assert Path("X.HTML").read_text(encoding="utf-8").startswith("<!doctype html>")


@pytest.mark.quick(1)
@pytest.mark.parametrize("made", ["sheet", "bench-card", "report"])
def test_nothing_of_the_users_is_written_over(command: Command, folder: Path, made: str) -> None:
    Path("x.toml").write_text(TEXT, encoding="utf-8")
    Path("filled.md").write_text("read back: 16\n", encoding="utf-8")
    for out in ("x.toml", "filled.md", "."):
        done = command(made, "x.toml", "--out", out)
        assert (done.status, done.err.count("is there already: move it away")) == (2, 1), done.err
    assert Path("x.toml").read_text(encoding="utf-8") == TEXT
    assert Path("filled.md").read_text(encoding="utf-8") == "read back: 16\n"
    for _ in range(2):  # a page of ours may be made again
        assert command(made, "x.toml", "--out", "page.html").status == 0
    first = Path("page.html").read_bytes()
    Path("x.toml").write_text(TEXT.replace("Wagtail 470", "Wagtail 480"), encoding="utf-8")
    assert command(made, "x.toml", "--out", "page.html").status == 0
    assert Path("page.html").read_bytes() != first


def test_a_file_with_a_mistake_makes_no_sheet(command: Command, folder: Path) -> None:
    Path("x.toml").write_text(TEXT.replace("hold is on", "hold is onn"), encoding="utf-8")
    done = command("sheet", "x.toml", "--out", "x.html")
    assert done.status == 2
    assert "nothing was written" in done.err
    assert not Path("x.html").exists()


def test_nothing_of_a_file_is_markup() -> None:
    text = TEXT.replace('"land now"', '"<b>@all</b> [x](http://y) | `z` www.a.b"').replace('"left shoulder"', '"*up*"')
    setup = setuplint.load_text(text)
    told = whole_sheet(setup.model, "x.toml", "2026-11-25")
    page, words = (paper_text(sheet_paper(told, setup.model), form) for form in ("html", "markdown"))
    assert "<b>" not in page
    assert "\\<b\\>\\@all\\</b\\> \\[x\\](http\\://y) \\| \\`z\\` www\\.a.b" in words
    assert "\\*up\\*" in words
    assert (
        len(
            {
                line.replace("\\|", "").count("|")
                for line in words.split("## Alarms")[1].split("##")[0].splitlines()[2:-1]
                if line
            }
        )
        == 1
    )


def test_the_mixer_of_the_swashplate_is_entered_too() -> None:
    kestrel = (ROOT / "examples" / "kestrel.toml").read_text(encoding="utf-8")
    share = "% of servo travel at full stick"
    expected = [("servos", "three-120"), ("collective", f"50 {share}"), ("cyclic", f"45 {share}"), ("ring", "100 %")]
    assert rows(made(kestrel), "swash") == expected
    assert rows(made(TEXT), "swash") == []


def test_every_knob_is_listed_and_no_part_of_a_second_is_lost() -> None:
    changed = made(edited(TEXT, {"knobs.lean": {}, "timers.flight.seconds": 65.5}, ()))
    assert ("lean", "", "knob", "") in rows(changed, "switches")
    assert rows(changed, "timers")[0][1] == "1:05.5"
