"""Files that the command writes are there whole or not at all, and nothing else is left beside them: neither by a full disk
nor by a kill (which no program can catch)."""

from __future__ import annotations

import os
import resource
import signal
import stat
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from setuplint.cli import main, whole_files
from tests.cli.running import HAZARD, REFERENCE, Ran, forked

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


def small() -> None:
    """No file gets longer. No module is compiled into a file either: cut off, it would stay and fail every later import."""
    sys.dont_write_bytecode = True
    resource.setrlimit(resource.RLIMIT_FSIZE, (100, 100))


def named() -> None:
    """As where there are no files without names."""
    vars(os).pop("O_TMPFILE", None)


def killed(at: str) -> Callable[[], None]:
    return lambda: setattr(os, at, lambda *_, **__: os.kill(os.getpid(), signal.SIGKILL))


@pytest.fixture
def setups(folder: Path) -> Path:
    (folder / "x.toml").write_text(REFERENCE, encoding="utf-8")
    (folder / "bad.toml").write_text(HAZARD, encoding="utf-8")
    (folder / "known.jsonl").write_text('{"setuplint-baseline": 1}\n', encoding="utf-8")
    assert main(["sheet", "x.toml", "--today", "2027-04-01", "--out", "page.html"]) == 0
    return folder


def run(words: list[str], *before: Callable[[], None]) -> Ran:
    return forked(*words, before=lambda: [each() for each in before])


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


@pytest.mark.quick(1)
@pytest.mark.parametrize(
    ("words", "disk"),
    [
        *((words, [small]) for words in WRITERS + REPLACERS),
        *((words, [named, small]) for words in WRITERS[-2:] + REPLACERS),
    ],
)
def test_a_full_disk_leaves_everything_as_it_was(
    setups: Path, words: list[str], disk: list[Callable[[], None]]
) -> None:
    before = contents(setups)
    done = run(words, *disk)
    assert done.status == 2
    assert "File too large" in done.err
    assert "Traceback" not in done.err
    assert contents(setups) == before


@pytest.mark.quick(1)
@pytest.mark.skipif(not hasattr(os, "O_TMPFILE"), reason="there are no files without names here")
@pytest.mark.parametrize("words", WRITERS + REPLACERS, ids=" ".join)
def test_a_kill_while_it_is_written_leaves_everything_as_it_was(setups: Path, words: list[str]) -> None:
    before = contents(setups)
    assert run(words, killed("fsync")).status == -signal.SIGKILL
    assert contents(setups) == before


@pytest.mark.slow
@pytest.mark.parametrize(
    ("happens", "words"),
    [([killed("replace")], words) for words in REPLACERS]
    + [([named, killed("fsync")], words) for words in WRITERS[-2:] + REPLACERS],
)
def test_what_a_kill_leaves_is_gone_with_the_next_write(
    setups: Path, happens: list[Callable[[], None]], words: list[str]
) -> None:
    before = contents(setups)
    assert run(words, *happens).status == -signal.SIGKILL
    (litter,) = contents(setups).keys() - before.keys()
    assert litter.startswith(".setuplint-")
    assert {name: data for name, data in contents(setups).items() if name != litter} == before
    assert run(words).status < 2
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


def test_of_two_that_replace_it_at_once_one_does(folder: Path) -> None:
    """The second waits for the first, and finds another file in its place."""
    Path("made").write_bytes(b"old")
    reader, writer = os.pipe()
    child = os.fork()
    if child == 0:
        fsync = os.fsync
        os.fsync = lambda file: (os.write(writer, b"."), time.sleep(0.5), fsync(file))[-1]
        whole_files.replace("made", b"old", b"theirs")
        os._exit(0)
    os.read(reader, 1)
    with pytest.raises(OSError, match="it has changed since it was read"):
        whole_files.replace("made", b"old", b"ours")
    assert os.waitpid(child, 0)[1] == 0
    assert Path("made").read_bytes() == b"theirs"


def test_what_may_not_be_written_or_has_another_name_stays(folder: Path) -> None:
    Path("made").write_bytes(b"old")
    Path("made").chmod(0o444)
    with pytest.raises(PermissionError):
        whole_files.replace("made", b"old", b"new")
    Path("made").chmod(0o644)
    os.link("made", "other")
    with pytest.raises(OSError, match="a hard link, which would keep what it holds now"):
        whole_files.replace("made", b"old", b"new")
    assert Path("other").read_bytes() == Path("made").read_bytes() == b"old"
    Path("other").unlink()
    whole_files.replace("made", b"old", b"new")
