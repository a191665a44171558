"""A club's repository from its first setup to a mended one, with the real git and the real pre-commit.

What gates the commits is the last commit of this repository, installed by pre-commit as a club would have it.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.cli.running import ROOT, environment

SAFE = (ROOT / "examples" / "reference.toml").read_text(encoding="utf-8")
HAZARD = SAFE.replace("priority = 100", "priority = 10")  # the rescue beats the hold
WAIVER = """
[[waivers]]
rule = "hold-bypassed"
on = ["rescue-power"]
reason = "flown from the bench stand alone, blades off"
until = 2027-04-01
"""
CONFIG = """\
edition = 2026
rules = ["club-rules"]
limits.hold-slow.longest = 0.4
"""
CLAIM = """\
signal = "caution"
title = "The tail gyro is in rate mode"
why = "The club's field has no room for a tail that drifts."
remedy = "Put the gyro's gain under 60."
never = "output tail-gain > 60"

[[sources]]
basis = "practice"
says = "the club's own rule"

[[examples]]
speaks = true
edit = { "channels.tail-gain.from" = 61 }

[[examples]]
speaks = false
edit = { "channels.tail-gain.from" = 60 }
"""
HOOKS = """\
default_install_hook_types: [pre-commit, pre-push]
repos:
  - repo: {repository}
    rev: {revision}
    hooks:
      - id: setuplint
        args: [--today, "{today}"]
        verbose: true
"""


class Club:
    """A work tree with a remote, whose commits and pushes the hook looks at."""

    def __init__(self, folder: Path, home: Path) -> None:
        self.folder, self.remote = folder / "club", folder / "remote.git"
        self.environment = environment(
            PRE_COMMIT_HOME=str(home), PRE_COMMIT_COLOR="never", GIT_CONFIG_GLOBAL=os.devnull
        )
        self.remote.mkdir()
        self.folder.mkdir()
        self.ok("git", "init", "-q", "--bare", "-b", "main", str(self.remote))
        self.ok("git", "init", "-q", "-b", "main")
        for key, value in (("user.name", "A pilot"), ("user.email", "pilot@example.invalid")):
            self.ok("git", "config", key, value)
        self.ok("git", "remote", "add", "origin", str(self.remote))

    def run(self, *words: str) -> tuple[int, str]:
        """Status and output, both streams, as one line."""
        done = subprocess.run(
            words, cwd=self.folder, env=self.environment, text=True, stdout=subprocess.PIPE, stderr=subprocess.STDOUT
        )
        return done.returncode, " ".join(done.stdout.split())

    def ok(self, *words: str) -> str:
        status, out = self.run(*words)
        assert status == 0, out
        return out

    def blocked(self, *words: str) -> str:
        status, out = self.run(*words)
        assert status == 1, out
        return out

    def setuplint(self, *words: str) -> tuple[str, ...]:
        return sys.executable, "-m", "setuplint", *words

    def write(self, name: str, text: str) -> None:
        path = self.folder / name
        path.parent.mkdir(exist_ok=True)
        path.write_text(text, encoding="utf-8")
        self.ok("git", "add", "--all")

    def on(self, today: str) -> None:
        """From that day on."""
        revision = subprocess.run(["git", "rev-parse", "HEAD"], cwd=ROOT, capture_output=True, text=True, check=True)
        hooks = HOOKS.format(repository=ROOT, revision=revision.stdout.strip(), today=today)
        self.write(".pre-commit-config.yaml", hooks)

    @property
    def head(self) -> str:
        return self.ok("git", "rev-parse", "HEAD")

    @property
    def pushed(self) -> str:
        return self.ok("git", "--git-dir", str(self.remote), "rev-parse", "main")


@pytest.fixture
def club(tmp_path: Path, pre_commit_home: Path) -> Club:
    return Club(tmp_path, pre_commit_home)


@pytest.mark.slow
def test_a_clubs_year(club: Club) -> None:
    club.write("setuplint.toml", CONFIG)
    club.write("club-rules/tail-calm.toml", CLAIM)
    club.write("craft/wagtail.toml", SAFE)
    club.on("2027-02-01")
    club.ok(sys.executable, "-m", "pre_commit", "install")
    assert "1 rule, 2 examples: all as they say." in club.ok(*club.setuplint("rules-test", "club-rules"))

    # Clean: committed and pushed.
    out = club.ok("git", "commit", "-m", "Wagtail")
    assert "1 setup: nothing found." in out
    assert "Rules: edition 2026, by setuplint.toml." in out
    club.ok("git", "push", "-q", "origin", "main")
    clean = club.head
    assert club.pushed == clean

    # A hazard: the commit is blocked, and past the hook the push is.
    club.write("craft/wagtail.toml", HAZARD)
    out = club.blocked("git", "commit", "-m", "A stronger rescue")
    assert "craft/wagtail.toml:" in out
    assert "danger: Throttle hold does not stop the motor" in out
    assert "On the bench: put hold on, pull save" in out
    assert club.head == clean
    club.ok("git", "commit", "--no-verify", "-m", "A stronger rescue, unseen")
    out = club.blocked("git", "push", "origin", "main")
    assert "[hold-bypassed]" in out
    assert club.pushed == clean
    club.ok("git", "reset", "-q", "--soft", clean)

    # The club's own claim speaks as ours do.
    club.write("craft/wagtail.toml", SAFE.replace("from = 42", "from = 70"))
    assert "caution: The tail gyro is in rate mode" in club.blocked("git", "commit", "-m", "A livelier tail")

    # Waived, with a reason: committed, pushed, and counted where everybody sees it.
    club.write("craft/wagtail.toml", HAZARD + WAIVER)
    out = club.ok("git", "commit", "-m", "A stronger rescue, on the stand")
    assert "Waived: 1 (hold-bypassed 1)." in out
    assert "until 2027-04-01: flown from the bench stand alone, blades off" in out
    assert "its last day is" not in out
    club.ok("git", "push", "-q", "origin", "main")
    waived = club.head
    assert club.pushed == waived

    # An audit sees through it.
    audit = club.blocked(*club.setuplint("lint", ".", "--no-waivers", "--today", "2027-02-01"))
    assert "Waivers hide nothing here: 1 finding is waived." in audit

    # A month ahead the end is announced, and fails nothing; a day after it both are findings.
    club.on("2027-03-20")
    out = club.ok(sys.executable, "-m", "pre_commit", "run", "--all-files")
    assert "holds until 2027-04-01: its last day is in 12 days." in out
    club.on("2027-04-02")
    out = club.blocked(sys.executable, "-m", "pre_commit", "run", "--all-files")
    assert "[waiver-expired]" in out
    assert "[hold-bypassed]" in out

    # Mended by the remedy, the waiver taken out: committed and pushed again.
    out = club.blocked(*club.setuplint("lint", "craft", "--fix", "--write", "--today", "2027-04-02"))
    assert "1 remedy applied" in out
    assert "it hides nothing now, and can go" in out
    mended = (club.folder / "craft" / "wagtail.toml").read_text(encoding="utf-8")
    assert mended == HAZARD.replace("priority = 10 ", "priority = 51 ") + WAIVER
    club.write("craft/wagtail.toml", mended.removesuffix(WAIVER))
    assert "1 setup: nothing found." in club.ok("git", "commit", "-m", "The hold beats the rescue")
    club.ok("git", "push", "-q", "origin", "main")
    assert club.pushed == club.head

    # Compared, by meaning: with the waived one it stops the motor again, with the first of all it is the same craft.
    out = club.blocked(*club.setuplint("compare", "--since", waived))
    assert f"craft/wagtail.toml ({waived}) -> craft/wagtail.toml: 2 differences; 1 danger gone." in out
    assert "motor: +55 % (77.5 of 100, 1775 µs) before, -100 % (0 of 100, 1000 µs) now" in out
    assert "try: put hold on, pull save" in out
    assert "waiver of hold-bypassed" in out
    assert "the same behaviour" in club.ok(*club.setuplint("compare", "--since", clean))
