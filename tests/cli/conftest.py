"""Fixtures for tests of the command."""

from __future__ import annotations

import io
import sys
from pathlib import Path

import pytest

from setuplint.cli import main
from tests.cli.running import Command, Ran


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
