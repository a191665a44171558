"""The extension as it is packaged, made once for all processes of a run."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

from tests.browsers import browser as browser
from tests.once import alone
from tests.programs import program

from .workbench import Editor

ROOT = Path(__file__).parent.parent.parent
EXTENSION = Path("editors/vscode")


@pytest.fixture(scope="session")
def checkout(shared: Path) -> Path:
    """A copy of what the package is made of, with the package in it, made by the one command."""
    npm, folder = program("npm"), shared / "checkout"
    folder.mkdir(exist_ok=True)
    with alone(folder):
        if not list((folder / EXTENSION).glob("*.vsix")):
            copy_sources(folder)
            run = [npm, "run", "--silent", "package"]
            done = subprocess.run(run, cwd=folder / EXTENSION, capture_output=True, text=True)
            assert done.returncode == 0, done.stdout + done.stderr
    return folder


@pytest.fixture(scope="session")
def package(checkout: Path) -> Path:
    (made,) = (checkout / EXTENSION).glob("*.vsix")
    return made


@pytest.fixture(scope="session")
def extensions(package: Path, shared: Path) -> Path:
    """A folder in which an editor has installed it."""
    folder = shared / "extensions"
    folder.mkdir(exist_ok=True)
    with alone(folder):
        if not (folder / "extensions.json").exists():
            Editor(shared / "installing", shared, folder).install(package)
    return folder


def copy_sources(folder: Path) -> None:
    left_out = shutil.ignore_patterns("node_modules", "*.vsix", "dist", "__pycache__")
    for name in ("LICENSE", "README.md", "pyproject.toml", "hatch_build.py"):
        shutil.copy(ROOT / name, folder)
    for name in ("setuplint", "rules", "examples", EXTENSION):
        shutil.copytree(ROOT / name, folder / name, ignore=left_out, dirs_exist_ok=True)
