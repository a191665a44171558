"""Fixtures for tests of the command."""

from __future__ import annotations

import io
import sys
from pathlib import Path

import pytest

from setuplint.cli import main
from tests.cli.running import ROOT, Command, Ran, process
from tests.once import alone


@pytest.fixture
def command(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Command:
    """Runs `setuplint` with arguments; `stdin` gives it bytes to read."""

    def run(*args: str | Path, stdin: bytes = b"") -> Ran:
        monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(stdin)))
        try:
            status = main([str(arg) for arg in args])
        except SystemExit as stopped:
            status = int(stopped.code or 0)
        out, err = capsys.readouterr()
        return Ran(status, out, err)

    return run


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty folder to work in."""
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture(scope="session")
def examples_as_json(shared: Path) -> Ran:
    """What `lint examples` prints as JSON, asked once for all processes of this run."""
    made = shared / "examples"
    made.mkdir(exist_ok=True)
    with alone(made):
        if not (made / "json").exists():
            done = process("lint", "--format", "json", "examples", seed="0", cwd=ROOT)
            (made / "err").write_text(done.err, encoding="utf-8")
            (made / "status").write_text(str(done.status), encoding="utf-8")
            (made / "json").write_text(done.out, encoding="utf-8")
    out, err, status = ((made / name).read_text(encoding="utf-8") for name in ("json", "err", "status"))
    return Ran(int(status), out, err)
