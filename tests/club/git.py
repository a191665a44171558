"""Real git in a scratch repository, whatever is set on the machine."""

from __future__ import annotations

import os
import subprocess
from pathlib import Path

WHO = ("-c", "user.name=A pilot", "-c", "user.email=pilot@example.invalid", "-c", "commit.gpgsign=false")


def git(folder: Path, *words: str, fails: bool = False) -> str:
    """What it writes, its complaints too. `fails`: it must."""
    environment = os.environ | {"GIT_CONFIG_GLOBAL": os.devnull, "GIT_CONFIG_SYSTEM": os.devnull, "LC_ALL": "C"}
    done = subprocess.run(
        ["git", *WHO, "-c", "init.defaultBranch=main", *words],
        cwd=folder, env=environment, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
    )  # fmt: skip
    assert bool(done.returncode) is fails, done.stdout
    return done.stdout


def commit(folder: Path, message: str = "more") -> None:
    git(folder, "add", "-A")
    git(folder, "commit", "-q", "--no-verify", "-m", message)
