"""A club asks for a record of each setup: in lint, in the hook, with a cache, from a revision, in the editor."""

from __future__ import annotations

import json
import subprocess
from datetime import date
from pathlib import Path

import pytest

import setuplint
from setuplint.book.record_file import SheetRow
from tests.cli.running import REFERENCE, Command
from tests.club.git import commit, git
from tests.records.made import of_setup, record

RECORD = record(of_setup({}))


def club(folder: Path) -> Path:
    subprocess.run(["git", "init", "-q", str(folder)], check=True)
    (folder / "setuplint.toml").write_text("require-record = true\n", encoding="utf-8")
    (folder / "wagtail.toml").write_text(REFERENCE, encoding="utf-8")
    return folder / "wagtail.record.json"


def put(path: Path, **more: object) -> None:
    path.write_text(RECORD.model_copy(update=more).model_dump_json(), encoding="utf-8")


def said(command: Command, *words: str) -> list[str]:
    done = command("lint", "wagtail.toml", "--format", "json", *words)
    findings = json.loads(done.out)["findings"]
    assert done.status == (1 if findings else 0), done.err
    assert {each["rule"] for each in findings} <= {"record-missing"}
    return [each["message"] for each in findings]


def test_lint_asks_for_one_and_says_why_what_is_there_does_not_count(command: Command, folder: Path) -> None:
    path = club(folder)
    assert said(command) == [
        "not proved on the transmitter: the fingerprint is 2ff8a47f, and no record stands beside it"
    ]
    put(path)
    assert said(command) == []
    assert setuplint.lint(folder / "wagtail.toml").findings == ()
    put(path, fingerprint="00000000")
    assert said(command)[0].endswith("wagtail.record.json is of 00000000")
    put(folder / "wagtail.2026-11-28.record.json")  # another of several
    assert said(command) == []
    (folder / "wagtail.2026-11-28.record.json").unlink()
    path.write_bytes(b"[" * 400_000)
    assert "it is not a record" in said(command)[0]
    path.unlink()
    path.symlink_to("/etc/passwd")  # nothing outside the repository is opened
    assert said(command)[0].endswith("wagtail.record.json is a link, or cannot be read: a record is a file")
    path.unlink()
    path.mkdir()
    assert said(command)[0].endswith("wagtail.record.json is a link, or cannot be read: a record is a file")


OTHERWISE = [SheetRow(row="channels/motor", done=False, read="45")]


@pytest.mark.parametrize(
    ("more", "why"),
    [
        ({"sheet": OTHERWISE}, "in wagtail.2.record.json channels/motor of the sheet was read back otherwise"),
        ({"measured": {"craft.motor-off": -99}}, "in wagtail.2.record.json craft.motor-off was measured otherwise: "),
    ],
)
def test_what_was_read_otherwise_later_or_on_that_day_counts_more(
    command: Command, folder: Path, more: dict[str, object], why: str
) -> None:
    """One that is in order from before does not speak for the transmitter any more."""
    put(club(folder))
    for day, stands in (("2024-11-27", True), ("2024-11-28", False), ("2024-11-29", False)):
        put(folder / "wagtail.2.record.json", on=date.fromisoformat(day), **more)
        messages = said(command)
        assert bool(messages) is not stands
        assert all("wagtail.record.json is of 2024-11-28, and not of a later day" in each for each in messages)
        assert all(why in each for each in messages)


def test_what_a_record_leaves_open_is_told(command: Command, folder: Path, tmp_path: Path) -> None:
    """Silence about it would read as if all of the card had been ticked."""
    path, boxes = club(folder), RECORD.boxes
    put(path)
    assert "boxes of the bench card" not in command("lint", ".").words
    put(path, boxes=boxes[:2])
    put(folder / "wagtail.2.record.json", boxes=boxes[:1])
    kept = ("--cache", str(tmp_path.parent / f"{tmp_path.name}-kept"))
    for words in ((), kept, kept):
        done = command("lint", ".", *words)
        assert done.status == 0
        told = f"./wagtail.record.json proves 2 of {len(boxes)} boxes of the bench card, the others are open."
        assert told in done.words


def test_a_number_that_is_as_good_as_measured_is_no_other(command: Command, folder: Path) -> None:
    put(club(folder), measured={"craft.motor-off": -95.6, "craft.hover-throttle": 80, "battery.cells": 4})
    assert "not a record: measured.battery.cells" in said(command)[0]
    put(club(folder), measured={"craft.motor-off": -95.6, "craft.hover-throttle": 80})
    assert said(command) == []


def test_a_day_that_is_to_come_proves_nothing_yet(command: Command, folder: Path) -> None:
    """But where the transmitter is, it may be tomorrow already."""
    path = club(folder)
    put(path, on=date(2024, 11, 30))
    assert said(command, "--today", "2024-11-29") == []
    assert said(command, "--today", "2024-11-28")[0].endswith("wagtail.record.json is of 2024-11-30, a day to come")
    done = command("record", "wagtail.toml", path.name, "--today", "2024-11-28")
    assert (done.status, "Its day is to come: it proves nothing until then." in done.out) == (1, True)


def test_a_key_that_stands_twice_is_refused(command: Command, folder: Path) -> None:
    """Who reads it sees the first, and the last would count."""
    path = club(folder)
    text = RECORD.model_dump_json()
    path.write_text(f'{{"sheet": [{OTHERWISE[0].model_dump_json()}], {text[1:]}', encoding="utf-8")
    assert said(command)[0].endswith("wagtail.record.json: not a record: sheet stands twice")


def test_a_setup_in_capitals_has_records_too(command: Command, folder: Path) -> None:
    put(club(folder))
    (folder / "wagtail.toml").rename(folder / "wagtail.TOML")
    for name in ("wagtail.TOML", "wagtail.record.json"):
        done = command("lint", name, "--only-setups")
        assert (done.status, "1 setup: nothing found." in done.words) == (0, True)


def test_a_kept_result_is_of_the_records_that_were_there(command: Command, folder: Path, tmp_path: Path) -> None:
    path = club(folder)
    put(path)
    kept = ("--cache", str(tmp_path.parent / f"{tmp_path.name}-kept"))
    assert said(command, *kept) == []
    assert said(command, *kept) == []
    put(path, boxes=[])
    assert said(command, *kept)[0].endswith("no box is ticked")


def test_a_nearer_file_does_not_take_it_away(command: Command, folder: Path) -> None:
    club(folder)
    (folder / "craft").mkdir()
    (folder / "craft" / "setuplint.toml").write_text("require-record = false\n", encoding="utf-8")
    (folder / "craft" / "wagtail.toml").write_text(REFERENCE, encoding="utf-8")
    done = command("lint", "craft/wagtail.toml")
    assert (done.status, "[record-missing]" in done.out) == (1, True)
    assert "require-record = false does not count" in (done.out + done.err).replace("\n", " ")


def test_it_is_read_from_what_is_staged(command: Command, folder: Path) -> None:
    path = club(folder)
    put(path)
    subprocess.run(["git", "-C", str(folder), "add", "."], check=True)
    assert said(command, "--staged") == []
    put(path, boxes=[])
    assert said(command, "--staged") == []
    subprocess.run(["git", "-C", str(folder), "rm", "-qf", "--cached", path.name], check=True)
    assert said(command, "--staged")[0].endswith("no record stands beside it")


def test_a_remedy_is_not_kept_back_by_it(command: Command, folder: Path) -> None:
    """What is mended has to be proved again, whatever is mended."""
    club(folder)
    text = REFERENCE.replace("priority = 100", "priority = 10")
    (folder / "wagtail.toml").write_text(text, encoding="utf-8")
    done = command("lint", "wagtail.toml", "--fix", "--write")
    assert "[hold-bypassed]" not in done.out
    assert (folder / "wagtail.toml").read_text(encoding="utf-8") != text


@pytest.mark.parametrize("value", ['"yes"', "1"])
def test_what_is_no_flag_is_trouble(command: Command, folder: Path, value: str) -> None:
    club(folder)
    (folder / "setuplint.toml").write_text(f"require-record = {value}\n", encoding="utf-8")
    done = command("lint", "wagtail.toml")
    assert (done.status, done.err) == (2, "setuplint: setuplint.toml:1:18: require-record is true or false\n")


def test_a_change_that_asks_for_none_any_more_is_told(command: Command, folder: Path) -> None:
    put(club(folder))
    commit(folder)
    (folder / "setuplint.toml").write_text("", encoding="utf-8")
    done = command("compare", "--since", "HEAD", "--fail-on", "caution")
    assert done.status == 1
    assert "a record beside each setup is asked for no more" in done.words


def test_compare_tells_that_a_setup_is_not_proved_any_more(command: Command, folder: Path) -> None:
    """A hook is not given what a commit takes away."""
    path = club(folder)
    put(path)
    commit(folder)
    (folder / "other.record.json").write_text("{}", encoding="utf-8")  # of nothing that is here
    assert command("compare", "--since", "HEAD", "--fail-on", "caution").status == 0
    path.unlink()
    git(folder, "add", "-A")
    for words in ((), ("--staged",)):
        done = command("compare", "--since", "HEAD", *words, "--fail-on", "caution")
        assert (done.status, "wagtail.toml: the same behaviour; 1 caution gained." in done.words) == (1, True)
        assert "no record stands beside it [record-missing]" in done.words


def test_a_record_that_is_named_stands_for_its_setup(command: Command, folder: Path) -> None:
    """The hook names the files that change: a record that proves nothing any more fails as its setup does."""
    put(club(folder), boxes=[])
    put(folder / "wagtail.2026.11.record.json", fingerprint="00000000")
    put(folder / "nothing.record.json")
    for names in (["wagtail.record.json"], ["wagtail.2026.11.record.json", "wagtail.toml"]):
        done = command("lint", *names, "--only-setups", "--format", "json")
        found = json.loads(done.out)
        assert [each["file"] for each in found["findings"]] == ["wagtail.toml"]
        assert done.status == 1
    done = command("lint", "nothing.record.json", "--only-setups")
    assert (done.status, done.err) == (0, "")
