"""Files that the command writes are there whole or not at all, and nothing else is left beside them: neither by a full disk
nor by a kill (which no program can catch)."""

from __future__ import annotations

import os
import signal
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from setuplint.cli import main, whole_files
from tests.cli.running import HAZARD, REFERENCE, environment

WRITERS = [
    ["sheet", "x.toml", "--out", "made.md"],
    ["bench-card", "x.toml", "--out", "made.html"],
    ["report", "x.toml", "--out", "made.html"],
    ["new", "made.toml", "--rotor", "fixed"],
    ["lint", "bad.toml", "--baseline", "made.jsonl", "--baseline-write", "grow"],
]
REPLACERS = [
    ["sheet", "x.toml", "--today", "2027-05-01", "--out", "page.html"],
    ["lint", "bad.toml", "--fix", "--write"],
    ["lint", "bad.toml", "--baseline", "known.jsonl", "--baseline-write", "grow"],
]
# No module is compiled into a file: cut off at the limit, it would stay and fail every later import.
SMALL = "import resource, sys; sys.dont_write_bytecode = True; resource.setrlimit(resource.RLIMIT_FSIZE, (100, 100)); "
NAMED = "import os; vars(os).pop('O_TMPFILE', None); "
FULL_NAMED = NAMED + SMALL
KILLED = "import os; os.{} = lambda *_, **__: os.kill(os.getpid(), 9); "
MAIN = "import sys; from setuplint.cli import main; sys.exit(main(sys.argv[1:]))"


@pytest.fixture
def setups(folder: Path) -> Path:
    (folder / "x.toml").write_text(REFERENCE, encoding="utf-8")
    (folder / "bad.toml").write_text(HAZARD, encoding="utf-8")
    (folder / "known.jsonl").write_text('{"setuplint-baseline": 1}\n', encoding="utf-8")
    assert main(["sheet", "x.toml", "--today", "2027-04-01", "--out", "page.html"]) == 0
    return folder


def run(before: str, words: list[str]) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-c", before + MAIN, *words]
    return subprocess.run(command, env=environment(), capture_output=True, text=True)


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


@pytest.mark.quick(1)
@pytest.mark.parametrize(
    ("words", "limit"),
    [*((words, SMALL) for words in WRITERS + REPLACERS), *((words, FULL_NAMED) for words in WRITERS[-2:] + REPLACERS)],
)
def test_a_full_disk_leaves_everything_as_it_was(setups: Path, words: list[str], limit: str) -> None:
    before = contents(setups)
    done = run(limit, words)
    assert done.returncode == 2
    assert "File too large" in done.stderr
    assert "Traceback" not in done.stderr
    assert contents(setups) == before


@pytest.mark.quick(1)
@pytest.mark.skipif(not hasattr(os, "O_TMPFILE"), reason="there are no files without names here")
@pytest.mark.parametrize("words", WRITERS + REPLACERS, ids=" ".join)
def test_a_kill_while_it_is_written_leaves_everything_as_it_was(setups: Path, words: list[str]) -> None:
    before = contents(setups)
    assert run(KILLED.format("fsync"), words).returncode == -signal.SIGKILL
    assert contents(setups) == before


@pytest.mark.slow
@pytest.mark.parametrize(
    ("killed", "words"),
    [(KILLED.format("replace"), words) for words in REPLACERS]
    + [(NAMED + KILLED.format("fsync"), words) for words in WRITERS[-2:] + REPLACERS],
    ids=lambda each: each if isinstance(each, str) else " ".join(each),
)
def test_what_a_kill_leaves_is_gone_with_the_next_write(setups: Path, killed: str, words: list[str]) -> None:
    before = contents(setups)
    assert run(killed, words).returncode == -signal.SIGKILL
    (litter,) = contents(setups).keys() - before.keys()
    assert litter.startswith(".setuplint-")
    assert {name: data for name, data in contents(setups).items() if name != litter} == before
    assert run("", words).returncode < 2
    assert litter not in contents(setups)
    assert contents(setups) != before


def test_a_new_file_may_be_read_as_others_of_its_user(folder: Path) -> None:
    mask = os.umask(0o027)
    try:
        whole_files.create("made", b"data")
        assert stat.S_IMODE(Path("made").stat().st_mode) == 0o640
    finally:
        os.umask(mask)
    assert os.listdir() == ["made"]


def refused(*_: object, **__: object) -> None:
    raise PermissionError(1, "Operation not permitted")


@pytest.mark.parametrize("disk", ["with files without names", "without", "without second names either"])
def test_a_file_that_is_there_is_not_written_over(folder: Path, monkeypatch: pytest.MonkeyPatch, disk: str) -> None:
    if disk != "with files without names":
        monkeypatch.delattr(os, "O_TMPFILE", raising=False)
    if disk == "without second names either":
        monkeypatch.setattr(os, "link", refused)
    fill = whole_files._Draft.fill

    def fill_while_another_comes(draft: whole_files._Draft, data: bytes) -> None:
        fill(draft, data)
        Path("made").write_bytes(b"theirs")

    monkeypatch.setattr(whole_files._Draft, "fill", fill_while_another_comes)
    with pytest.raises(FileExistsError):
        whole_files.create("made", b"ours")
    with pytest.raises(FileExistsError):
        whole_files.create("made", b"ours")
    assert contents(folder) == {"made": b"theirs"}


def test_a_disk_without_second_names_is_written_to_all_the_same(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delattr(os, "O_TMPFILE", raising=False)
    monkeypatch.setattr(os, "link", refused)
    whole_files.create("made", b"data")
    assert contents(folder) == {"made": b"data"}
    with pytest.raises(FileExistsError):
        whole_files.create("made", b"more")
    whole_files.replace("made", b"data", b"other")
    assert contents(folder) == {"made": b"other"}
