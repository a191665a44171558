"""Setups that are linted in one run are compared where they name one radio."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from setuplint import library
from setuplint.cli import lint_run
from tests.cli.running import REFERENCE, Command, process

BAIL = REFERENCE.replace("save", "bail")
SPOKEN = "the rescue is called by bail to pulled (position 2) here, and by save to pulled (position 2) in Wagtail 470"


def write(count: int, odd: int) -> None:
    for number in range(count):
        Path(f"{number:02}.toml").write_text(BAIL if number == odd else REFERENCE, encoding="utf-8")


def test_a_folder_is_compared_and_a_file_alone_is_not(command: Command, folder: Path) -> None:
    write(3, odd=1)
    done = command("lint", ".")
    assert (done.status, done.out.count("[rescue-elsewhere]")) == (0, 1)
    assert SPOKEN in done.words
    assert "[rescue-elsewhere]" not in command("lint", "01.toml").out
    assert command("lint", "--fail-on", "notice", ".").status == 1


@pytest.mark.slow
@pytest.mark.parametrize("odd", [0, 11])
def test_processes_know_of_each_other(
    command: Command, folder: Path, monkeypatch: pytest.MonkeyPatch, odd: int
) -> None:
    write(12, odd)
    alone = command("lint", ".")
    monkeypatch.setattr(lint_run, "MANY", 5)
    monkeypatch.setattr(lint_run, "CHUNK", 2)
    assert command("lint", ".") == alone
    assert f"./{odd:02}.toml:" in alone.out
    assert SPOKEN in alone.words


def test_standard_input_is_compared_with_the_files(folder: Path) -> None:
    write(1, odd=-1)
    done = process("lint", "00.toml", "-", "--name", "mine.toml", stdin=BAIL.encode())
    assert "mine.toml:" in done.out
    assert SPOKEN in done.words


def test_a_pipe_is_read_once(folder: Path) -> None:
    """A named pipe gives its text to the first who reads it: that must be the lint itself."""
    write(1, odd=-1)
    os.mkfifo("pipe")
    if os.fork() == 0:
        Path("pipe").write_text(BAIL, encoding="utf-8")
        os._exit(0)
    done = process("lint", "00.toml", "pipe", timeout=120)
    assert done.status == 0, done.err
    assert SPOKEN in done.words


def test_nothing_is_surveyed_that_no_rule_asks_for(
    command: Command, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write(2, odd=1)
    asked: list[str] = []
    real = library.record
    monkeypatch.setattr(library, "record", lambda data, name, *more: (asked.append(name), real(data, name, *more))[1])
    command("lint", ".", "--only", "hold-bypassed")
    command("lint", "00.toml")
    assert asked == []
    command("lint", ".", "--only", "rescue-elsewhere")
    assert asked == ["./00.toml", "./01.toml"]


def test_a_survey_that_fails_stops_nothing(command: Command, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write(2, odd=1)

    def fails(data: bytes, name: str, beside: object) -> None:
        raise RecursionError("too deep")

    monkeypatch.setattr(library, "record", fails)
    done = command("lint", ".")
    assert (done.status, done.err) == (0, "")
    assert "2 setups" in done.words
