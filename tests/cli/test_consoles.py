"""What is otherwise on Windows, as far as it can be tried elsewhere: the console's characters, processes, files that are open."""

from __future__ import annotations

import io
import json
import ntpath
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from setuplint.cli import console, main, whole_files
from setuplint.cli.files import is_among
from setuplint.club.baseline import Baseline
from setuplint.club.git_files import files_at
from setuplint.findings import Finding, Place
from setuplint.formats.sarif_places import artifact_location
from setuplint.setup.file_sources import name_beside, name_from

ROOT = Path(__file__).parents[2]
EXAMPLES = ROOT / "examples"
SPAWNED = """\
import multiprocessing, sys
from setuplint.cli import lint_run, main
lint_run.MANY = 1
if __name__ == "__main__":
    multiprocessing.set_start_method("spawn")
    status = main(sys.argv[1:])
    assert multiprocessing.get_start_method() == "spawn"
    sys.exit(status)
"""


def written(encoding: str, *words: str) -> bytes:
    """What a command writes where the console has this encoding."""
    by = {**os.environ, "PYTHONUTF8": "0", "PYTHONIOENCODING": encoding}
    done = subprocess.run([sys.executable, "-m", "setuplint", *words], cwd=EXAMPLES, env=by, capture_output=True)
    assert done.returncode == 0, done.stderr
    assert done.stderr == b""
    return done.stdout


def test_a_drawing_keeps_its_shape_where_the_console_has_not_its_signs() -> None:
    shown, drawn = (written(name, "trace", "reference.toml").decode(name) for name in ("cp1252", "utf-8"))
    assert "(0 of 100, 1000 µs)" in shown
    assert "\n  `- mode normal" in shown
    assert [len(line) for line in shown.splitlines()] == [len(line) for line in drawn.splitlines()]
    assert "1000 us" in written("ascii", "trace", "reference.toml").decode("ascii")
    assert b"\\u" not in written("cp1252", "trace", "reference.toml", "--sweep", "throttle")


STRANGE = "Грач „470“ ≤ 漢"
SPOKEN = [
    *(
        "lint грач.toml",
        "lint --verbose грач.toml",
        "lint --fix грач.toml",
        "lint --format markdown грач.toml",
        "lint нет.toml",
    ),
    *("lint --format json грач.toml", "lint --format sarif грач.toml", "lint --format junit грач.toml", "lint --грач"),
    *("explain", "explain hold-bypassed", "explain грач", "trace грач.toml", "trace грач.toml --sweep throttle"),
    *("trace грач.toml --sweep throttle --csv", "trace --help", "compare safe.toml грач.toml", "sheet грач.toml"),
    *("compare --format markdown safe.toml грач.toml", "bench-card грач.toml", "notes грач.toml", "report грач.toml"),
    *("record грач.toml no.json", "rules-test .", "soften 16", "soften safe.toml", "schema", "new --page -"),
    *("new - --rotor fixed --name Грач", "new --readings-page -", "serve --help", "sheet --since safe.toml грач.toml"),
]


@pytest.mark.slow
def test_no_command_fails_for_what_the_console_has_not(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What it cannot show is drawn or an escape, in a document nothing is changed: nothing is lost."""
    monkeypatch.chdir(tmp_path)
    safe = (EXAMPLES / "hazards" / "rescue-beats-hold.toml").read_text(encoding="utf-8")
    (tmp_path / "safe.toml").write_text(safe, encoding="utf-8")
    (tmp_path / "грач.toml").write_text(re.sub('name = ".*"', f'name = "{STRANGE}"', safe, count=1), encoding="utf-8")
    shown = ""
    for words in SPOKEN:
        status, *said = spoken(monkeypatch, "utf-8", words)
        for encoding in ("cp1252", "ascii"):
            again, *drawn = spoken(monkeypatch, encoding, words)
            assert again == status, (words, encoding)
            for whole, got in zip(said, drawn, strict=True):
                assert got in (whole, whole.decode("utf-8").encode(encoding, console.DRAWN)), (words, encoding)
        shown += said[0].decode("utf-8")
    assert shown.count(STRANGE) > 8


def spoken(monkeypatch: pytest.MonkeyPatch, encoding: str, words: str) -> tuple[object, bytes, bytes]:
    """The status, and what is written to each stream of a console."""
    streams = {name: io.TextIOWrapper(io.BytesIO(), encoding=encoding, newline="\n") for name in ("stdout", "stderr")}
    streams["stderr"].reconfigure(errors="backslashreplace")
    with monkeypatch.context() as patched:
        for name, stream in streams.items():
            patched.setattr(sys, name, stream)
        try:
            status: object = main(words.split())
        except SystemExit as end:
            status = end.code
    for stream in streams.values():
        stream.flush()
    out, err = (stream.buffer.getvalue() for stream in streams.values())  # type: ignore[attr-defined]
    return status, out, err


def test_bytes_that_are_no_characters_are_no_answer(tmp_path: Path) -> None:
    by = {**os.environ, "PYTHONUTF8": "0", "PYTHONIOENCODING": "cp1252"}
    replies = "fixed\n\nM\x81ller\nMüller\n".encode("latin-1")
    words = [sys.executable, "-m", "setuplint", "new", "x.toml", "--ask"]
    done = subprocess.run(words, cwd=tmp_path, env=by, input=replies, capture_output=True)
    assert done.returncode == 2
    assert b"M\\udc81ller\x94 is not 1 to 60 characters" in done.stderr
    assert json.loads((tmp_path / "x.toml.draft").read_text(encoding="utf-8"))["replies"]["name"] == "Müller"


@pytest.mark.quick(1)
@pytest.mark.parametrize("words", [("sheet", "--format", "html"), ("bench-card",), ("report",)])
def test_a_page_is_utf_8_as_it_says_whatever_the_console_is(words: tuple[str, ...]) -> None:
    command, *more = words
    assert written("cp1252", command, "reference.toml", *more) == written("utf-8", command, "reference.toml", *more)


@pytest.mark.slow
def test_processes_that_start_from_nothing_say_the_same(tmp_path: Path) -> None:
    setups, script = tmp_path / "setups", tmp_path / "spawned.py"
    setups.mkdir()
    script.write_text(SPAWNED, encoding="utf-8")
    text = (EXAMPLES / "hazards" / "low-stick-runs-motor.toml").read_bytes()
    for number in range(3):
        (setups / f"{number}.toml").write_bytes(text)
    runs = [
        subprocess.run([sys.executable, *way, "lint", "setups"], cwd=tmp_path, capture_output=True, encoding="utf-8")
        for way in ([str(script)], ["-m", "setuplint"])
    ]
    assert [done.returncode for done in runs] == [1, 1]
    assert runs[0].stdout == runs[1].stdout
    assert "3 setups: 3 dangers" in runs[0].stdout


@pytest.mark.parametrize("disk", ["with second names", "without"])
def test_no_file_is_moved_while_it_is_open(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, disk: str) -> None:
    """Windows does not move one that is."""
    path, really = tmp_path / "a.toml", os.replace

    def replace(old: str, new: str) -> None:
        handles = (f"/proc/self/fd/{handle}" for handle in os.listdir("/proc/self/fd"))
        assert os.path.realpath(old) not in [os.path.realpath(handle) for handle in handles]
        really(old, new)

    def no_link(*_: object, **__: object) -> None:
        raise OSError

    monkeypatch.delattr(os, "O_TMPFILE", raising=False)
    monkeypatch.setattr(os, "replace", replace)
    if disk == "without":
        monkeypatch.setattr(os, "link", no_link)
    whole_files.create(str(path), b"old")
    whole_files.replace(str(path), b"old", b"new")
    with whole_files.growing(str(path)) as file:
        file.write(b"newer")
        file.finish()
    assert path.read_bytes() == b"newer"
    assert os.listdir(tmp_path) == ["a.toml"]


def no_way(path: str, start: str) -> str:
    raise ValueError(f"path is on mount 'D:', start on mount 'C:': {path}, {start}")


def test_no_path_leads_from_one_drive_to_another(monkeypatch: pytest.MonkeyPatch) -> None:
    files = files_at(str(ROOT), "HEAD")
    assert files.name(str(EXAMPLES / "reference.toml")) == "examples/reference.toml"
    monkeypatch.setattr(os.path, "relpath", no_way)
    assert files.name(str(EXAMPLES / "reference.toml")) is None
    assert Baseline(str(ROOT / "known.jsonl")).of(Baseline("known.jsonl").key(str(EXAMPLES / "reference.toml"))) == []


def test_there_is_one_way_to_write_a_path_from_a_folder() -> None:
    """It alone knows that there may be none."""
    using = [path for path in (ROOT / "setuplint").rglob("*.py") if "relpath" in path.read_text(encoding="utf-8")]
    assert [path.name for path in using] == ["file_sources.py"]


@pytest.fixture
def club(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Two craft that extend one radio, one with a mistake, staged; the radio and the mistake are new since the commit."""
    monkeypatch.chdir(tmp_path)
    text = (EXAMPLES / "hazards" / "rescue-beats-hold.toml").read_text(encoding="utf-8")
    for folder, name in (("a", "one"), ("b", "two")):
        (tmp_path / folder).mkdir()
        extending = f'extends = "../radio.toml"\n{text}'.replace('name = "', f'radio = "grey"\nname = "{name} ')
        (tmp_path / folder / f"{name}.toml").write_text(extending, encoding="utf-8")
    (tmp_path / "radio.toml").write_text("format = 1\n[knobs.lamp]\n", encoding="utf-8")
    (tmp_path / "setuplint.toml").write_text("edition = 2026\n", encoding="utf-8")
    name = ("-c", "user.name=A pilot", "-c", "user.email=pilot@example.invalid", "-c", "commit.gpgsign=false")
    for words in (("init", "-q"), ("add", "-A"), ("commit", "-qm", "One")):
        subprocess.run(["git", *name, *words], check=True, capture_output=True, cwd=tmp_path)
    (tmp_path / "radio.toml").write_text("format = 1\n[knobs.lamps]\n", encoding="utf-8")
    subprocess.run(["git", "add", "-A"], check=True, cwd=tmp_path)
    return tmp_path


def test_what_is_staged_is_named_by_whole_paths_where_the_folder_has_a_drive_of_its_own(
    club: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """As where a letter was given to it: git says where it really is, and the command stands elsewhere."""
    staged = ("lint", "--staged", "--format", "json", "radio.toml")
    said = [main([*staged]), [each["file"] for each in json.loads(capsys.readouterr().out)["findings"]]]
    assert said == [1, ["a/one.toml", "b/two.toml"]]
    really = os.path.relpath
    monkeypatch.setattr(
        os.path, "relpath", lambda path, start=os.curdir: (no_way if start == os.curdir else really)(path, start)
    )
    assert [main([*staged]), [each["file"] for each in json.loads(capsys.readouterr().out)["findings"]]] == [
        1, [str(club / "a" / "one.toml"), str(club / "b" / "two.toml")]
    ]  # fmt: skip


def test_names_between_drives_and_with_backslashes(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "sep", "\\")
    monkeypatch.setattr(os, "path", ntpath)
    assert name_from("C:\\club", "C:\\club\\a\\one.toml") == "a/one.toml"
    assert name_from("C:\\club", "D:\\one.toml") == "D:/one.toml"
    assert name_beside("a\\one.toml", "D:/one.toml") == "D:/one.toml"
    assert is_among("a\\b\\one.toml", ["a/b"])
    assert is_among("a\\b\\one.toml", ["a\\"])
    assert not is_among("ab\\one.toml", ["a"])
    assert artifact_location("D:\\the club\\one.toml") == {"uri": "file:///D%3A/the%20club/one.toml"}
    finding = Finding("hold-bypassed", "danger", "", "held", Place(()))
    assert finding.fingerprint("a\\one.toml") == finding.fingerprint("a/one.toml")


def test_a_pattern_that_the_shell_leaves_as_it_was_is_a_pattern(club: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["lint", "--format", "json", "?/*.toml"]) == 1
    assert [each["file"] for each in json.loads(capsys.readouterr().out)["findings"]] == ["a/one.toml", "b/two.toml"]
    (club / "b").rename(club / "b [2]")
    assert main(["lint", "--format", "json", "b [2]/*.toml"]) == 1
    assert [each["file"] for each in json.loads(capsys.readouterr().out)["findings"]] == ["b [2]/two.toml"]
    assert main(["lint", "c*.toml"]) == 2
    assert "cannot read c*.toml" in capsys.readouterr().err
