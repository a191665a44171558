"""`lint --cache`: what was clean is not judged again, and nothing that would be found otherwise is missed."""

from __future__ import annotations

import os
import shutil
import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest

from setuplint import library
from setuplint.cli import cache, lint_run
from tests.cli.running import ROOT, Command
from tests.club.git import commit, git
from tests.club.made import write

REFERENCE = (ROOT / "examples" / "reference.toml").read_text(encoding="utf-8")
GRAVE = REFERENCE.replace("priority = 100", "priority = 10")


@pytest.fixture
def kept(tmp_path_factory: pytest.TempPathFactory) -> str:
    return str(tmp_path_factory.mktemp("kept"))


def entries(kept: str) -> int:
    ((count,),) = sqlite3.connect(Path(kept) / "setuplint.sqlite3").execute("SELECT count(age) FROM entries")
    return int(count)


@pytest.mark.slow
def test_what_is_said_is_the_same_the_second_time(command: Command, folder: Path, kept: str) -> None:
    for path in (ROOT / "examples").glob("*.toml"):
        shutil.copy(path, folder)
    for form in ("text", "sarif"):
        plain = command("lint", ".", "--format", form, "--today", "2026-11-25")
        for _ in range(2):
            assert command("lint", ".", "--format", form, "--today", "2026-11-25", "--cache", kept) == plain
    assert entries(kept) > 8


def test_a_change_is_judged_anew(command: Command, folder: Path, kept: str) -> None:
    (folder / "x.toml").write_text(REFERENCE)
    assert command("lint", "x.toml", "--cache", kept).status == 0
    (folder / "x.toml").write_text(GRAVE)
    assert command("lint", "x.toml", "--cache", kept).status == 1
    assert command("lint", "x.toml", "--cache", kept).status == 1
    (folder / "x.toml").write_text(REFERENCE)
    assert command("lint", "x.toml", "--cache", kept).status == 0


def test_by_a_stricter_file_further_out_it_is_judged_anew(command: Command, folder: Path, kept: str) -> None:
    """And by the policy of a revision, and where a baseline holds something of it."""
    git(folder, "init", "-q")
    write(folder, {"craft/x.toml": REFERENCE, "craft/setuplint.toml": 'never-waive = ["danger", "hold-slow"]'})
    commit(folder)
    assert command("lint", ".", "--cache", kept).status == 0
    count = entries(kept)
    assert command("lint", ".", "--cache", kept).status == 0
    assert entries(kept) == count, "kept under the same key"
    write(folder, {"setuplint.toml": "fail-on = 'notice'\nlimits.hover-too-sharp.slope = 0.4"})
    assert command("lint", ".", "--cache", kept).status == 1
    assert command("lint", ".", "--cache", kept, "--policy", "HEAD").status == 0
    assert command("lint", ".", "--cache", kept, "--staged").status == 0
    assert command("lint", ".", "--cache", kept, "--baseline", "known.jsonl", "--baseline-write", "grow").status == 0
    (folder / "setuplint.toml").unlink()
    ran = command("lint", ".", "--cache", kept, "--baseline", "known.jsonl")
    assert "No longer found, and still in the baseline: 1." in ran.words


def test_a_changed_shared_part_and_a_stricter_limit_are_judged_anew(command: Command, folder: Path, kept: str) -> None:
    own = REFERENCE.replace("format = 1\n", 'format = 1\nextends = "radio.toml"\n')
    own = own.replace('[switches.save]\nkind = "momentary"', "")
    assert own.count("positions") < REFERENCE.count("positions") + 1
    start = own.index('positions = ["released", "pulled"]')
    own = own[:start] + own[own.index("\n", start) + 1 :]
    shared = 'format = 1\n[switches.save]\nkind = "{}"\npositions = ["released", "pulled"]\n'
    (folder / "x.toml").write_text(own)
    (folder / "radio.toml").write_text(shared.format("momentary"))
    assert command("lint", "x.toml", "--cache", kept).status == 0
    (folder / "radio.toml").write_text(shared.format("two-position"))
    assert command("lint", "x.toml", "--cache", kept).status == 1
    (folder / "radio.toml").write_text(shared.format("momentary"))
    assert command("lint", "x.toml", "--cache", kept).status == 0
    (folder / "setuplint.toml").write_text('fail-on = "notice"\n[limits]\nhover-too-sharp.slope = 0.4\n')
    assert command("lint", "x.toml", "--cache", kept).status == 1


def test_what_is_usual_on_the_radio_counts(command: Command, folder: Path, kept: str) -> None:
    for name in "abc":
        (folder / f"{name}.toml").write_text(REFERENCE)
    assert "rescue-elsewhere" not in command("lint", ".", "--cache", kept).out
    other = REFERENCE.replace("save", "saver")
    for name in "de":
        (folder / f"{name}.toml").write_text(other)
    assert "rescue-elsewhere" in command("lint", ".", "--cache", kept).out
    for name in "abc":
        (folder / f"{name}.toml").write_text(other)
    assert "rescue-elsewhere" not in command("lint", ".", "--cache", kept).out


def test_another_setuplint_knows_nothing(
    command: Command, folder: Path, kept: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    (folder / "x.toml").write_text(REFERENCE)
    command("lint", "x.toml", "--cache", kept)
    before = entries(kept)
    monkeypatch.setattr(cache, "stamp", lambda: b"another")
    command("lint", "x.toml", "--cache", kept)
    assert entries(kept) > before


def test_a_cache_that_could_come_with_the_setups_is_refused(command: Command, folder: Path) -> None:
    (folder / "x.toml").write_text(REFERENCE)
    done = command("lint", "x.toml", "--cache", "kept")
    assert done.status == 2
    assert "lies in what is linted" in done.err
    assert not (folder / "kept").exists()


def spoil(path: Path) -> None:
    """Zeros over all pages but the first."""
    data = path.read_bytes()
    path.write_bytes(data[:4096] + bytes(len(data) - 4096))


def replace_by_another_layout(path: Path) -> None:
    path.unlink()
    base = sqlite3.connect(path)
    base.execute("CREATE TABLE entries (key BLOB PRIMARY KEY, value TEXT) WITHOUT ROWID")
    base.close()


@pytest.mark.parametrize(
    "broken",
    [
        lambda path: path.write_bytes(b"no database, but long enough to look like one" * 100),
        lambda path: path.write_bytes(path.read_bytes()[:5000]),
        spoil,
        replace_by_another_layout,
    ],
    ids=["no database", "cut off", "spoilt", "of another layout"],
)
def test_a_broken_cache_is_begun_anew(
    command: Command, folder: Path, kept: str, broken: Callable[[Path], object]
) -> None:
    (folder / "x.toml").write_text(REFERENCE)
    plain = command("lint", "x.toml")
    command("lint", "x.toml", "--cache", kept)
    assert entries(kept) == 1
    base = Path(kept) / "setuplint.sqlite3"
    sqlite3.connect(base).execute("PRAGMA wal_checkpoint(TRUNCATE)")
    broken(base)
    for _ in range(2):
        assert command("lint", "x.toml", "--cache", kept) == plain
        assert entries(kept) == 1


@pytest.mark.parametrize("value", ["{", "[]", "{}", '{"not-judged": 1}'])
def test_a_spoilt_entry_is_none(command: Command, folder: Path, kept: str, value: str) -> None:
    (folder / "x.toml").write_text(REFERENCE)
    plain = command("lint", "x.toml", "--cache", kept)
    base = sqlite3.connect(Path(kept) / "setuplint.sqlite3")
    base.execute("UPDATE entries SET value = ?", (value,))
    base.commit()
    base.close()
    assert command("lint", "x.toml", "--cache", kept) == plain


def test_a_cache_that_cannot_be_written_to_is_trouble(command: Command, folder: Path) -> None:
    (folder / "x.toml").write_text(REFERENCE)
    for wrong in ("/dev/null/kept", "/proc/kept", ""):
        done = command("lint", "x.toml", "--cache", wrong)
        assert (done.status, done.out) == (2, "")
        assert done.err.count("\n") == 1


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="permissions are of another kind here")
@pytest.mark.parametrize("mode", [0o777, 0o1777, 0o770, 0o702])
def test_a_cache_that_others_can_write_to_is_refused(command: Command, folder: Path, kept: str, mode: int) -> None:
    (folder / "x.toml").write_text(REFERENCE)
    Path(kept).chmod(mode)
    done = command("lint", "x.toml", "--cache", kept)
    assert (done.status, done.out) == (2, "")
    assert f"others can write to {kept}, and could say what is clean" in done.err
    assert os.listdir(kept) == []
    Path(kept).chmod(0o755)
    assert command("lint", "x.toml", "--cache", kept).status == 0
    assert command("lint", "x.toml", "--cache", f"{kept}/made").status == 0
    assert (Path(kept) / "made").stat().st_mode & 0o777 == 0o700


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="permissions are of another kind here")
def test_a_cache_that_others_could_put_another_in_the_place_of_is_refused(
    command: Command, folder: Path, kept: str
) -> None:
    (folder / "x.toml").write_text(REFERENCE)
    inner = Path(kept) / "inner"
    inner.mkdir(0o700)
    Path(kept).chmod(0o777)
    assert f"others can write to {kept}," in command("lint", "x.toml", "--cache", inner).err
    Path(kept).chmod(0o1777)
    assert command("lint", "x.toml", "--cache", inner).status == 0


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() != 0, reason="only root can give files away")
@pytest.mark.parametrize("name", ["", "setuplint.sqlite3", "setuplint.sqlite3-wal"])
def test_a_cache_that_is_of_another_user_is_refused(command: Command, folder: Path, kept: str, name: str) -> None:
    (folder / "x.toml").write_text(REFERENCE)
    theirs = Path(kept) / name
    if name:
        theirs.touch()
    os.chown(theirs, 12345, 12345)
    assert f"others can write to {theirs}," in command("lint", "x.toml", "--cache", kept).err


def test_a_link_to_entries_elsewhere_is_refused(command: Command, folder: Path, kept: str) -> None:
    (folder / "x.toml").write_text(REFERENCE)
    (Path(kept) / "setuplint.sqlite3").symlink_to("/tmp/elsewhere")
    assert "others can write to" in command("lint", "x.toml", "--cache", kept).err


def test_a_run_leaves_so_many_entries_and_drops_the_oldest(
    command: Command, folder: Path, kept: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    for number in range(5):
        (folder / f"{number}.toml").write_text(f"# {number}\n{REFERENCE}")
    monkeypatch.setattr(cache, "MOST", 2)
    for number in range(5):
        assert command("lint", f"{number}.toml", "--cache", kept).status == 0
        assert entries(kept) == min(number + 1, 2)
    judged: list[str] = []
    real = library.lint_text
    monkeypatch.setattr(library, "lint_text", lambda *a, **o: (judged.append(o["name"]), real(*a, **o))[1])
    for number in (3, 4, 2):
        command("lint", f"{number}.toml", "--cache", kept)
    assert judged == ["2.toml"]


def test_a_run_bounds_its_cache_once_and_makes_one_key_a_file(
    command: Command, folder: Path, kept: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    for number in range(4):
        (folder / f"{number}.toml").write_text(f"# {number}\n{REFERENCE}")
    bounded: list[str] = []
    keys: list[str] = []
    real = cache.entry_key
    monkeypatch.setattr(cache, "bound", bounded.append)
    monkeypatch.setattr(cache, "entry_key", lambda what, *parts: (keys.append(what), real(what, *parts))[1])
    command("lint", "0.toml", "1.toml", "2.toml", "3.toml", "--cache", kept)
    assert bounded == [kept]
    assert keys == ["record"] * 4 + ["report"] * 4


def test_an_entry_that_is_too_long_is_not_kept(
    command: Command, folder: Path, kept: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    (folder / "x.toml").write_text(REFERENCE)
    monkeypatch.setattr(cache, "LONGEST", 10)
    command("lint", "x.toml", "--cache", kept)
    assert entries(kept) == 0


def test_what_is_usual_counts_for_standard_input_too(command: Command, folder: Path, kept: str) -> None:
    """It is not looked at beforehand, since it can be read only once."""
    for name in "ab":
        (folder / f"{name}.toml").write_text(REFERENCE)
    words = ("lint", "a.toml", "b.toml", "-", "--cache", kept)
    assert "rescue-elsewhere" not in command(*words, stdin=REFERENCE.encode()).out
    for name in "ab":
        (folder / f"{name}.toml").write_text(REFERENCE.replace("save", "bail"))
    assert "rescue-elsewhere" in command(*words, stdin=REFERENCE.encode()).out


@pytest.mark.slow
def test_processes_use_it_together(command: Command, folder: Path, kept: str, monkeypatch: pytest.MonkeyPatch) -> None:
    for number in range(12):
        (folder / f"{number:02}.toml").write_text(f"# {number}\n{REFERENCE}")
    plain = command("lint", ".")
    monkeypatch.setattr(lint_run, "MANY", 5)
    monkeypatch.setattr(lint_run, "CHUNK", 2)
    for _ in range(2):
        assert command("lint", ".", "--cache", kept) == plain
        assert entries(kept) == 24


@pytest.mark.skipif(not hasattr(os, "fork"), reason="processes do not fork here")
def test_a_process_does_not_use_the_connection_of_another(kept: str) -> None:
    """SQLite forbids it: locks are a process's own."""
    ours = cache.opened(cache.checked_folder(kept, []))
    child = os.fork()
    if child == 0:
        os._exit(1 if cache.opened(kept) is ours else 0)
    assert os.waitpid(child, 0)[1] == 0
    assert cache.opened(kept) is ours


def test_a_waiver_of_what_cannot_be_judged_ends_all_the_same(command: Command, folder: Path, kept: str) -> None:
    waiver = '[[waivers]]\nrule = "hold-bypassed"\nreason = "x"\nuntil = 2027-04-01\n'
    (folder / "x.toml").write_text(REFERENCE.replace("motor-off = -95 ", "# ") + waiver)
    assert command("lint", "x.toml", "--cache", kept, "--today", "2027-01-01").status == 0
    assert "[waiver-expired]" in command("lint", "x.toml", "--cache", kept, "--today", "2027-04-02").out
