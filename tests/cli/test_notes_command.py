"""`setuplint notes`, and the same sentences on the card and in the report."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

import setuplint
from tests.cli.running import ROOT, Command

TEXT = (ROOT / "examples" / "reference.toml").read_text(encoding="utf-8")


def test_the_command(command: Command, tmp_path: Path) -> None:
    path = tmp_path / "wagtail.toml"
    path.write_text(TEXT, encoding="utf-8")
    done = command("notes", str(path))
    assert (done.status, done.err) == (0, "")
    assert "What stops the motor\n  - Put hold on: the motor stops, from every state, at once.\n" in done.out
    data = json.loads(command("notes", str(path), "--format", "json").out)
    assert [note["text"] for note in data["notes"]] == [
        text.text.replace("\u00a0", " ") for text in setuplint.load_text(TEXT).notes()
    ]
    assert {"asked": "hold is on and motor runs", "answer": "impossible"} in data["notes"][2]["basis"]
    assert (
        "## A knock on a sprung switch\n\n- A knock on save" in command("notes", str(path), "--format", "markdown").out
    )
    page = tmp_path / "notes.html"
    assert command("notes", str(path), "--out", str(page)).status == 0
    assert page.read_text(encoding="utf-8").startswith("<!doctype html>")


@pytest.mark.parametrize("words", [("bench-card",), ("report",)])
def test_card_and_report_have_them(command: Command, tmp_path: Path, words: tuple[str, ...]) -> None:
    path = tmp_path / "wagtail.toml"
    path.write_text(TEXT, encoding="utf-8")
    done = command(*words, str(path))
    assert "Good to know" in done.out
    assert "the motor stops, from every state, at once." in done.out
