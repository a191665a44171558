"""Which server the extension runs, and for which texts. A workspace that is not trusted has no say in it."""

from __future__ import annotations

import json
import os
import subprocess
from pathlib import Path
from typing import Any

import pytest

from .conftest import EXTENSION, ROOT

pytestmark = pytest.mark.slow
OTHERS = [
    '[package]\nname = "x"\n[dependencies]\nchannels = "1"\n',
    '[tool.x]\nformat = "1"\nwhen = "a and b"\n',
    "# format = 1\n",
    '[start]\nrequires = "x"\n[field]\nname = "y"\n',
    '[[claims]]\nname = "one"\n',
]


def asked(checkout: Path, cases: list[Any], *given: str) -> list[Any]:
    run = ["node", "test/find.mjs", *given]
    text = "\n".join(json.dumps(each) for each in cases)
    done = subprocess.run(run, cwd=checkout / EXTENSION, input=text, capture_output=True, text=True, check=True)
    return [json.loads(line) for line in done.stdout.splitlines()]


@pytest.fixture
def machine(tmp_path: Path) -> Path:
    """With every place at which a server may be."""
    for name in (
        "set",
        "variable",
        "work/.venv/bin/setuplint",
        "work/bin/setuplint",
        "path/setuplint",
        "own/bin/setuplint",
    ):
        program = tmp_path / name
        program.parent.mkdir(parents=True, exist_ok=True)
        program.write_text("#!/bin/sh\n", encoding="utf-8")
        program.chmod(0o755)
    return tmp_path


def test_the_nearest_to_what_the_user_said_is_taken(checkout: Path, machine: Path) -> None:
    places = {
        "setting": str(machine / "set"),
        "environment": {
            "SETUPLINT_SERVER": str(machine / "variable"),
            "PATH": f"{machine / 'empty'}:{machine / 'path'}",
        },
        "folders": [str(machine / "work")],
        "trusted": True,
        "own": str(machine / "own"),
        "windows": False,
    }
    relative = os.path.relpath(machine / "path", checkout / EXTENSION)  # from where the editor runs: it does not count
    cases = [places]
    cases.append({**cases[-1], "setting": ""})
    cases.append({**cases[-1], "environment": {"PATH": str(machine / "path")}})
    cases.append({**cases[-1], "trusted": False})
    cases.append({**cases[-1], "environment": {"PATH": f"{relative}:{machine / 'work/bin'}"}})
    cases.append({**cases[-1], "own": str(machine / "nowhere")})
    cases.append({**cases[-1], "trusted": True, "folders": []})
    cases.append({**cases[-1], "setting": "setuplint"})
    cases.append({**cases[-1], "setting": str(machine / "gone")})
    found = asked(checkout, cases)
    assert [each and each.get("program", "").removeprefix(f"{machine}/") for each in found] == [
        *("set", "variable", "work/.venv/bin/setuplint", "path/setuplint", "own/bin/setuplint"),
        *(None, "work/bin/setuplint", "", ""),
    ]
    assert "the whole path" in found[-2]["error"]
    assert "there is no such program" in found[-1]["error"]


def test_only_setups_start_it(checkout: Path) -> None:
    setups = [path.read_text(encoding="utf-8") for path in sorted((ROOT / "examples").rglob("*.toml"))]
    setups = [text for text in setups if "\n[channels" in text]
    assert len(setups) > 5
    others = [*OTHERS, (ROOT / "pyproject.toml").read_text(encoding="utf-8")]
    assert asked(checkout, setups + others, "setups") == [True] * len(setups) + [False] * len(others)
