"""`setuplint lint --fix`: shows what every mechanical remedy changes, and writes only with `--write`."""

from __future__ import annotations

import os
import stat
from pathlib import Path

import pytest

from setuplint.book import rulebook
from setuplint.cli import whole_files
from tests.cli.running import HAZARD, REFERENCE, Command
from tests.rules.edits import example_text

MENDED = HAZARD.replace("priority = 100\n", "priority = 151\n")
assert MENDED != HAZARD


def test_without_write_a_diff_is_shown_and_nothing_written(command: Command, folder: Path) -> None:
    Path("x.toml").write_text(HAZARD, encoding="utf-8")
    plain, done = command("lint", "x.toml"), command("lint", "--fix", "x.toml")
    assert (done.status, done.err) == (plain.status, "")
    assert "x.toml: 1 remedy to apply with --write:\n--- a/x.toml\n+++ b/x.toml\n@@ " in done.out
    assert "\n-priority = 100\n+priority = 151\n" in done.out
    assert done.out.splitlines()[0] == plain.out.splitlines()[0]
    assert Path("x.toml").read_text(encoding="utf-8") == HAZARD
    assert os.listdir() == ["x.toml"]


def test_write_applies_it_and_reports_what_is_left(command: Command, folder: Path) -> None:
    Path("real").mkdir()
    Path("real/x.toml").write_bytes(b"\xef\xbb\xbf" + HAZARD.replace("\n", "\r\n").encode())
    Path("real/x.toml").chmod(0o640)
    Path("x.toml").symlink_to("real/x.toml")
    done = command("lint", "--fix", "--write", "x.toml")
    assert (done.status, done.err) == (0, "")
    assert "x.toml: 1 remedy applied:\n--- a/x.toml" in done.out
    assert "1 setup: nothing found" in done.out
    assert Path("real/x.toml").read_bytes() == b"\xef\xbb\xbf" + MENDED.replace("\n", "\r\n").encode()
    assert stat.S_IMODE(Path("real/x.toml").stat().st_mode) == 0o640
    assert Path("x.toml").is_symlink()
    assert os.listdir("real") == ["x.toml"]
    again = command("lint", "--fix", "--write", "x.toml")
    assert "remed" not in again.out
    assert again.status == 0


def test_a_file_without_remedies_is_not_touched(command: Command, folder: Path) -> None:
    Path("x.toml").write_text(REFERENCE, encoding="utf-8")
    before = Path("x.toml").stat()
    assert command("lint", "--fix", "--write", "x.toml").out == command("lint", "x.toml").out
    after = Path("x.toml").stat()
    assert (after.st_ino, after.st_mtime_ns) == (before.st_ino, before.st_mtime_ns)


def test_a_remedy_answers_to_rules_that_were_not_asked_for(command: Command, folder: Path) -> None:
    text = example_text(next(e for e in rulebook.page("rescue-too-weak").examples if "overrides.rescue-lift" in e.edit))
    Path("x.toml").write_text(text, encoding="utf-8")
    done = command("lint", "--fix", "--write", "--only", "rescue-too-weak", "x.toml")
    assert done.status == 1
    assert "x.toml: 1 remedy offered only:" in done.out
    assert "then lift-before-level reports rescue-lift." in done.words
    assert "[lift-before-level]" not in done.out
    assert Path("x.toml").read_text(encoding="utf-8") == text


def test_standard_input_is_shown_and_never_written(command: Command, folder: Path) -> None:
    shown = command("lint", "--fix", "--name", "mine.toml", "-", stdin=HAZARD.encode())
    assert shown.status == 1
    assert "--- a/mine.toml\n+++ b/mine.toml\n" in shown.out
    refused = command("lint", "--fix", "--write", "-", stdin=HAZARD.encode())
    assert (refused.status, refused.out) == (2, "")
    assert "standard input cannot be written to" in refused.err
    assert os.listdir() == []


@pytest.mark.parametrize(
    ("options", "why"), [(["--write"], "--write goes with --fix"), (["--fix", "--format", "json"], "--fix shows text")]
)
def test_options_that_do_not_go_together(command: Command, folder: Path, options: list[str], why: str) -> None:
    Path("x.toml").write_text(HAZARD, encoding="utf-8")
    done = command("lint", *options, "x.toml")
    assert (done.status, done.out) == (2, "")
    assert why in done.err


def test_a_file_that_has_changed_meanwhile_is_left_as_it_is(folder: Path) -> None:
    Path("x.toml").write_bytes(b"newer")
    with pytest.raises(OSError, match="has changed"):
        whole_files.replace("x.toml", b"before", b"after")
    assert Path("x.toml").read_bytes() == b"newer"


def test_what_cannot_be_written_is_trouble(command: Command, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    Path("x.toml").write_text(HAZARD, encoding="utf-8")
    monkeypatch.setattr(os, "replace", full)
    done = command("lint", "--fix", "--write", "x.toml")
    assert done.status == 2
    assert done.err == "setuplint: cannot write x.toml: No space left on device\n"
    assert "x.toml: 1 remedy not applied:" in done.out
    assert "[hold-bypassed]" in done.out
    assert Path("x.toml").read_text(encoding="utf-8") == HAZARD
    assert os.listdir() == ["x.toml"]
