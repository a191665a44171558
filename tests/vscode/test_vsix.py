"""The package for VS Code: the same bytes from the same sources, and with it the server of the same version."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tarfile
import tomllib
import zipfile
from pathlib import Path
from xml.etree import ElementTree

import pytest

from .conftest import EXTENSION, ROOT

pytestmark = pytest.mark.slow
ABOUT = json.loads((ROOT / EXTENSION / "package.json").read_text(encoding="utf-8"))


def test_the_same_sources_give_the_same_bytes(checkout: Path, package: Path, tmp_path: Path) -> None:
    """At another place, in another time zone, with files of another day."""
    shutil.copytree(checkout, tmp_path / "elsewhere", symlinks=True)
    again = tmp_path / "elsewhere" / EXTENSION
    (again / package.name).unlink()
    for path in (tmp_path / "elsewhere" / "setuplint").rglob("*.py"):
        os.utime(path, (1, 1))
    environment = os.environ | {"TZ": "Asia/Kolkata", "LC_ALL": "C"}
    subprocess.run(["node", "build.mjs"], cwd=again, env=environment, check=True, capture_output=True)
    assert (again / package.name).read_bytes() == package.read_bytes()


def test_it_holds_what_it_names_and_nothing_of_the_workshop(package: Path) -> None:
    with zipfile.ZipFile(package) as held:
        names = set(held.namelist())
        about = json.loads(held.read("extension/package.json"))
        manifest = ElementTree.fromstring(held.read("extension.vsixmanifest"))
        code = held.read("extension/dist/extension.js").decode()
        licences = held.read("extension/THIRD-PARTY.md").decode()
    contributed = about["contributes"]
    named = [about["main"], about["icon"], *(each["path"] for each in contributed["grammars"])]
    named += [step["media"]["markdown"] for walk in contributed["walkthroughs"] for step in walk["steps"]]
    assert {f"extension/{name.removeprefix('./')}" for name in named} <= names
    assets = [each.attrib["Path"] for each in manifest.iter() if "Path" in each.attrib]
    assert len(assets) == 4
    assert set(assets) <= names
    assert not [name for name in names if "node_modules" in name or name.endswith((".ts", ".pyc", ".map"))]
    assert str(ROOT) not in code
    assert "## vscode-languageclient " in licences
    assert {"scripts", "devDependencies"}.isdisjoint(about)


def test_its_server_can_be_installed_and_is_ours(package: Path, tmp_path: Path) -> None:
    zipfile.ZipFile(package).extractall(tmp_path)
    server = tmp_path / "extension" / "server"
    run = [sys.executable, "-m", "pip", "wheel", "-q", "--no-deps", "--no-build-isolation", "-w", tmp_path, server]
    done = subprocess.run(run, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    (wheel,) = tmp_path.glob("setuplint-*.whl")
    held = set(zipfile.ZipFile(wheel).namelist())
    ours = [path for path in (ROOT / "setuplint").rglob("*") if path.suffix in (".py", ".js", ".css", ".json")]
    assert {path.relative_to(ROOT).as_posix() for path in ours} <= held
    assert {f"setuplint/rules/{path.name}" for path in (ROOT / "rules").glob("*.toml")} <= held


def test_what_python_ships_takes_nothing_of_the_extension(checkout: Path, package: Path, tmp_path: Path) -> None:
    assert (checkout / EXTENSION / "node_modules").is_dir()
    build = "import sys, hatchling.build as b; b.build_sdist(sys.argv[1])"
    subprocess.run([sys.executable, "-c", build, tmp_path], cwd=checkout, check=True, capture_output=True)
    (made,) = tmp_path.glob("*.tar.gz")
    with tarfile.open(made) as held:
        names = held.getnames()
    assert any(name.endswith("/setuplint/cli/lint.py") for name in names)
    assert not [name for name in names if "node_modules" in name or "vsix" in name or "/dist/" in name]


def test_it_has_the_version_of_the_library() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert (ABOUT["version"], ABOUT["license"]) == (project["version"], project["license"])
    assert (ROOT / EXTENSION / "LICENSE").read_bytes() == (ROOT / "LICENSE").read_bytes()


def test_its_lock_names_no_registry_and_has_every_hash() -> None:
    lock = (ROOT / EXTENSION / "package-lock.json").read_text(encoding="utf-8")
    assert "://" not in lock
    packages = json.loads(lock)["packages"]
    assert all("integrity" in each for name, each in packages.items() if name)
    assert packages[""]["devDependencies"] == ABOUT["devDependencies"]


def test_every_command_is_there_and_no_program_is_taken_from_a_stranger() -> None:
    declared = {each["command"] for each in ABOUT["contributes"]["commands"]}
    code = (ROOT / EXTENSION / "src" / "extension.ts").read_text(encoding="utf-8")
    assert {name for name in declared if f'"{name}": ' not in code} == set()
    settings = ABOUT["contributes"]["configuration"]["properties"]
    programs = {name for name, each in settings.items() if each["type"] == "string" and "enum" not in each}
    assert programs == set(ABOUT["capabilities"]["untrustedWorkspaces"]["restrictedConfigurations"])
