"""For all tests: in CI the same random examples in every run; and the tally of the mutants after it, each test's part of
which comes with its report, from other processes too."""

from __future__ import annotations

import os

import pytest
from hypothesis import settings

settings.register_profile("ci", derandomize=True)
if os.environ.get("CI"):
    settings.load_profile("ci")


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
