"""What is shipped: the wheel holds the rules, and works in an environment that has nothing of this checkout."""

from __future__ import annotations

import json
import subprocess
import sys
import tomllib
import venv
import zipfile
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from tests.once import alone

ROOT = Path(__file__).parent.parent
LOCK = ROOT / "requirements-dev.txt"
CELLS = ROOT / "requirements-cells.txt"


def project() -> dict[str, object]:
    values: dict[str, object] = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    return values


def pip(*args: str | Path) -> None:
    command = [sys.executable, "-m", "pip", "--disable-pip-version-check", "-q", *map(str, args)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.fixture(scope="session")
def wheel(shared: Path) -> Path:
    folder = shared / "wheel"
    folder.mkdir(exist_ok=True)
    with alone(folder):
        if not list(folder.glob("*.whl")):
            pip("wheel", "--no-deps", "--no-build-isolation", "-w", folder, ROOT)
    (built,) = folder.glob("setuplint-*.whl")
    return built


@pytest.mark.slow
def test_wheel_holds_every_rule_and_all_data(wheel: Path) -> None:
    held = set(zipfile.ZipFile(wheel).namelist())
    rules = {f"setuplint/rules/{path.name}" for path in (ROOT / "rules").glob("*.toml")}
    code = {
        path.relative_to(ROOT).as_posix()
        for path in (ROOT / "setuplint").rglob("*")
        if path.is_file() and path.suffix in (".py", ".json", ".toml", ".typed")
    }
    assert len(rules) > 50
    assert rules | code | {"setuplint/examples/reference.toml"} <= held
    assert {name.split("/")[0] for name in held} <= {"setuplint", wheel.name.rsplit("-", 3)[0] + ".dist-info"}


def test_wheel_holds_the_heads_of_the_rules_as_python_reads_them(wheel: Path) -> None:
    prepared: dict[str, Any] = {}
    exec(zipfile.ZipFile(wheel).read("setuplint/book/prepared_heads.py"), prepared)
    files = {
        path.stem: tomllib.loads(path.read_text(encoding="utf-8"), parse_float=Decimal)
        for path in (ROOT / "rules").glob("*.toml")
    }
    below = ("sources", "examples")
    assert prepared["HEADS"] == {
        name: {k: v for k, v in file.items() if k not in below} for name, file in files.items()
    }


def test_wheel_holds_the_shape_of_a_file_as_python_reads_it(wheel: Path) -> None:
    prepared: dict[str, Any] = {}
    exec(zipfile.ZipFile(wheel).read("setuplint/setup/prepared_format.py"), prepared)
    assert prepared["FORMAT"] == json.loads((ROOT / "setuplint/setup/format.json").read_text(encoding="utf-8"))


@pytest.mark.slow
def test_wheel_works_in_an_environment_of_its_own(wheel: Path, tmp_path: Path) -> None:
    venv.create(tmp_path / "venv")
    scripts = tmp_path / "venv" / "bin"
    pip("--python", scripts / "python", "install", "-c", LOCK, wheel)
    example = (ROOT / "examples" / "hazards" / "rescue-beats-hold.toml").read_bytes()
    (tmp_path / "x.toml").write_bytes(example)
    done = subprocess.run([scripts / "setuplint", "lint", "x.toml"], cwd=tmp_path, capture_output=True, text=True)
    assert done.returncode == 1, done.stderr
    assert "[hold-bypassed]" in done.stdout
    page = subprocess.run([scripts / "setuplint", "explain", "hold-bypassed"], cwd=tmp_path, capture_output=True)
    assert page.returncode == 0
    (tmp_path / "club").mkdir()
    claim = 'signal = "notice"\ntitle = "t"\nwhy = "w"\nremedy = "r"\nnever = "output motor > 60"\n'
    (tmp_path / "club" / "x.toml").write_text(f"{claim}[[examples]]\nspeaks = true\nedit = {{ a = 1 }}\n", "utf-8")
    ran = subprocess.run([scripts / "setuplint", "rules-test", "club"], cwd=tmp_path, capture_output=True, text=True)
    assert "also found by not-a-setup" in ran.stdout, "the reference setup is shipped, and examples edit it"
    graph = "import setuplint; print(len(setuplint.load('x.toml').graph) > 5)"
    told = subprocess.run([scripts / "python", "-c", graph], cwd=tmp_path, capture_output=True, text=True)
    assert told.stdout == "True\n", told.stderr


def test_run_time_needs_are_these_four() -> None:
    wanted = [line.split(">")[0].split("=")[0] for line in project()["project"]["dependencies"]]  # type: ignore[index]
    assert wanted == ["networkx", "pydantic", "python-sat", "tomli-w"]
    assert "python-sat==1.9.dev24" in project()["project"]["dependencies"]  # type: ignore[index]


@pytest.mark.parametrize(("lock", "group"), [(LOCK, "dev"), (CELLS, "cells")], ids=["dev", "cells"])
def test_lock_has_exact_versions_of_all_that_is_asked_for_and_no_address(lock: Path, group: str) -> None:
    names = versions(lock)
    for name, version in names.items():
        assert version.replace(".", "").isalnum(), name
    groups: dict[str, list[str]] = project()["dependency-groups"]  # type: ignore[assignment]
    asked = groups[group] + (project()["project"]["dependencies"] if group == "dev" else [])  # type: ignore[index]
    assert {line.split(">")[0].split("=")[0] for line in asked} <= names.keys()
    assert "://" not in lock.read_text(encoding="utf-8")


def test_pybamm_and_what_it_brings_are_in_the_lock_of_the_cells_alone() -> None:
    dev, cells = versions(LOCK), versions(CELLS)
    assert not {"pybamm", "casadi", "pandas", "sympy"} & dev.keys()
    assert all(dev.get(name, version) == version for name, version in cells.items())


def versions(lock: Path) -> dict[str, str]:
    found = {}
    for line in lock.read_text(encoding="utf-8").splitlines():
        if not line.startswith("#"):
            name, equals, version = line.partition("==")
            assert equals, line
            found[name] = version
    return found
