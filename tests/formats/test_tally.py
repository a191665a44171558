"""Every output says what was found, not judged and not decided together, and beside it what is hidden."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from lxml import etree

import setuplint
from setuplint.book import run
from setuplint.book.choices import Choices
from setuplint.findings import IN_FULL, Finding, NotJudged, Report
from setuplint.formats.reports import report_format, report_writer
from setuplint.formats.summary import Tally, summary_of
from setuplint.formats.terminal import Look
from setuplint.pages.document_html import words_html
from setuplint.pages.report import IndexEntry, index_page
from setuplint.setup.model import Waiver
from tests.cli.running import REFERENCE
from tests.formats.made import NOT_JUDGED, SETUP, finding, report

FORMATS = ("text", "json", "sarif", "junit", "markdown")
UNDECIDED = finding(rule="not-decided", subject="hold-bypassed motor")
MORE = 57


def written(form: str, *reports: Report, look: Look | None = None) -> str:
    look = look or Look()
    out = report_writer(form, look)
    total = summary_of(reports[0])
    for one in reports[1:]:
        total.add(summary_of(one))
    return "".join(out.add(report_format(form).section(one, look)) for one in reports) + out.end(total)


def hazards(count: int) -> list[Finding]:
    return [finding(subject=f"motor-{n}") for n in range(count)]


def in_sarif(log: str) -> Any:
    return json.loads(log)["runs"][0]["invocations"][0]["properties"]


def in_junit(log: str) -> Any:
    """Of the file's own suite."""
    suite = etree.fromstring(log.encode()).find("testsuite")
    found = {each.get("name"): int(each.get("value")) for each in suite.iter("property")}
    by_signal = {signal: found[f"found: {signal}"] for signal in ("danger", "caution", "notice")}
    return {
        "found": by_signal,
        "not-judged": found["not judged"],
        "not-decided": found["not decided"],
        "hidden": {
            what: found.get(f"hidden: {what}", 0) for what in ("waived", "baselined", "left-out", "only-counted")
        },
    }


READERS: dict[str, Callable[[str], Any]] = {
    "json": lambda log: json.loads(log)["summary"],
    "sarif": in_sarif,
    "junit": in_junit,
}


@pytest.mark.parametrize("form", READERS)
def test_programs_get_the_three_counts_and_what_is_hidden(form: str) -> None:
    one = report(
        finding(), UNDECIDED, not_judged=NOT_JUDGED, waived=(finding(subject="a"),), baselined=(finding(),), left_out=4
    )
    got = READERS[form](written(form, one))
    assert got["found"] == {"danger": 1, "caution": 0, "notice": 0}
    assert (got["not-judged"], got["not-decided"]) == (3, 1)
    assert got["hidden"] == {"waived": 1, "baselined": 1, "left-out": 4, "only-counted": 0}


@pytest.mark.parametrize(("form", "head"), [("text", "1 setup: {}."), ("markdown", "### setuplint on 1 setup: {}")])
def test_persons_get_them_in_the_first_line_of_the_summary(form: str, head: str) -> None:
    for one, said in (
        (report(), "nothing found"),
        (report(not_judged=NOT_JUDGED), "nothing found, 3 not judged"),
        (report(UNDECIDED), "nothing found, 1 not decided"),
        (report(finding(), UNDECIDED, not_judged=NOT_JUDGED), "1 danger, 3 not judged, 1 not decided"),
        (report(waived=(finding(),), left_out=4), "nothing found; hidden: 1 waived, rules left out by the edition: 4"),
    ):
        assert head.format(said) in written(form, one).splitlines()


def test_nothing_found_is_green_only_where_it_stands_alone() -> None:
    for one, green in (
        (report(), True),
        (report(finding()), False),
        (report(not_judged=NOT_JUDGED), False),
        (report(UNDECIDED), False),
        (report(baselined=(finding(),)), False),
    ):
        tally = summary_of(one).tally
        assert ("good" in words_html(tally.words())) is green
        page = index_page([IndexEntry(one, "Wagtail", "wagtail.html")])
        assert ("signal good" in page) is green
        assert all(phrase.words in page for phrase in tally.phrases())
        assert "\x1b[32m" not in written("text", one, look=Look(colour=True))


def test_what_was_not_decided_fails_as_the_rule_that_it_stands_for() -> None:
    total = summary_of(report(UNDECIDED))
    assert (total.failing, total.status, total.below) == (1, 1, 0)
    assert summary_of(report(finding(rule="not-decided", signal="notice"))).below == 1


def test_the_counts_of_several_files_add_up() -> None:
    total = summary_of(report(finding(), UNDECIDED, left_out=4))
    total.add(summary_of(report(finding(), not_judged=NOT_JUDGED, left_out=3)))
    assert total.tally == Tally({"danger": 2, "caution": 0, "notice": 0}, 3, 1, {"left-out": 4})


@pytest.mark.slow
def test_only_so_many_of_a_rule_are_shown_and_all_are_counted() -> None:
    one = report(*hazards(IN_FULL + MORE), finding(rule="hold-idles"))
    words = f"and {MORE} more of hold-bypassed"
    total = summary_of(one)
    assert (total.found["danger"], total.failing, total.tally.hidden) == (
        IN_FULL + MORE + 1,
        258,
        {"only-counted": MORE},
    )
    for form in FORMATS:
        assert words in written(form, one) or form == "json", form
    data = json.loads(written("json", one))
    assert [each["rule"] for each in data["findings"]].count("hold-bypassed") == IN_FULL
    assert data["findings"][-1]["rule"] == "hold-idles"
    assert data["only-counted"] == [
        {"file": "wagtail.toml", "rule": "hold-bypassed", "signal": "danger", "number": MORE}
    ]
    assert written("text", one).count("[hold-bypassed]") == IN_FULL
    suite = etree.fromstring(written("junit", one).encode()).find("testsuite")
    assert suite.find(f"testcase[@name='{words}']/failure").get("type") == "danger"
    (log,) = json.loads(written("sarif", one))["runs"]
    assert len(log["results"]) == IN_FULL + 1


def test_the_other_lists_are_no_longer_either() -> None:
    waived = tuple(
        replace(each, waiver=Waiver("hold-bypassed", "ours", None, None, 0)) for each in hazards(IN_FULL + 3)
    )
    open_rules = tuple(NotJudged("hold-idles", f"x{n} is not given", f"x{n}") for n in range(IN_FULL + 5))
    data = json.loads(written("json", replace(report(not_judged=open_rules), waived=waived)))
    assert (len(data["waived"]), len(data["not-judged"])) == (IN_FULL, IN_FULL)
    assert data["summary"]["not-judged"] == IN_FULL + 5
    assert {name: n for name, n in data["summary"]["unlisted"].items() if n} == {"waived": 3, "not-judged": 5}


def test_a_comment_counts_what_it_does_not_show() -> None:
    """In Markdown, where there is less room than for the first of a rule."""
    said = written("markdown", report(*hazards(2_000)))
    shown = said.count("hold-bypassed`)")
    assert "and 1,800 more of hold-bypassed" in said
    assert f"Not shown here, to save space: {IN_FULL - shown:,} dangers" in said


def test_the_first_of_a_rule_are_those_of_its_gravest() -> None:
    one = report(*hazards(IN_FULL), finding(subject="last", signal="notice"), finding(rule="part-unused"))
    assert [(each.rule, each.signal, each.number) for each in summary_of(one).overflow] == [
        ("hold-bypassed", "notice", 1)
    ]


def test_a_number_that_nobody_reads_is_a_power_of_ten() -> None:
    many = replace(report(), states=3 * 10**299)
    for form in ("text", "markdown"):
        assert "over about 10^299 states of the controls" in written(form, many).replace("\n", " ")
    assert json.loads(written("json", many))["summary"]["states"] == 3 * 10**299
    assert "over 1,000,000,000,000,000 states" in written("markdown", replace(many, states=10**15))


def test_rules_that_an_edition_leaves_out_are_counted() -> None:
    loaded = setuplint.load_text(REFERENCE)
    found = run.lint(loaded.texts, loaded.model, (), choices=Choices(left_out=frozenset(("hold-slow", "part-unused"))))
    assert summary_of(found).tally.text() == "nothing found; hidden: rules left out by the edition: 2"


def test_what_is_kept_apart_is_said_alike_in_text_and_markdown() -> None:
    one = report(waived=(finding(waiver=Waiver("hold-bypassed", "a glider", None, None, 0)),), baselined=(finding(),),
                 text=f'{SETUP}[[waivers]]\nrule = "hold-bypassed"\n')  # fmt: skip
    for words in ("Waived: 1 (hold-bypassed 1).", "In the baseline: 1 danger.", "without an end: a glider"):
        for form in ("text", "markdown"):
            assert words in " ".join(written(form, one).replace("\\", "").split()), form


def test_dangers_come_first_then_cautions_then_notices_each_by_place() -> None:
    mixed = report(
        finding(signal="notice"), finding(signal="danger", subject="b"), finding(signal="caution"), finding(subject="a")
    )
    ordered = run.in_order(mixed)
    assert [(each.signal, each.subject) for each in ordered.findings] == [
        ("danger", "a"), ("danger", "b"), ("caution", "motor"), ("notice", "motor"),
    ]  # fmt: skip
