"""The hooks in the ways by which a change comes into a repository: a commit, a merge, a rebase, a push, and past all of them.

By the real git and the real pre-commit. Where nothing runs, what a pipeline runs has to catch it: that is run here too.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.cli.running import REFERENCE, ROOT, Ran, process
from tests.club.git import git
from tests.club.made import HAZARD, claim, write

pytestmark = pytest.mark.slow
HOOKS = ("setuplint", "setuplint-compare", "setuplint-rules")
KINDS = ("pre-commit", "pre-merge-commit", "pre-push")
WEAK_HOLD = REFERENCE.replace("priority = 100 ", "priority = 60 ")  # each alone is safe
STRONG_RESCUE = REFERENCE.replace("priority = 50\n", "priority = 80\n", 1)
SPEAKS = '[[examples]]\nspeaks = true\nedit = { "channels.tail-gain.from" = 61 }\n'
SILENT = '[[examples]]\nspeaks = false\nedit = { "channels.tail-gain.from" = 60 }\n'


class Club:
    """A repository with all hooks, and a bare one that it pushes to: they know each other by where they stand together."""

    def __init__(self, folder: Path, home: Path) -> None:
        self.work, self.home = folder / "club", home

    def begin(self) -> None:
        self.work.mkdir()
        git(self.work.parent, "init", "-q", "--bare", "origin.git")
        git(self.work, "init", "-q")
        git(self.work, "remote", "add", "origin", "../origin.git")
        for key, value in (("user.name", "A pilot"), ("user.email", "pilot@example.invalid")):
            git(self.work, "config", key, value)
        head = git(ROOT, "rev-parse", "HEAD").strip()
        hooks = "".join(f"      - id: {name}\n" for name in HOOKS)
        config = f"repos:\n  - repo: '{ROOT}'\n    rev: {head}\n    hooks:\n{hooks}"
        write(self.work, {".pre-commit-config.yaml": config, "wagtail.toml": REFERENCE})
        self.past_all("one")
        git(self.work, "push", "-q", "--no-verify", "-u", "origin", "main")
        kinds = [word for kind in KINDS for word in ("-t", kind)]
        done = self.run(sys.executable, "-m", "pre_commit", "install", *kinds)
        assert done.status == 0, done.err

    def run(self, *words: str) -> Ran:
        environment = os.environ | {
            "PRE_COMMIT_HOME": str(self.home), "PRE_COMMIT_COLOR": "never", "GIT_CONFIG_GLOBAL": os.devnull,
            "GIT_EDITOR": "true",
        }  # fmt: skip
        done = subprocess.run(
            words, cwd=self.work, env=environment, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
        )
        return Ran(done.returncode, done.stdout, "")

    def git(self, *words: str) -> Ran:
        return self.run("git", *words)

    def commit(self, *words: str, **files: str) -> Ran:
        """Some files, staged and committed as a pilot does it. In their names a point is written as _."""
        for name, text in files.items():
            write(self.work, {name.replace("__", "/").replace("_", "."): text})
            self.git("add", name.replace("__", "/").replace("_", "."))
        return self.git("commit", "-m", "more", *words)

    def past_all(self, message: str) -> None:
        git(self.work, "add", "-A")
        git(self.work, "commit", "-q", "--no-verify", "-m", message)

    def pipeline(self, *words: str) -> Ran:
        return process(*words, cwd=self.work)


@pytest.fixture(scope="module")
def begun(tmp_path_factory: pytest.TempPathFactory, pre_commit_home: Path) -> Path:
    folder = tmp_path_factory.mktemp("begun")
    Club(folder, pre_commit_home).begin()
    return folder


@pytest.fixture
def club(begun: Path, tmp_path: Path, pre_commit_home: Path) -> Club:
    shutil.copytree(begun, tmp_path, dirs_exist_ok=True)
    return Club(tmp_path, pre_commit_home)


def test_a_commit(club: Club) -> None:
    """What is staged is judged, and nothing else: not a hazard that git does not know, nor one in a later edit."""
    write(club.work, {"untracked.toml": HAZARD})
    calm = club.commit(wagtail_toml=REFERENCE.replace("value = 55\n", "value = 60\n", 1))
    assert calm.status == 0, calm.out
    assert "untracked" not in calm.out
    assert "wagtail.toml (HEAD) -> wagtail.toml: 1 difference." in calm.words
    failed = club.commit(wagtail_toml=HAZARD)
    assert failed.status == 1
    assert failed.out.count("[hold-bypassed]") == 2, "both hooks"
    write(club.work, {"wagtail.toml": REFERENCE})
    assert club.git("commit", "-qm", "still staged").status == 1
    waived = f'{HAZARD}[[waivers]]\nrule = "hold-bypassed"\nreason = "the bench stand"\nuntil = 2099-01-01\n'
    passed = club.commit(wagtail_toml=waived)
    assert passed.status == 0, passed.out
    assert "waived: until 2099-01-01: the bench stand" in passed.words


def test_a_baseline_that_grows_stops_compare_once_and_then_neither(club: Club) -> None:
    write(club.work, {"setuplint.toml": 'baseline = "known.jsonl"', "wagtail.toml": HAZARD})
    assert club.pipeline("lint", ".", "--baseline-write", "grow").status == 0
    git(club.work, "add", "-A")
    failed = club.git("commit", "-m", "an old hazard")
    assert failed.status == 1
    assert failed.out.count("Failed") == 1
    assert "danger: put into the baseline, so that it fails no more: hold-bypassed" in failed.words
    club.past_all("as its owner wants it")
    passed = club.commit(wagtail_toml=HAZARD.replace("value = 55\n", "value = 60\n", 1))
    assert passed.status == 0, passed.out


def test_rules_are_tested_where_they_change(club: Club) -> None:
    write(club.work, {"setuplint.toml": 'rules = ["club-rules"]'})
    git(club.work, "add", "-A")
    rule = claim("output tail-gain > 60")
    failed = club.commit(**{"club-rules__calm_toml": rule + SPEAKS})
    assert failed.status == 1
    assert "there is no example on which it is silent" in failed.words
    passed = club.commit(**{"club-rules__calm_toml": rule + SPEAKS + SILENT})
    assert passed.status == 0, passed.out
    assert "the rule calm is new" in passed.words
    weaker = club.commit(
        **{"club-rules__calm_toml": rule.replace("> 60", "> 70") + SPEAKS.replace("61", "71") + SILENT}
    )
    assert weaker.status == 1
    assert (
        "caution: the rule calm says never output tail-gain > 70 now, and said never output tail-gain > 60"
        in weaker.words
    )


def parted(club: Club) -> None:
    """Two branches, each safe."""
    git(club.work, "checkout", "-q", "-b", "hold")
    assert club.commit(wagtail_toml=WEAK_HOLD).status == 0
    git(club.work, "checkout", "-q", "main")
    assert club.commit(wagtail_toml=STRONG_RESCUE).status == 0


def test_a_merge_of_two_that_are_safe(club: Club) -> None:
    parted(club)
    failed = club.git("merge", "--no-edit", "hold")
    assert failed.status == 1, failed.out
    assert failed.out.count("[hold-bypassed]") == 2
    assert club.git("rev-parse", "HEAD^2").status != 0, "the merge is not committed"


def test_a_rebase_runs_no_hook_and_a_push_does(club: Club) -> None:
    parted(club)
    assert club.git("checkout", "-q", "hold").status == 0
    assert club.git("rebase", "main").status == 0
    assert "[hold-bypassed]" in club.pipeline("lint", ".").out
    pushed = club.git("push", "origin", "hold")
    assert pushed.status == 1, pushed.out
    assert pushed.out.count("[hold-bypassed]") == 2, "both hooks"
    compared = club.pipeline("compare", "--since", "main", "--fail-on", "caution")
    assert (compared.status, "1 danger gained" in compared.words) == (1, True)


def test_past_all_hooks_the_pipeline_catches_it(club: Club) -> None:
    assert club.commit("--no-verify", wagtail_toml=HAZARD).status == 0
    assert club.git("push", "-q", "--no-verify", "origin", "HEAD:change").status == 0
    later = club.commit(**{"notes_md": "nothing about setups\n"})
    assert later.status == 0, "the hooks look at the commit that is made"
    linted = club.pipeline("lint", ".", "--policy", "origin/main")
    assert (linted.status, linted.out.count("[hold-bypassed]")) == (1, 1)
    compared = club.pipeline("compare", "--since", "origin/main", "--policy", "origin/main", "--fail-on", "caution")
    assert compared.status == 1
    assert "wagtail.toml (origin/main) -> wagtail.toml: 1 difference; 1 danger gained." in compared.words
