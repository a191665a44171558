"""The public face: exactly these names, and none of them costs anything before it is used."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

import setuplint

ROOT = Path(__file__).parent.parent
HAZARD = ROOT / "examples" / "hazards" / "rescue-beats-hold.toml"

NAMES = {
    *("Finding", "NotJudged", "Report", "Setup"),
    *("check_record", "compare", "decide", "lint", "lint_text", "lint_together", "load", "load_text", "soften"),
}


def test_public_names_are_these() -> None:
    assert set(setuplint.__all__) == NAMES
    assert {name for name in dir(setuplint) if not name.startswith("_")} >= NAMES
    for name in NAMES:
        assert getattr(setuplint, name) is not None


def test_what_is_not_public_is_not_there() -> None:
    with pytest.raises(AttributeError, match="no attribute 'lnt'"):
        setuplint.lnt  # noqa: B018


def test_importing_it_imports_nothing_else() -> None:
    code = "import sys, setuplint; print(*(name for name in sys.modules if name.startswith('setuplint.')))"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout.split() == []


def test_the_library_as_the_readme_has_it() -> None:
    report = setuplint.lint(HAZARD)
    assert [finding.rule for finding in report.findings] == ["hold-bypassed"]
    assert set(report.findings[0].witness) == {"hold", "save"}
    setup = setuplint.load(HAZARD)
    assert ("switch", "hold") in setup.graph
    assert setuplint.decide(setup).find("hold called and rotor driven")
    assert report.to_html().startswith("<!doctype html>")
    curve = next(iter(setup.model.curves))
    assert setup.curve(curve).svg().startswith("<svg")


def test_what_a_notebook_shows_itself() -> None:
    report = setuplint.lint(HAZARD)
    setup = setuplint.load(HAZARD)
    for shown in (report, report.findings[0], setup.curve(next(iter(setup.model.curves)))):
        assert shown._repr_html_().startswith("<")


def test_a_finding_without_the_library_is_shown_as_text() -> None:
    code = (
        "from setuplint.findings import Finding, Place; "
        "print(Finding('one', 'danger', 'm', 's', Place())._repr_html_())"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout == "None\n"
