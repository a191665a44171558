"""A scratch repository of setups: a hidden `.git`, files by their names."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.running import ROOT

REFERENCE = (ROOT / "examples" / "reference.toml").read_text(encoding="utf-8")
HAZARD = REFERENCE.replace("priority = 100", "priority = 10")  # the rescue beats the hold
CLAIM = """\
signal = "{signal}"
title = "{title}"
why = "The club says so."
remedy = "Do as the club says."
{kind} = "{formula}"

[[sources]]
basis = "practice"
says = "so"
"""


def claim(
    formula: str = "output motor > 60", kind: str = "never", signal: str = "caution", title: str = "Too strong"
) -> str:
    return CLAIM.format(signal=signal, title=title, kind=kind, formula=formula)


def write(folder: Path, files: dict[str, str]) -> None:
    for name, text in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")


@pytest.fixture
def club(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A work tree with one safe setup; the test works in it."""
    folder = tmp_path / "club"
    write(folder, {"wagtail.toml": REFERENCE})
    (folder / ".git").mkdir()
    monkeypatch.chdir(folder)
    return folder
