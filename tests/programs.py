"""Programs that tests drive. Where one is missing its tests are skipped, with the line that brings it; in CI, for which
`.ci/run` installs them all, they fail."""

from __future__ import annotations

import os
import shutil

import pytest

PACKAGES = {"chromium": "chromium", "npm": "npm", "nvim": "neovim"}  # Debian's


def program(name: str) -> str:
    """The path of a program."""
    found = shutil.which(name)
    if found is None:
        missing = f"{name} is not here: apt-get install {PACKAGES[name]}"
        if os.environ.get("CI"):
            pytest.fail(missing)
        pytest.skip(missing)
    return found
