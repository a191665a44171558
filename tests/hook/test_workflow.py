"""The workflow of examples/ci: its steps, run by bash as a host would, in a scratch repository. What is not ours stands in:
pip installs nothing anew, and the host's own command writes down what it is asked."""

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
HAZARD = ROOT / "examples" / "hazards" / "rescue-beats-hold.toml"
SAFE = ROOT / "examples" / "reference.toml"

Object = dict[str, Any]


class Host:
    """Runs the steps of the job as they come, until one fails."""

    def __init__(self, folder: Path) -> None:
        self.work = folder / "work"
        self.temp = folder / "temp"
        self.summary = folder / "step-summary.md"
        self.asked = folder / "asked.txt"
        programs = folder / "bin"
        for each in (self.work, self.temp, programs):
            each.mkdir()
        self.program(programs / "setuplint", f'exec "{sys.executable}" -m setuplint "$@"')
        self.program(programs / "gh", f'printf "%s\\n" "$@" > "{self.asked}"')
        self.environment = {
            "PATH": f"{programs}{os.pathsep}{os.environ['PATH']}", "PYTHONPATH": str(ROOT), "RUNNER_TEMP": str(self.temp),
            "GITHUB_STEP_SUMMARY": str(self.summary), "GITHUB_REPOSITORY": "club/setups", "LANG": "C.UTF-8",
        }  # fmt: skip
        subprocess.run(["git", "init", "-q"], cwd=self.work, check=True)

    def program(self, path: Path, line: str) -> None:
        path.write_text(f"#!/bin/sh\n{line}\n", encoding="utf-8")
        path.chmod(0o755)

    def run(self) -> tuple[list[str], list[str]]:
        """The names of the steps that passed, and of the one that failed."""
        passed: list[str] = []
        for step in job()["steps"]:
            if "run" not in step or step["name"] == "Install":
                continue
            given = {key: value for key, value in step.get("env", {}).items() if "${{" not in value} | {"NUMBER": "7"}
            done = subprocess.run(
                ["bash", "--noprofile", "--norc", "-eo", "pipefail", "-c", step["run"]],
                cwd=self.work, env=self.environment | given, capture_output=True, text=True,
            )  # fmt: skip
            if done.returncode:
                return passed, [step["name"]]
            passed.append(step["name"])
        return passed, []


@pytest.fixture
def host(tmp_path: Path) -> Host:
    return Host(tmp_path)


def workflow() -> Object:
    value: Object = yaml.safe_load(WORKFLOW.read_text(encoding="utf-8"))
    return value


def job() -> Object:
    value: Object = workflow()["jobs"]["lint"]
    return value


@pytest.mark.slow
def test_a_hazard_is_told_everywhere_and_stops_at_the_gate(host: Host) -> None:
    shutil.copy(HAZARD, host.work / "kestrel.toml")
    assert host.run() == (["Findings", "Comment"], ["Gate"])
    sarif = json.loads((host.temp / "setuplint.sarif").read_text(encoding="utf-8"))
    (result,) = sarif["runs"][0]["results"]
    assert result["locations"][0]["physicalLocation"]["artifactLocation"]["uri"] == "kestrel.toml"
    posted = (host.temp / "summary.md").read_text(encoding="utf-8")
    assert posted.startswith("### setuplint on 1 setup: 1 danger\n")
    assert host.summary.read_text(encoding="utf-8") == posted
    asked = host.asked.read_text(encoding="utf-8").split()
    assert asked[:3] == ["pr", "comment", "7"]
    assert asked[asked.index("--body-file") + 1] == str(host.temp / "summary.md")


@pytest.mark.slow
def test_a_safe_setup_passes(host: Host) -> None:
    shutil.copy(SAFE, host.work / "kestrel.toml")
    assert host.run() == (["Findings", "Comment", "Gate"], [])
    assert "**Passed:**" in host.summary.read_text(encoding="utf-8")


def test_a_repository_without_setups_stops_before_anything_is_posted(host: Host) -> None:
    assert host.run() == ([], ["Findings"])
    assert not host.asked.exists()


def test_it_is_a_workflow_by_the_hosts_schema() -> None:
    """The schema is the one that check-jsonschema carries."""
    command = [sys.executable, "-m", "check_jsonschema", "--builtin-schema", "vendor.github-workflows", str(WORKFLOW)]
    done = subprocess.run(command, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr


def test_only_what_is_needed_is_allowed() -> None:
    assert workflow()["permissions"] == {"contents": "read"}
    assert job()["permissions"] == {"contents": "read", "security-events": "write", "pull-requests": "write"}
    triggers = workflow()[True]  # YAML 1.1 takes `on` for a truth
    assert set(triggers) == {"push", "pull_request"}


def test_what_is_uploaded_and_posted_is_what_was_written() -> None:
    steps = {step.get("name", step.get("uses")): step for step in job()["steps"]}
    assert steps["Upload"]["with"]["sarif_file"] == "${{ runner.temp }}/setuplint.sarif"
    for name in ("Upload", "Comment"):
        assert "env.OWN == 'true'" in steps[name]["if"]


def test_no_text_of_a_pull_request_becomes_a_command() -> None:
    """Expressions are put into a script before bash reads it: none stands in one."""
    for step in job()["steps"]:
        assert "${{" not in step.get("run", "")
    assert re.search(r"persist-credentials: false", WORKFLOW.read_text(encoding="utf-8"))
