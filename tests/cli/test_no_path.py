"""A path that is empty, as of a shell's variable that was never set, names no file: that is said, and is status 2."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.running import HAZARD, REFERENCE, Command

COMMANDS = [
    ["lint", ""],
    ["lint", "--only-setups", ""],
    ["trace", ""],
    ["compare", "", "x.toml"],
    ["compare", "x.toml", ""],
    ["report", ""],
    ["sheet", ""],
    ["sheet", "x.toml", "--since", ""],
    ["bench-card", ""],
]


@pytest.mark.parametrize("words", COMMANDS, ids=str)
def test_it_is_no_standard_input(command: Command, folder: Path, words: list[str]) -> None:
    Path("x.toml").write_text(REFERENCE, encoding="utf-8")
    done = command(*words, stdin=REFERENCE.encode())
    assert (done.status, done.err) == (2, "setuplint: '' names no file\n")


@pytest.mark.parametrize(
    "words",
    [
        ["report", "x.toml", "--out", ""],
        ["sheet", "x.toml", "--out", ""],
        ["new", "", "--rotor", "fixed"],
        ["lint", "x.toml", "--baseline", ""],
        ["lint", "x.toml", "--baseline", "", "--baseline-write", "grow"],
        ["lint", "x.toml", "--cache", ""],
        ["lint", "x.toml", "--rules", ""],
        ["rules-test", ""],
    ],
    ids=str,
)
def test_nothing_is_written_or_read_by_it(command: Command, folder: Path, words: list[str]) -> None:
    Path("x.toml").write_text(REFERENCE, encoding="utf-8")
    done = command(*words)
    assert (done.status, done.err.count("\n")) == (2, 1)
    assert done.err.startswith("setuplint: ")
    assert [path.name for path in folder.iterdir()] == ["x.toml"]


def test_the_other_paths_are_linted(command: Command, folder: Path) -> None:
    Path("x.toml").write_text(HAZARD, encoding="utf-8")
    done = command("lint", "", "x.toml")
    assert done.status == 2
    assert "[hold-bypassed]" in done.out
