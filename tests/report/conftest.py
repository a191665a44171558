"""A real browser: Debian's chromium."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, sync_playwright

from tests.programs import program


@pytest.fixture(scope="package")
def browser() -> Iterator[Browser]:
    found = program("chromium")
    with sync_playwright() as player:
        opened = player.chromium.launch(executable_path=found, args=["--no-sandbox"])
        yield opened
        opened.close()


@pytest.fixture
def written(tmp_path: Path) -> Path:
    return tmp_path / "report.html"
