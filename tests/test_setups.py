"""Every setup of `examples/` is linted: the safe ones are silent, the hazardous ones say what they are there for."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

import setuplint
from tests import once

EXAMPLES = Path(__file__).parents[1] / "examples"
EXPECTED = tomllib.loads((EXAMPLES / "expected.txt").read_text(encoding="utf-8"))


@pytest.mark.quick(24)
@pytest.mark.parametrize("name", EXPECTED)
def test_says_what_is_expected_and_nothing_else(name: str) -> None:
    found = {(finding.rule, finding.subject) for finding in once.lint(EXAMPLES / name).findings}
    wanted = {(rule, subject) for rule, subject in EXPECTED[name]}
    unmet = {(rule, subject) for rule, subject in wanted if not any(fits(f, rule, subject) for f in found)}
    beyond = {f for f in found if not any(fits(f, rule, subject) for rule, subject in wanted)}
    assert (unmet, beyond) == (set(), set())


def fits(finding: tuple[str, str], rule: str, subject: str) -> bool:
    return finding[0] == rule and subject in ("", finding[1])


def test_every_setup_is_listed() -> None:
    setups = {path.relative_to(EXAMPLES).as_posix() for path in EXAMPLES.rglob("*.toml")}
    assert setups == set(EXPECTED)


def test_hazards_are_expected_to_speak_and_the_others_are_not() -> None:
    assert {name for name, findings in EXPECTED.items() if findings} == {
        n for n in EXPECTED if n.startswith("hazards/")
    }


def test_all_of_the_reference_is_judged() -> None:
    report = setuplint.lint(EXAMPLES / "reference.toml")
    assert (report.findings, report.not_judged, report.waived) == ((), (), ())
    assert report.states > 1000


@pytest.mark.parametrize("name", [name for name in EXPECTED if name.startswith("hazards/")])
def test_a_hazard_is_said_once_with_its_reason_and_remedy(name: str) -> None:
    findings = once.lint(EXAMPLES / name).findings
    assert len({(finding.rule, finding.subject) for finding in findings}) == len(findings)
    assert all(finding.why and finding.remedy for finding in findings)
