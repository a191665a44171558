"""`lint --cache`: what was clean is not judged anew, and nothing that would be found otherwise is missed."""

from __future__ import annotations

import shutil
import sqlite3
from pathlib import Path

import pytest

from setuplint.cli import cache
from tests.cli.running import ROOT, Command

REFERENCE = (ROOT / "examples" / "reference.toml").read_text(encoding="utf-8")
GRAVE = REFERENCE.replace("priority = 100", "priority = 10")


@pytest.fixture
def kept(tmp_path_factory: pytest.TempPathFactory) -> str:
    cache.opened.cache_clear()
    return str(tmp_path_factory.mktemp("kept"))


def entries(kept: str) -> int:
    ((count,),) = sqlite3.connect(Path(kept) / "setuplint.sqlite3").execute("SELECT count(*) FROM entries")
    return int(count)


def test_what_is_said_is_the_same_the_second_time(command: Command, folder: Path, kept: str) -> None:
    for path in (ROOT / "examples").glob("*.toml"):
        shutil.copy(path, folder)
    for form in ("text", "json", "junit", "sarif", "markdown"):
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


def test_a_broken_cache_is_trouble_and_a_spoilt_entry_is_none(command: Command, folder: Path, kept: str) -> None:
    (folder / "x.toml").write_text(REFERENCE)
    command("lint", "x.toml", "--cache", kept)
    base = sqlite3.connect(Path(kept) / "setuplint.sqlite3")
    base.execute("UPDATE entries SET value = '{'")
    base.commit()
    base.close()
    assert command("lint", "x.toml", "--cache", kept).status == 0
    cache.opened.cache_clear()
    for path in Path(kept).iterdir():
        path.unlink()
    (Path(kept) / "setuplint.sqlite3").write_bytes(b"no database, but long enough to look like one" * 100)
    assert command("lint", "x.toml", "--cache", kept).status == 2


def test_a_waiver_of_what_cannot_be_judged_ends_all_the_same(command: Command, folder: Path, kept: str) -> None:
    waiver = '[[waivers]]\nrule = "hold-bypassed"\nreason = "x"\nuntil = 2027-04-01\n'
    (folder / "x.toml").write_text(REFERENCE.replace("motor-off = -95 ", "# ") + waiver)
    assert command("lint", "x.toml", "--cache", kept, "--today", "2027-01-01").status == 0
    assert "[waiver-expired]" in command("lint", "x.toml", "--cache", kept, "--today", "2027-04-02").out
