"""Programs that tests drive. Where one is missing its tests are skipped, with the line that brings it; in CI, for which
`.ci/run` installs them all, they fail."""

from __future__ import annotations

import os
import shutil
from pathlib import Path
from typing import NoReturn

import pytest

PACKAGES = {"chromium": "chromium", "npm": "npm", "nvim": "neovim"}  # Debian's
CODE_SERVER = Path(__file__).parent.parent / ".code-server/node_modules/code-server"


def program(name: str) -> str:
    """The path of a program."""
    found = shutil.which(name)
    return found if found is not None else missing(name, f"apt-get install {PACKAGES[name]}")


def code_server() -> list[str]:
    """The command that runs it."""
    entry = CODE_SERVER / "out/node/entry.js"
    if not (CODE_SERVER / "lib/vscode/node_modules.asar").exists():
        missing("code-server", "sh tests/vscode/code-server.sh")
    program("npm")
    return ["node", str(entry)]


def missing(name: str, line: str) -> NoReturn:
    """Its test is skipped, or in CI failed; the line brings it."""
    message = f"{name} is not here: {line}"
    if os.environ.get("CI"):
        pytest.fail(message)
    pytest.skip(message)
