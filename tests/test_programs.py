"""A test whose program is missing: skipped with the line that brings it, but in CI failed."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests import programs
from tests.programs import PACKAGES, program

SCRIPT = Path(__file__).parent.parent / ".ci" / "run"


@pytest.fixture
def bare(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> pytest.MonkeyPatch:
    """A machine that has none of them."""
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.delenv("CI", raising=False)
    return monkeypatch


@pytest.mark.usefixtures("bare")
@pytest.mark.parametrize("name", PACKAGES)
def test_without_its_program_a_test_is_skipped_and_says_what_brings_it(name: str) -> None:
    with pytest.raises(pytest.skip.Exception, match=f"^{name} is not here: apt-get install {PACKAGES[name]}$"):
        program(name)


@pytest.mark.parametrize("name", PACKAGES)
def test_in_ci_it_fails(name: str, bare: pytest.MonkeyPatch) -> None:
    bare.setenv("CI", "true")
    with pytest.raises(pytest.fail.Exception, match=f"apt-get install {PACKAGES[name]}$"):
        program(name)


def test_a_program_that_is_there_is_found(bare: pytest.MonkeyPatch, tmp_path: Path) -> None:
    path = tmp_path / "nvim"
    path.write_text("#!/bin/sh\n", encoding="utf-8")
    path.chmod(0o755)
    assert program("nvim") == str(path)


def test_the_editor_in_a_browser_is_brought_by_a_script(bare: pytest.MonkeyPatch, tmp_path: Path) -> None:
    line = "sh tests/vscode/code-server.sh"
    assert (SCRIPT.parent.parent / line.split()[1]).exists()
    bare.setattr(programs, "CODE_SERVER", tmp_path)
    with pytest.raises(pytest.skip.Exception, match=f"^code-server is not here: {line}$"):
        programs.code_server()
    bare.setenv("CI", "true")
    with pytest.raises(pytest.fail.Exception, match=f"{line}$"):
        programs.code_server()


def test_ci_installs_them_all() -> None:
    script = SCRIPT.read_text(encoding="utf-8")
    assert "run sh tests/vscode/code-server.sh\n" in script
    for name, package in PACKAGES.items():
        assert f"[{name}]={package}" in script
