"""What README.md shows is what happens."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import setuplint
from setuplint.setup.formulas import PREDICATES
from setuplint.setup.names import claim_formula

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")


def blocks(kind: str) -> list[str]:
    return re.findall(rf"^```{kind}\n(.*?)^```$", README, re.MULTILINE | re.DOTALL)


def test_the_run_that_is_shown_is_a_real_one() -> None:
    shown = next(block for block in blocks("text") if block.startswith("$ setuplint lint "))
    command, _, output = shown.partition("\n")
    done = subprocess.run(
        [sys.executable, "-m", *command.removeprefix("$ ").split()], cwd=ROOT, capture_output=True, text=True
    )
    assert done.stdout == output
    assert done.returncode == 1


def test_two_commands_each_of_one_line() -> None:
    commands = [line for block in blocks("sh") for line in block.splitlines() if line.startswith("python3 -m venv")]
    assert len(commands) == 2
    job, tests = commands
    assert job.endswith(".venv/bin/setuplint lint examples/hazards/rescue-beats-hold.toml")
    assert "-r requirements-dev.txt" in tests
    assert ".venv/bin/python -m pytest" in tests


def test_ci_runs_the_second_as_written() -> None:
    """By the same extraction as in .ci/run, which has no copy of the command."""
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    found = re.search(r"^command=\$\((.*)\)$", script, re.MULTILINE)
    assert found
    extracted = subprocess.run(["bash", "-c", found.group(1)], cwd=ROOT, capture_output=True, text=True, check=True)
    commands = [line for block in blocks("sh") for line in block.splitlines() if line.startswith("python3 -m venv")]
    assert extracted.stdout.strip() == commands[1]


def test_library_example_runs() -> None:
    (example,) = blocks("python")
    done = subprocess.run([sys.executable, "-c", example], cwd=ROOT, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr


def test_formulas_that_are_shown_can_be_written_and_no_predicate_is_missing() -> None:
    section = README.split("## Formulas\n")[1].split("\n## ")[0]
    cells = [row.split("|")[1] for row in section.splitlines() if row.startswith("| `")]
    shown = [formula for cell in cells for formula in re.findall(r"`([^`]+)`", cell)]
    setup = setuplint.load(ROOT / "examples" / "reference.toml").model
    for formula in shown:
        claim_formula(formula, setup)
    assert set(PREDICATES) <= set(shown)


def test_names_of_files_are_right() -> None:
    for name in re.findall(r"\]\(([^)#:]+)\)", README):
        assert (ROOT / name).exists(), name


def renew() -> None:
    """Write the run that is shown again."""
    shown = next(block for block in blocks("text") if block.startswith("$ setuplint lint "))
    command = shown.partition("\n")[0]
    words = [sys.executable, "-m", *command.removeprefix("$ ").split()]
    done = subprocess.run(words, cwd=ROOT, capture_output=True, text=True)
    (ROOT / "README.md").write_text(README.replace(shown, f"{command}\n{done.stdout}"), encoding="utf-8")


if __name__ == "__main__":
    renew()
