"""JUnit XML: by the schema that CI reads it with, and what a viewer shows of it."""

from __future__ import annotations

from datetime import date
from typing import Any
from unicodedata import category

import pytest
from hypothesis import given
from hypothesis import strategies as st
from lxml import etree

from setuplint.book import rulebook
from setuplint.findings import Edit, Finding, Report
from setuplint.formats.reports import junit, report_writer
from setuplint.formats.summary import Summary, summary_of
from setuplint.formats.terminal import Look
from setuplint.setup.model import Waiver
from tests import once
from tests.formats.made import HELD, NOT_JUDGED, finding, report
from tests.rules.edits import example_text

TEXTS = st.text(st.characters(exclude_categories=()), max_size=40)


def text_of(*reports: Report, fail_on: str = "caution", troubles: tuple[str, ...] = ()) -> str:
    out = report_writer("junit", Look())
    total = Summary(fail_on, troubles=list(troubles))
    text = ""
    for one in reports:
        text += out.add(junit.section(one, Look(), fail_on))
        total.add(summary_of(one, fail_on))
    return text + out.end(total)


def suites(*reports: Report, **options: Any) -> list[etree._Element]:
    return list(etree.fromstring(text_of(*reports, **options).encode()))


def cases(suite: etree._Element) -> dict[str, str]:
    """How each case of a suite ends."""
    return {
        case.get("name"): next((each.tag for each in case if each.tag != "system-out"), "passed")
        for case in suite.findall("testcase")
    }


def waived(**changed: Any) -> Finding:
    return finding(waiver=Waiver("hold-bypassed", "a glider <&", None, date(2027, 4, 1), 0), **changed)


ODD = [
    report(),
    report(finding(), finding(signal="notice"), finding(edit=Edit(HELD, "100"), status="advice")),
    report(not_judged=NOT_JUDGED, waived=(waived(),), baselined=(finding(),)),
    report(finding(message="\x00\x1b<&>\"'\ud800\ufffe]]>", subject="\x85\u2028", why="\x0b")),
]


@pytest.mark.slow
@pytest.mark.parametrize("one", ODD)
def test_made_reports_keep_to_the_schema(junit_schema: etree.XMLSchema, one: Report) -> None:
    text = text_of(one, report(), troubles=("cannot read \x00 <x>",))
    junit_schema.assertValid(etree.fromstring(text.encode()))
    assert text.isascii()


def test_no_run_at_all_keeps_to_it(junit_schema: etree.XMLSchema) -> None:
    junit_schema.assertValid(etree.fromstring(text_of().encode()))


def test_what_is_wrong_does_not(junit_schema: etree.XMLSchema) -> None:
    assert not junit_schema.validate(
        etree.fromstring(text_of(report(finding())).replace(' tests="', ' test="').encode())
    )


@pytest.mark.slow
def test_examples_of_the_book_keep_to_it(junit_schema: etree.XMLSchema) -> None:
    reports = []
    for rule in list(rulebook.rules())[::4]:
        example = next((each for each in rulebook.page(rule).examples if each.speaks and each.beside is None), None)
        if example is not None:
            reports.append(once.lint_text(example_text(example), f"{rule}.toml"))
    tree = etree.fromstring(text_of(*reports).encode())
    junit_schema.assertValid(tree)
    for suite, one in zip(tree, reports, strict=False):
        assert int(suite.get("failures")) == len(one.at_least("caution"))


def test_a_finding_is_a_failure_with_all_that_is_said_of_it() -> None:
    suite, run = suites(report(finding()))
    assert suite.get("name") == "wagtail.toml"
    assert [suite.get(key) for key in ("tests", "failures", "errors", "skipped")] == ["1", "1", "0", "0"]
    (case,) = suite.findall("testcase")
    assert (case.get("classname"), case.get("name")) == ("wagtail", "hold-bypassed: motor")
    (failure,) = case
    assert failure.get("type") == "danger"
    assert failure.get("message") == "with hold on, rescue-power drives the motor at +55 %"
    assert failure.text.startswith("wagtail.toml:25:12: danger: ")
    assert "On the bench: put hold on, pull save: the motor channel gives +55 %" in failure.text
    assert "not a clearance" in " ".join(run.findtext("system-out").split())


def test_a_passing_file_shows_as_a_passed_test() -> None:
    suite, _ = suites(report())
    assert cases(suite) == {"no danger or caution": "passed"}
    assert (suite.get("tests"), suite.get("failures")) == ("1", "0")


@pytest.mark.parametrize(("fail_on", "ends"), [("danger", "passed"), ("caution", "passed"), ("notice", "failure")])
def test_the_threshold_says_what_fails(fail_on: str, ends: str) -> None:
    suite, _ = suites(report(finding(signal="notice")), fail_on=fail_on)
    assert cases(suite)["hold-bypassed: motor"] == ends
    assert ("notice: with hold on" in etree.tostring(suite).decode()) is True
    assert len(cases(suite)) == (1 if ends == "failure" else 2)


def test_what_is_waived_baselined_or_not_judged_is_skipped_and_says_why() -> None:
    one = report(waived=(waived(),), baselined=(finding(subject="b"),), not_judged=NOT_JUDGED[:1])
    suite, _ = suites(one)
    assert cases(suite) == {
        "no danger or caution, of what was judged": "passed",
        "hold-bypassed: motor": "skipped",
        "hold-bypassed: b": "skipped",
        "rescue-too-weak": "skipped",
    }
    assert suite.get("skipped") == "3"
    assert [each.get("message") for each in suite.iter("skipped")] == [
        "danger, waived until 2027-04-01: a glider <&",
        "danger, in the baseline",
        "not judged, because craft.hover-throttle is not given",
    ]


def test_troubles_are_errors() -> None:
    (run,) = suites(troubles=("cannot read a.toml: no such file",))
    assert cases(run) == {"cannot read a.toml: no such file": "error"}
    assert (run.get("errors"), run.get("tests")) == ("1", "1")


def test_names_are_one_of_a_kind_in_a_suite() -> None:
    suite, _ = suites(report(finding(), finding(), waived=(waived(),)))
    assert list(cases(suite)) == ["hold-bypassed: motor", "hold-bypassed: motor (2)", "hold-bypassed: motor (3)"]


def test_dots_of_a_path_make_no_packages() -> None:
    suite, _ = suites(report(name="./club.d/a.b.toml"))
    assert suite.find("testcase").get("classname") == "_/club_d/a_b"


@given(TEXTS, TEXTS, TEXTS)
def test_any_text_is_xml_and_prints(message: str, subject: str, name: str) -> None:
    suite, _ = suites(report(finding(message=message, subject=subject), name=name))
    (case,) = suite.findall("testcase")
    said = [case[0].get("message"), case.get("name"), suite.get("name")]
    assert not {category(char) for char in "".join(said)} & {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}
    if message.isascii() and message.isprintable():
        assert said[0] == message
