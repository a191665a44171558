"""What docs/guide.md shows is what happens, in its order, on the example that it has copied."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path

from setuplint.cli.options import COMMANDS

ROOT = Path(__file__).parent.parent
GUIDE = (ROOT / "docs" / "guide.md").read_text(encoding="utf-8")


def test_the_runs_that_are_shown_are_real_ones(tmp_path: Path) -> None:
    shutil.copy(ROOT / "examples" / "hazards" / "rescue-beats-hold.toml", tmp_path / "my-craft.toml")
    runs = re.findall(r"^```text\n\$ setuplint (.*)\n((?s:.*?))^```$", GUIDE, re.MULTILINE)
    assert len(runs) == 6
    for words, shown in runs:
        done = subprocess.run(
            [sys.executable, "-m", "setuplint", *words.split()], cwd=tmp_path, capture_output=True, encoding="utf-8"
        )
        assert re.fullmatch(pattern(shown), done.stdout), (words, done.stdout, done.stderr)


def pattern(shown: str) -> str:
    """What is shown, with anything where dots stand and anything after it."""
    return re.escape(shown).replace(re.escape("..."), r"(?s:.*?)") + r"(?s:.*)"


def test_the_commands_it_names_exist() -> None:
    named = set(re.findall(r"`setuplint ([a-z-]+)", GUIDE))
    assert named <= {command.name for command in COMMANDS}
    assert len(named) > 7


def test_its_links_lead_somewhere() -> None:
    for page in ("guide.md", "cookbook.md"):
        text = (ROOT / "docs" / page).read_text(encoding="utf-8")
        for name, _, mark in (link.partition("#") for link in re.findall(r"\]\(([^):]+)\)", text)):
            target = ROOT / "docs" / name
            assert target.exists(), name
            if mark:
                assert mark in anchors(target), (name, mark)


def anchors(page: Path) -> set[str]:
    headings = re.findall(r"^#+ (.*)$", page.read_text(encoding="utf-8"), re.MULTILINE)
    return {re.sub(r"[^a-z0-9 -]", "", heading.lower()).replace(" ", "-") for heading in headings}
