"""`bench-card --since`: a file, or a revision of git's."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest

from tests.cli.running import ROOT, Command

TEXT = (ROOT / "examples" / "reference.toml").read_text(encoding="utf-8")


def git(folder: Path, *words: str) -> None:
    name = ("-c", "user.name=A", "-c", "user.email=a@example.org")
    subprocess.run(["git", *name, *words], cwd=folder, check=True, capture_output=True)


@pytest.mark.slow
def test_a_file_and_a_revision_give_the_same_boxes(command: Command, folder: Path) -> None:
    Path("wagtail.toml").write_text(TEXT, encoding="utf-8")
    Path("before.toml").write_text(TEXT, encoding="utf-8")
    git(Path(), "init", "-q", "-b", "main")
    git(Path(), "add", "wagtail.toml")
    git(Path(), "commit", "-q", "-m", "Wagtail")
    Path("wagtail.toml").write_text(TEXT.replace("value = 55", "value = 60"), encoding="utf-8")
    cards = [command("bench-card", "wagtail.toml", "--since", old).out for old in ("before.toml", "HEAD")]
    assert "Changed in the file: overrides.rescue-power." in cards[0]
    assert "Left out, for they read the same by both: 2 to 6," in cards[0]
    heads = [[line for line in card.splitlines() if line.startswith("- [ ]")] for card in cards]
    assert heads[0] == heads[1] != []


def test_what_is_neither_is_said(command: Command, folder: Path) -> None:
    Path("wagtail.toml").write_text(TEXT, encoding="utf-8")
    done = command("bench-card", "wagtail.toml", "--since", "nowhere.toml")
    assert done.status == 2
    assert "there is no file nowhere.toml, and as a revision: " in done.err


def test_a_card_without_boxes_names_none(command: Command, folder: Path) -> None:
    Path("wagtail.toml").write_text(TEXT, encoding="utf-8")
    out = command("bench-card", "wagtail.toml", "--since", "wagtail.toml").out
    assert "0 boxes, of what is not as in wagtail.toml" in out
    assert "as in box" not in out
