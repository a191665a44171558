"""What is added to the product is added in one place: each of these is made in a copy, and the files that had to change are
counted. `rules/README.md` is made by a command, and is not one of them."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.new_rule import ROOT, lay_out


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """The product by itself, in a folder of its own."""
    for name in ("setuplint", "rules", "examples"):
        shutil.copytree(ROOT / name, tmp_path / name, ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    return tmp_path


def contents(root: Path) -> dict[str, bytes]:
    return {str(path.relative_to(root)): path.read_bytes() for path in root.rglob("*") if path.is_file()}


def changed(before: dict[str, bytes], root: Path) -> list[str]:
    now = contents(root)
    return sorted(name for name in before.keys() | now.keys() if before.get(name) != now.get(name))


def run(root: Path, *words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-B", "-m", "setuplint", *words], cwd=root, env={"PYTHONPATH": str(root), "PATH": ""},
        capture_output=True, text=True, check=False,
    )  # fmt: skip


@pytest.mark.parametrize(("module", "count"), [("", 1), ("overrides", 2)])
def test_a_rule(module: str, count: int, copy: Path) -> None:
    before = contents(copy)
    lay_out("hold-outranked", module, copy)
    assert len(changed(before, copy)) == count
    assert "hold-outranked" in run(copy, "explain").stdout
    text = (copy / "examples" / "reference.toml").read_text(encoding="utf-8")
    (copy / "broken.toml").write_text(text.replace("priority = 100", "priority = 10"), encoding="utf-8")
    assert "[hold-outranked]" in run(copy, "lint", "broken.toml", "--fail-on", "notice").stdout


def test_a_rule_that_is_there_is_not_written_over(copy: Path) -> None:
    with pytest.raises(ValueError, match="there is a rule hold-slow already"):
        lay_out("hold-slow", "", copy)
    with pytest.raises(ValueError, match="no module nowhere"):
        lay_out("hold-outranked", "nowhere", copy)
