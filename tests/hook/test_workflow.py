"""The workflow of examples/ci: its steps, run by bash as a host would, in clones as a host makes them. What is not ours stands
in: pip installs nothing, and the host's own command writes down what it is asked."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
import yaml

ROOT = Path(__file__).parent.parent.parent
WORKFLOW = ROOT / "examples" / "ci" / "setups.yml"
OWNERS = ROOT / "examples" / "ci" / "CODEOWNERS"
HAZARD = (ROOT / "examples" / "hazards" / "rescue-beats-hold.toml").read_text(encoding="utf-8")
SAFE = (ROOT / "examples" / "reference.toml").read_text(encoding="utf-8")
CHOICE = re.compile(r"\$\{\{ github\.event_name == 'pull_request' && '(.*)' \|\| (.*) \}\}")
OUTPUT = re.compile(r"\$\{\{ steps\.(\w+)\.outputs\.(\w+)(?: \|\| '(.*)')? \}\}")
STATED = ["Findings", "Differences", "Page"]
CLUB_RULE = """\
signal = "danger"
title = "The gyro's gain is high"
why = "a test"
remedy = "a test"
never = "output tail-gain > 90"
[[examples]]
speaks = true
edit = {{ "channels.tail-gain.from" = {gain} }}
"""

Object = dict[str, Any]
Files = dict[str, str | None]  # what they hold; None: they go


def git(folder: Path, *words: str) -> str:
    name = ("-c", "user.name=A pilot", "-c", "user.email=pilot@example.invalid", "-c", "commit.gpgsign=false")
    done = subprocess.run(["git", "-C", folder, *name, *words], check=True, capture_output=True, text=True)
    return done.stdout.strip()


class Host:
    """A repository, and a runner that clones it and runs the steps of the job as they come, until one fails."""

    def __init__(self, folder: Path) -> None:
        self.origin, self.work, self.temp = folder / "origin", folder / "work", folder / "temp"
        self.summary, self.asked, self.outputs = folder / "step-summary.md", folder / "asked.txt", folder / "outputs"
        self.log = ""
        programs = folder / "bin"
        for each in (self.origin, self.temp, programs):
            each.mkdir()
        self.program(programs / "setuplint", f'exec "{Path(sys.executable).parent / "setuplint"}" "$@"')
        self.program(programs / "gh", f'printf "%s\\n" "$@" > "{self.asked}"')
        self.environment = {
            "PATH": f"{programs}{os.pathsep}{os.environ['PATH']}", "RUNNER_TEMP": str(self.temp),
            "GITHUB_STEP_SUMMARY": str(self.summary), "GITHUB_REPOSITORY": "club/setups", "LANG": "C.UTF-8",
            "GITHUB_OUTPUT": str(self.outputs), "GITHUB_SERVER_URL": "https://host.example",
        }  # fmt: skip
        git(self.origin, "init", "-q", "-b", "main")
        git(self.origin, "config", "uploadpack.allowAnySHA1InWant", "true")

    def program(self, path: Path, line: str) -> None:
        path.write_text(f"#!/bin/sh\n{line}\n", encoding="utf-8")
        path.chmod(0o755)

    def commit(self, files: Files) -> str:
        for name, text in files.items():
            path = self.origin / name
            path.parent.mkdir(parents=True, exist_ok=True)
            if text is None:
                path.unlink()
            else:
                path.write_text(text, encoding="utf-8")
        git(self.origin, "add", "-A", "-f")
        git(self.origin, "commit", "-q", "--allow-empty", "-m", "A change")
        return git(self.origin, "rev-parse", "HEAD")

    def pull_request(self, base: Files, change: Files, then: Files | None = None) -> str:
        """The merge commit of a branch that changes what main has, main having gone on with `then` meanwhile."""
        self.commit(base)
        git(self.origin, "checkout", "-q", "-b", "change")
        self.commit(change)
        git(self.origin, "checkout", "-q", "main")
        self.commit(then or {})
        git(self.origin, "checkout", "-q", "--detach", "main")
        git(self.origin, "merge", "-q", "--no-ff", "-m", "The host's merge", "change")
        return git(self.origin, "rev-parse", "HEAD")

    def clone(self, commit: str, depth: int) -> None:
        """As the host's checkout does; 0 is everything."""
        shutil.rmtree(self.work, ignore_errors=True)
        self.work.mkdir()
        git(self.work, "init", "-q")
        git(self.work, "remote", "add", "origin", self.origin.as_uri())
        branches = [] if depth else ["+refs/heads/*:refs/remotes/origin/*"]
        deep = [f"--depth={depth}"] if depth else []
        git(self.work, "fetch", "-q", "--no-tags", *deep, "origin", *branches, f"+{commit}:refs/remotes/pull/7/merge")
        git(self.work, "checkout", "-q", "--detach", commit)

    def run(
        self, commit: str, before: str = "", *, depth: int | None = None, rules: str = ""
    ) -> tuple[list[str], list[str]]:
        """The names of the steps that passed, and of the one that failed. With `before` it is a push, else a pull request."""
        self.clone(commit, fetch_depth() if depth is None else depth)
        self.outputs.write_text("", encoding="utf-8")
        told: dict[str, str] = {}
        given = {key: self.value(text, before, told) for key, text in job()["env"].items()}
        given |= {"GITHUB_SHA": commit, "RULES": rules}
        passed: list[str] = []
        for step in job()["steps"]:
            skipped = (step.get("name") == "Comment" and before) or (step.get("name") == "Rules" and not rules)
            if "run" not in step or step["name"] == "Install" or skipped:
                continue
            own = {key: self.value(text, before, told) for key, text in step.get("env", {}).items()}
            done = subprocess.run(
                ["bash", "--noprofile", "--norc", "-eo", "pipefail", "-c", step["run"]],
                cwd=self.work, env=self.environment | given | own, capture_output=True, text=True,
            )  # fmt: skip
            self.log += done.stdout + done.stderr
            if done.returncode:
                return passed, [step["name"]]
            passed.append(step["name"])
            if step.get("id"):
                told[step["id"]] = self.outputs.read_text(encoding="utf-8").splitlines()[-1].removeprefix("status=")
        return passed, []

    def value(self, text: str, before: str, told: dict[str, str]) -> str:
        """An expression of the workflow, as the host would put it."""
        choice, output = CHOICE.fullmatch(text), OUTPUT.fullmatch(text)
        if choice:
            return (before if choice[2] == "github.event.before" else choice[2].strip("'")) if before else choice[1]
        if output:
            return told.get(output[1]) or output[3] or ""
        return {"${{ github.event.pull_request.number }}": "7"}.get(text, "")


@pytest.fixture
def host(tmp_path: Path) -> Host:
    return Host(tmp_path)


def fetch_depth() -> int:
    (depth,) = (step["with"]["fetch-depth"] for step in job()["steps"] if "checkout" in step.get("uses", ""))
    return int(depth)


def workflow() -> Object:
    value: Object = yaml.safe_load(WORKFLOW.read_text(encoding="utf-8"))
    return value


def job() -> Object:
    value: Object = workflow()["jobs"]["lint"]
    return value


def test_a_hazard_is_told_everywhere_and_stops_at_the_gate(host: Host) -> None:
    merged = host.pull_request({"kestrel.toml": SAFE}, {"kestrel.toml": HAZARD})
    assert host.run(merged) == ([*STATED, "Comment"], ["Gate"])
    assert "findings: 1, differences: 1, rules: 0" in host.log
    sarif = json.loads((host.temp / "findings.sarif").read_text(encoding="utf-8"))
    (result,) = sarif["runs"][0]["results"]
    assert result["locations"][0]["physicalLocation"]["artifactLocation"]["uri"] == "kestrel.toml"
    posted = (host.temp / "page.md").read_text(encoding="utf-8")
    assert posted.startswith("## What the craft do differently\n")
    assert "### setuplint on 1 setup: 1 danger\n" in posted
    assert posted.count(f"(<https://host.example/club/setups/blob/{merged}/kestrel.toml#L74>)") == 2
    assert host.summary.read_text(encoding="utf-8") == posted
    asked = host.asked.read_text(encoding="utf-8").split()
    assert asked[:3] == ["pr", "comment", "7"]
    assert asked[asked.index("--body-file") + 1] == str(host.temp / "page.md")


@pytest.mark.slow
@pytest.mark.parametrize("depth", [None, 2])
def test_a_safe_change_passes_and_only_it_is_told(host: Host, depth: int | None) -> None:
    """What main got meanwhile is no part of the change, though the pull request is checked out merged with it."""
    change = {"kestrel.toml": SAFE.replace("expo = 20", "expo = 25")}
    meanwhile = {"plover.toml": HAZARD.replace("priority = 150", "priority = 50")}
    merged = host.pull_request({"kestrel.toml": SAFE}, dict(change), dict(meanwhile))
    assert host.run(merged, depth=depth) == ([*STATED, "Comment", "Gate"], [])
    page = host.summary.read_text(encoding="utf-8")
    assert "**Passed" in page
    assert "1 setup compared, 1 of them not the same." in page


@pytest.mark.slow
def test_a_clone_that_lacks_the_base_stops_at_the_gate_and_says_what_to_fetch(host: Host) -> None:
    merged = host.pull_request({"kestrel.toml": SAFE}, {"kestrel.toml": SAFE + "\n"})
    assert host.run(merged, depth=1)[1] == ["Gate"]
    assert "findings: 2, differences: 2" in host.log
    assert "fetch-depth: 0" in host.log
    assert "could not do its work" in host.summary.read_text(encoding="utf-8")


LOOSER: dict[str, Files] = {
    "a rule that nothing may waive": {
        "setuplint.toml": 'fail-on = "danger"\n',
        "kestrel.toml": HAZARD + '\n[[waivers]]\nrule = "hold-bypassed"\nreason = "it is only a bench craft"\n',
    },
    "a nearer file": {"sub/setuplint.toml": "never-waive = []\n", "sub/kestrel.toml": HAZARD},
    "a baseline": {
        "setuplint.toml": 'never-waive = ["danger"]\nbaseline = "known.jsonl"\n',
        "known.jsonl": '{"version": 1}\n', "kestrel.toml": HAZARD,
    },
    "a hidden folder": {".craft/kestrel.toml": HAZARD},
    "another name": {"kestrel.toml": None, "KESTREL.TOML": HAZARD},
    "a merge left undone": {"kestrel.toml": SAFE.replace("[overrides.held]", "<<<<<<< a\n=======\n>>>>>>> b\n[overrides.held]")},
    "a program for pip": {"kestrel.toml": HAZARD, "pip.py": "raise SystemExit(0)", "setuplint.py": "raise SystemExit(0)"},
}  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize("kind", LOOSER)
def test_the_change_does_not_choose_its_judge(host: Host, kind: str) -> None:
    base: Files = {"kestrel.toml": SAFE, "setuplint.toml": 'never-waive = ["danger"]\n'}
    merged = host.pull_request(base, LOOSER[kind])
    assert host.run(merged)[1] == ["Gate"]


@pytest.mark.slow
def test_a_push_is_judged_by_its_own_choices_and_compared_with_what_was_there(host: Host) -> None:
    first = host.commit({"kestrel.toml": SAFE})
    passed = ([*STATED, "Gate"], [])
    assert host.run(first, "0" * 40) == passed, "the first push of a branch has nothing before it"
    hazard = SAFE.replace("priority = 100", "priority = 10")
    waived = hazard + '\n[[waivers]]\nrule = "hold-bypassed"\nreason = "it is only a bench craft"\n'
    assert host.run(host.commit({"kestrel.toml": waived}), first) == passed
    assert "it is only a bench craft" in host.summary.read_text(encoding="utf-8")


@pytest.mark.slow
def test_the_clubs_own_rules_are_tested(host: Host) -> None:
    base: Files = {"kestrel.toml": SAFE, "setuplint.toml": 'rules = ["club-rules"]\n'}
    base |= {"club-rules/gain-high.toml": CLUB_RULE.format(gain=95)}
    first = host.commit(base)
    run = [*STATED[:2], "Rules", STATED[2]]
    assert host.run(first, "0" * 40, rules="club-rules")[0][: len(run)] == run
    assert "1 rule, 1 example" in host.log
    broken = host.commit({"club-rules/gain-high.toml": CLUB_RULE.format(gain=10)})
    assert host.run(broken, first, rules="club-rules")[1] == ["Gate"]
    assert "rules: 1" in host.log


def test_a_repository_without_setups_is_no_pass(host: Host) -> None:
    assert host.run(host.commit({"other.toml": "[x]\n"}), "0" * 40)[1] == ["Gate"]
    assert "findings: 2" in host.log


def test_no_part_of_the_repository_is_run_before_or_while_it_is_checked() -> None:
    names = [step.get("name") or step["uses"].partition("@")[0] for step in job()["steps"]]
    assert names.index("Install") < names.index("actions/checkout"), "python -m pip would run a pip.py of the work tree"
    assert names[-1] == "Gate"


def test_actions_are_named_by_a_major_and_owners_know_what_they_own() -> None:
    text = WORKFLOW.read_text(encoding="utf-8")
    uses = [step["uses"] for step in job()["steps"] if "uses" in step]
    assert all(re.fullmatch(r"[\w/-]+@v\d+", each) for each in uses)
    assert "pin each by the hash of a commit" in text
    owned = [line.split() for line in OWNERS.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    assert {pattern for pattern, owner in owned} >= {"setuplint.toml", "/club-rules/", "*.jsonl", "/.github/"}
    assert {owner for _, owner in owned} == {"@CLUB/judges"}


def test_it_is_a_workflow_by_the_hosts_schema() -> None:
    """The schema is the one that check-jsonschema carries."""
    command = [sys.executable, "-m", "check_jsonschema", "--builtin-schema", "vendor.github-workflows", str(WORKFLOW)]
    done = subprocess.run(command, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr


def test_only_what_is_needed_is_allowed() -> None:
    assert workflow()["permissions"] == {"contents": "read"}
    assert job()["permissions"] == {
        "contents": "read", "actions": "read", "security-events": "write", "pull-requests": "write"
    }  # fmt: skip
    triggers = workflow()[True]  # YAML 1.1 takes `on` for a truth
    assert set(triggers) == {"push", "pull_request"}


def test_what_is_uploaded_and_posted_is_what_was_written() -> None:
    steps = {step.get("name", step.get("uses")): step for step in job()["steps"]}
    assert steps["Upload"]["with"]["sarif_file"] == "${{ runner.temp }}/findings.sarif"
    for name in ("Upload", "Comment"):
        assert "env.OWN == 'true'" in steps[name]["if"]


def test_no_text_of_a_pull_request_becomes_a_command() -> None:
    """Expressions are put into a script before bash reads it: none stands in one."""
    for step in job()["steps"]:
        assert "${{" not in step.get("run", "")
    assert re.search(r"persist-credentials: false", WORKFLOW.read_text(encoding="utf-8"))
