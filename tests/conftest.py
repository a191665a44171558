"""For all tests: in CI the same random examples in every run; which tests are slow; a folder that all processes of a run
share; and the tally of the mutants after it, each test's part of which comes with its report, from other processes too."""

from __future__ import annotations

import gc
import os
import sys
from pathlib import Path

import pytest
from hypothesis import settings

# The tests start the command and the server some hundred times: what these import is compiled once, whatever is set here.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
sys.dont_write_bytecode = False
# A user's process holds its output back until it is whole, or ends.
os.environ.pop("PYTHONUNBUFFERED", None)
# What a test installs is compiled as it is imported: of most of it nothing ever is.
os.environ["PIP_COMPILE"] = "0"
# A hook of git is told which repository it is of; the tests have repositories of their own.
for name in ("GIT_DIR", "GIT_WORK_TREE", "GIT_INDEX_FILE", "GIT_PREFIX", "GIT_COMMON_DIR", "GIT_OBJECT_DIRECTORY"):
    os.environ.pop(name, None)
# Thousands of tests are kept until the end: the collector of cycles would go through them again and again. It is not to begin
# in the midst of a lint either, whose objects go by themselves: that took a tenth of the time. 100 MB are kept for it.
gc.set_threshold(500_000, 20, 100)

# No test hangs on the clock.
settings.register_profile("here", deadline=None)
settings.register_profile("ci", deadline=None, derandomize=True)
settings.load_profile("ci" if os.environ.get("CI") else "here")


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Of a family of tests that is marked quick(count), so many stay quick, from the first on and evenly apart."""
    families: dict[str, list[pytest.Item]] = {}
    for item in items:
        if item.get_closest_marker("quick"):
            families.setdefault(item.nodeid.partition("[")[0], []).append(item)
    for family in families.values():
        (count,) = family[0].get_closest_marker("quick").args  # type: ignore[union-attr]
        kept = {n * len(family) // count for n in range(count)}
        for n, item in enumerate(family):
            if n not in kept:
                item.add_marker("slow")


def pytest_collection_finish() -> None:
    """What is there by now stays: the collector of cycles need not go through it, least of all at the end."""
    gc.freeze()


@pytest.fixture(scope="session")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder for what is made once for all processes of this run."""
    own = tmp_path_factory.getbasetemp()
    return own.parent if "PYTEST_XDIST_WORKER" in os.environ else own


@pytest.fixture(scope="session")
def pre_commit_home(shared: Path) -> Path:
    """Where pre-commit keeps the environment that it makes of our last commit; it locks the folder by itself."""
    home = shared / "pre-commit"
    home.mkdir(exist_ok=True)
    return home


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    parts = [
        value
        for reports in terminalreporter.stats.values()
        for report in reports
        if getattr(report, "when", "") == "call"
        for key, value in getattr(report, "user_properties", [])
        if key == "mutants"
    ]
    if parts:
        from tests.mutants.tally import Tally

        whole = Tally()
        for part in parts:
            whole.merge(Tally.of(part))
        terminalreporter.section("mutants")
        terminalreporter.write_line("\n".join(whole.lines()))


def pytest_xdist_auto_num_workers() -> int:
    """`-n auto`: a process more than there are processors, as browsers, editors, servers and git are waited for."""
    return (os.cpu_count() or 1) + 1
