"""A real browser, and where a page is written for it."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.browsers import browser as browser


@pytest.fixture
def written(tmp_path: Path) -> Path:
    return tmp_path / "report.html"
