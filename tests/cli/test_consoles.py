"""What is otherwise on Windows, as far as it can be tried elsewhere: the console's characters, processes, files that are open."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from setuplint.cli import whole_files
from setuplint.club.baseline import Baseline
from setuplint.club.git_files import files_at

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


@pytest.mark.parametrize("words", [("sheet", "--format", "html"), ("bench-card",), ("report",)])
def test_a_page_is_utf_8_as_it_says_whatever_the_console_is(words: tuple[str, ...]) -> None:
    command, *more = words
    assert written("cp1252", command, "reference.toml", *more) == written("utf-8", command, "reference.toml", *more)


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


def test_no_path_leads_from_one_drive_to_another(monkeypatch: pytest.MonkeyPatch) -> None:
    files = files_at(str(ROOT), "HEAD")
    assert files.name(str(EXAMPLES / "reference.toml")) == "examples/reference.toml"

    def relpath(path: str, start: str) -> str:
        raise ValueError(f"path is on mount 'D:', start on mount 'C:': {path}, {start}")

    monkeypatch.setattr(os.path, "relpath", relpath)
    assert files.name(str(EXAMPLES / "reference.toml")) is None
    assert Baseline(str(ROOT / "known.jsonl")).of(Baseline("known.jsonl").key(str(EXAMPLES / "reference.toml"))) == []
