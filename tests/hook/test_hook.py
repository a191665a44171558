"""The pre-commit hook, by the real git and the real pre-commit: neither is optional here.

It takes the last commit of this repository, so what is tried is what is committed.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent.parent
HAZARD = ROOT / "examples" / "hazards" / "rescue-beats-hold.toml"
SAFE = ROOT / "examples" / "reference.toml"
pytestmark = pytest.mark.slow


@pytest.fixture
def club(tmp_path: Path) -> Path:
    """A scratch repository with a file that is no setup."""
    git(tmp_path, "init", "-q")
    (tmp_path / "tools.toml").write_text('[project]\nname = "club"\n', encoding="utf-8")
    return tmp_path


def git(folder: Path, *args: str) -> None:
    subprocess.run(["git", *args], cwd=folder, check=True, env=os.environ | {"GIT_CONFIG_GLOBAL": os.devnull})


def hook(club: Path, home: Path, name: str = "setuplint") -> subprocess.CompletedProcess[str]:
    head = subprocess.run(["git", "rev-parse", "HEAD"], cwd=ROOT, capture_output=True, text=True, check=True)
    config = f"repos: [{{repo: '{ROOT}', rev: {head.stdout.strip()}, hooks: [{{id: {name}}}]}}]\n"
    (club / ".pre-commit-config.yaml").write_text(config, encoding="utf-8")
    git(club, "add", ".")
    return subprocess.run(
        [sys.executable, "-m", "pre_commit", "run", name, "--all-files", "--verbose"],
        cwd=club,
        env=os.environ | {"PRE_COMMIT_HOME": str(home), "PRE_COMMIT_COLOR": "never"},
        text=True,
        capture_output=True,
    )


def test_a_hazardous_setup_stops_the_commit_and_a_safe_one_does_not(club: Path, pre_commit_home: Path) -> None:
    shutil.copy(SAFE, club / "wagtail.toml")
    shutil.copy(HAZARD, club / "firecrest.toml")
    failed = hook(club, pre_commit_home)
    assert failed.returncode == 1, failed.stdout + failed.stderr
    assert "exit code: 1" in failed.stdout
    assert "firecrest.toml:" in failed.stdout
    assert "danger: " in failed.stdout
    assert "[hold-bypassed]" in failed.stdout
    assert "2 setups:" in failed.stdout
    assert "Passed over: 1 other TOML file" in failed.stdout

    (club / "firecrest.toml").unlink()
    passed = hook(club, pre_commit_home)
    assert passed.returncode == 0, passed.stdout + passed.stderr
    assert "1 setup: nothing found." in passed.stdout
    assert "Passed" in passed.stdout


def test_a_commit_without_setups_passes(club: Path, pre_commit_home: Path) -> None:
    done = hook(club, pre_commit_home)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "0 setups: nothing was checked." in done.stdout


def test_what_a_commit_changes_is_told_from_the_first_one_on(club: Path, pre_commit_home: Path) -> None:
    shutil.copy(SAFE, club / "wagtail.toml")
    first = hook(club, pre_commit_home, "setuplint-compare")
    assert first.returncode == 0, first.stdout + first.stderr
    assert "wagtail.toml is new" in first.stdout


def test_taking_a_shared_part_away_does_not_pass_unseen(club: Path, pre_commit_home: Path) -> None:
    """pre-commit hands on no files of such a commit, so a hook that waits for some would be skipped."""
    for name in ("plover.toml", "club-radio.toml"):
        shutil.copy(ROOT / "examples" / name, club / name)
    git(club, "add", ".")
    git(club, "-c", "user.name=A", "-c", "user.email=a@example.invalid", "commit", "-qm", "One")
    (club / "club-radio.toml").unlink()
    failed = hook(club, pre_commit_home, "setuplint-compare")
    assert failed.returncode == 1, failed.stdout + failed.stderr
    assert "there is no file club-radio.toml" in failed.stdout
