"""Shared parts on the command line: which file a line names, what is told once, and which setups a change concerns."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from setuplint.formats.report_schema import report_schema
from tests.cli.running import REFERENCE, Command
from tests.test_shared_parts import halves

SILENT = REFERENCE.replace('voice = "idle up"', "")
WRONG = REFERENCE.replace("trim = 0 ", "trim = 900 ")


@pytest.fixture
def club(folder: Path) -> Path:
    """Two craft that extend one radio, and a setup that stands alone."""
    (folder / ".git").mkdir()
    (folder / "craft").mkdir()
    for name in ("kestrel", "wagtail"):
        (folder / "craft" / f"{name}.toml").write_text("".join(halves(REFERENCE)[0]), encoding="utf-8")
    (folder / "alone.toml").write_text(REFERENCE, encoding="utf-8")
    write(folder, REFERENCE)
    return folder


def write(folder: Path, text: str) -> None:
    (folder / "radio.toml").write_text("".join(halves(text)[1]), encoding="utf-8")


def heads(out: str) -> list[str]:
    return [line for line in out.splitlines() if line.endswith("]") and line[:1] not in " "]


def test_a_folder_with_a_shared_part_is_clean_and_the_part_is_no_setup(command: Command, club: Path) -> None:
    done = command("lint", ".")
    assert (done.status, done.err) == (0, "")
    assert "3 setups: nothing found." in done.words
    assert "Shared: 1 part, judged with the setups that extend it." in done.words


def test_several_parts_are_them(command: Command, club: Path) -> None:
    (club / "base.toml").write_text("[sticks.throttle]\ntrim = 0\n", encoding="utf-8")
    radio = (club / "radio.toml").read_text(encoding="utf-8").replace("[sticks.throttle]\ntrim = 0", "", 1)
    (club / "radio.toml").write_text(f'extends = "base.toml"\n{radio}', encoding="utf-8")
    assert "Shared: 2 parts, judged with the setups that extend them." in command("lint", ".").words


def test_a_finding_names_the_shared_file_and_the_setup(command: Command, club: Path) -> None:
    write(club, SILENT)
    done = command("lint", "craft/wagtail.toml")
    (head,) = heads(done.out)
    assert head.startswith("radio.toml:")
    assert head.endswith("notice: nothing is spoken when mode idle-up is entered [mode-unannounced]")
    assert "In the setup: craft/wagtail.toml, which extends this file." in done.words
    line = int(head.split(":")[1])
    assert (club / "radio.toml").read_text().splitlines()[line - 1].startswith("[modes.idle-up]")


def test_json_names_the_file_of_every_place(command: Command, club: Path) -> None:
    write(club, SILENT)
    value = json.loads(command("lint", "craft/wagtail.toml", "--format", "json").out)
    import jsonschema

    jsonschema.validate(value, report_schema())
    (finding,) = value["findings"]
    assert (finding["setup"], finding["file"]) == ("craft/wagtail.toml", "radio.toml")
    alone = json.loads(command("lint", "craft/wagtail.toml", "alone.toml", "--format", "json").out)["findings"]
    assert [f["fingerprint"] for f in alone] == [
        finding["fingerprint"]
    ]  # of the setup, where another file has the line


def test_mistakes_of_a_part_of_the_run_are_told_once(command: Command, club: Path) -> None:
    write(club, WRONG)
    done = command("lint", ".")
    assert done.status == 1
    assert [head.split(":")[0] for head in heads(done.out)] == ["./radio.toml"]
    done = command("lint", "craft")
    assert [head.split(":")[0] for head in heads(done.out)] == ["radio.toml", "radio.toml"]
    assert "Shared" not in done.words


def test_what_only_a_setup_makes_of_a_part_is_told_with_each(command: Command, club: Path) -> None:
    write(club, SILENT)
    assert len(heads(command("lint", ".").out)) == 2
    write(club, REFERENCE.replace('when = "flight is normal"\nvoice', 'when = "flight is normal and ready"\nvoice'))
    done = command("lint", ".")
    assert [head.split(":")[0] for head in heads(done.out)] == ["./radio.toml"] * 2
    assert all("ready" in head for head in heads(done.out))


def test_a_part_alone_brings_the_setups_that_extend_it(command: Command, club: Path) -> None:
    done = command("lint", "radio.toml")
    assert done.status == 0
    assert "2 setups: nothing found." in done.words
    assert "judged with the setups that extend it; for that 2 setups more than were given." in done.words
    write(club, REFERENCE.replace('"momentary"', '"two-position"'))
    done = command("lint", "--only-setups", "radio.toml")
    assert done.status == 1
    assert {"craft/kestrel.toml", "craft/wagtail.toml"} <= {head.split(":")[0] for head in heads(done.out)}
    done = command("lint", "radio.toml", "craft/wagtail.toml")
    assert "for that 1 setup more" in done.words
    summary = json.loads(command("lint", "radio.toml", "--format", "json").out)["summary"]
    assert (summary["files"], summary["shared-parts"], summary["extending"]) == (2, 1, 2)


def test_a_file_that_nobody_extends_is_judged_as_a_setup(command: Command, club: Path) -> None:
    for path in (club / "craft").iterdir():
        path.unlink()
    done = command("lint", "radio.toml")
    assert "hold-missing" in done.out
    assert "Shared" not in done.words


def test_parts_that_extend_each_other_without_a_setup_are_nothing_to_pass(command: Command, folder: Path) -> None:
    (folder / "setuplint.toml").write_text("")
    (folder / "a.toml").write_text("format = 1\n[knobs.a]\n")
    (folder / "b.toml").write_text('extends = "a.toml"\n[knobs.b]\n')
    (folder / "c.toml").write_text('extends = "b.toml"\n[knobs.c]\n')
    (folder / "b.toml").write_text('extends = "c.toml"\n[knobs.b]\n')
    done = command("lint", ".")
    assert done.status == 1  # a loop, and a.toml is extended by none
    assert "loop" in done.words


def test_standard_input_reads_parts_from_where_its_name_says(command: Command, club: Path) -> None:
    own = (club / "craft" / "wagtail.toml").read_bytes()
    done = command("lint", "-", "--name", "craft/new.toml", stdin=own)
    assert (done.status, heads(done.out)) == (0, [])
    done = command("lint", "-", stdin=own)
    assert "../radio.toml lies outside the repository" in done.words


def test_a_remedy_in_a_shared_part_is_offered_and_not_written(command: Command, club: Path) -> None:
    write(club, SILENT)
    before = {path: path.read_bytes() for path in club.rglob("*.toml")}
    done = command("lint", "--fix", "--write", "craft/wagtail.toml")
    assert {path: path.read_bytes() for path in club.rglob("*.toml")} == before
    assert 'modes.idle-up.voice = "idle up"; it is in radio.toml, which other setups may extend' in done.words


def test_a_part_brings_setups_that_are_not_written_to(command: Command, club: Path) -> None:
    path = club / "craft" / "wagtail.toml"
    path.write_text(path.read_text().replace("priority = 100", "priority = 10"), encoding="utf-8")
    before = path.read_bytes()
    assert command("lint", "--fix", "--write", "radio.toml").status == 1
    assert path.read_bytes() == before
    command("lint", "--fix", "--write", "craft")
    assert path.read_bytes() != before  # there is a remedy, and it is written where the file is given


def test_trace_and_report_see_through_it(command: Command, club: Path) -> None:
    done = command("trace", "craft/wagtail.toml", "--set", "hold=on")
    assert (done.status, done.err) == (0, "")
    assert "mode normal (radio.toml, line" in done.words
    assert command("report", ".", "--out", "pages").status == 0
    assert sorted(path.name for path in (club / "pages").iterdir()) == [
        "alone.html", "craft-kestrel.html", "craft-wagtail.html", "index.html",
    ]  # fmt: skip
