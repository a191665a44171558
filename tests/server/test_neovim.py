"""A real editor: Debian's neovim with our settings, driven by keys."""

from __future__ import annotations

import json
import os
import subprocess
from pathlib import Path
from typing import Any

import pytest

import setuplint
from tests.programs import program

from .conftest import COMMAND, REFERENCE, ROOT

HERE = Path(__file__).parent
NOTE = "# 🚁 Wagtail, ündern\n"


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    editor = program("nvim")
    folder = tmp_path_factory.mktemp("editor")
    file = folder / "wagtail.toml"
    file.write_text(NOTE + REFERENCE, encoding="utf-8")
    environment = os.environ | {
        "SETUPLINT_TOLD": str(folder / "told.json"),
        "SETUPLINT_FILE": str(file),
        "SETUPLINT_COMMAND": json.dumps(COMMAND),
        "SETUPLINT_SETTINGS": str(ROOT / "examples" / "editors" / "neovim.lua"),
        "XDG_STATE_HOME": str(folder),
        "XDG_DATA_HOME": str(folder),
        "XDG_CACHE_HOME": str(folder),
    }
    run = [editor, "--headless", "-u", "NONE", "-i", "NONE", "-n", "-c", f"luafile {HERE / 'neovim.lua'}"]
    done = subprocess.run(run, cwd=ROOT, env=environment, capture_output=True, timeout=120)
    found: dict[str, Any] = json.loads((folder / "told.json").read_text(encoding="utf-8"))
    assert "problem" not in found, f"{found['problem']}\n{done.stderr.decode()}"
    return found | {step["name"]: step for step in found["steps"]}


@pytest.mark.slow
def test_a_hazard_is_seen_as_it_is_typed(told: dict[str, Any]) -> None:
    (found,) = told["typed"]["found"]
    assert found["code"] == "hold-bypassed"
    assert found["text"] == "[overrides.rescue-power]"
    assert "the motor channel gives +55 %" in found["message"]
    assert found["severity"] == 1
    text = "\n".join(told["typed"]["lines"])
    assert [x.rule for x in setuplint.lint_text(text).findings] == ["hold-bypassed"]


def test_what_is_wrong_and_what_can_be_tried_stand_in_the_text(told: dict[str, Any]) -> None:
    assert "the motor channel gives +55 %" in told["typed"]["words"]
    assert "try override rescue-power here" in told["typed"]["words"]
    assert "the motor channel" not in told["mended"]["words"]


def test_a_status_line_has_what_it_comes_to(told: dict[str, Any]) -> None:
    assert (told["typed"]["status"], told["mended"]["status"]) == ("1 danger", "nothing found")


def test_an_unfinished_line_leaves_it_there(told: dict[str, Any]) -> None:
    found = {each["code"]: each["text"] for each in told["unfinished"]["found"]}
    assert found.keys() == {"hold-bypassed", "not-toml"}
    assert found["hold-bypassed"] == "[overrides.rescue-power]"


def test_hover_tells_of_the_key(told: dict[str, Any]) -> None:
    assert "The highest decides" in told["hover"]


def test_the_remedy_is_taken(told: dict[str, Any]) -> None:
    assert told["actions"][0].startswith("set overrides.held.priority = ")
    assert told["mended"]["found"] == []
    text = "\n".join(told["mended"]["lines"])
    assert text.startswith(NOTE)
    assert setuplint.lint_text(text).findings == ()
