"""A real browser: Debian's chromium."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, sync_playwright


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    found = shutil.which("chromium")
    if found is None:
        missing = "these tests need a browser: apt-get install chromium"
        assert not os.environ.get("CI"), missing
        pytest.skip(missing)
    with sync_playwright() as player:
        opened = player.chromium.launch(executable_path=found, args=["--no-sandbox"])
        yield opened
        opened.close()


@pytest.fixture
def written(tmp_path: Path) -> Path:
    return tmp_path / "report.html"
