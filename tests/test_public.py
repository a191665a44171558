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
    compared = setuplint.compare(HAZARD, ROOT / "examples" / "firecrest.toml")
    for shown in (report, report.findings[0], setup.curve(next(iter(setup.model.curves))), setup, compared):
        html = shown._repr_html_()
        assert html is not None
        assert html.startswith("<")
    assert "2 differences; 1 danger gone" in compared._repr_html_()
    assert setup._repr_html_().count("<img ") == 2


def test_what_is_printed_is_made_to_be_read() -> None:
    report = setuplint.lint(HAZARD)
    message, place, case, remedy = str(report.findings[0]).splitlines()
    assert message.startswith("danger: Throttle hold does not stop the motor")
    assert place == "  in: overrides.rescue-power"
    assert case == "  case: hold on, save pulled: motor +30 % (65 of 100)"
    assert remedy.startswith("  remedy: Let the hold override")
    command = [sys.executable, "-m", "setuplint", "lint", HAZARD]
    assert subprocess.run(command, capture_output=True, encoding="utf-8").stdout.startswith(str(report)[:2000])
    compared = str(setuplint.compare(HAZARD, ROOT / "examples" / "firecrest.toml"))
    assert "try:      put hold on, pull save" in compared


def test_a_curve_that_is_not_there_is_answered_with_those_that_are() -> None:
    with pytest.raises(KeyError, match="no curve is called 'x'; its curves are hover-soft"):
        setuplint.load(HAZARD).curve("x")


def test_a_finding_without_the_library_is_shown_as_text() -> None:
    code = (
        "from setuplint.findings import Finding, Place; "
        "print(Finding('one', 'danger', 'm', 's', Place())._repr_html_())"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout == "None\n"
