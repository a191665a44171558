"""Markdown for a pull request, as the renderer of a large host of repositories makes HTML of it (cmarkgfm wraps its C code)."""

from __future__ import annotations

import re
from datetime import date
from html import unescape
from typing import Any

import pytest
from cmarkgfm import github_flavored_markdown_to_html
from cmarkgfm.cmark import Options
from hypothesis import example, given
from hypothesis import strategies as st
from lxml import html

from setuplint.findings import SIGNALS, Finding, Place, Remark, Report
from setuplint.formats.markdown_text import LIMIT, byte_size, code_span, escaped, escaped_html, folded, number_table
from setuplint.formats.reports import markdown, report_writer
from setuplint.formats.summary import CAUTION, Summary, summary_of
from setuplint.formats.terminal import Look, plain
from setuplint.setup.model import Waiver
from tests.formats.made import NOT_JUDGED, finding, report

EVIL = (
    "<script>alert(1)</script> <img src=x onerror=y> [click](http://evil.example) ![p](http://evil.example/p.png) "
    "www.evil.example https://evil.example mail@evil.example @everyone #12 GH-12 club/setups#12 :tada: !3 ~bug %1 "
    "| a | b | `code` **bold** _it_ ~~gone~~ $x$ &lt;b&gt; &#64;x <!-- x --> </details> \\*x\\*"
)
MARKS = "`*_[]()<>|~$@#:!&%\\-+=.1aw/\"' \n"
TEXTS = st.text(st.sampled_from(MARKS) | st.characters(exclude_categories=()), max_size=60)
WORDS = st.lists(
    st.sampled_from(
        ("www.a.bc", "http://a.bc", "a@b.cd", "@me", "#1", ":x:", "GH-1", "mailto:a@b.cd", "xmpp:a@b.cd", "ftp://a.b")
    )
    | st.sampled_from(MARKS),
    max_size=12,
).map("".join)
REFERENCE = re.compile(r"@\w|#\w|\bGH-\d|:[\w+-]+:|://|\bwww\.|[!~%]\w", re.IGNORECASE)  # what hosts make links of


def rendered(text: str) -> html.HtmlElement:
    made = github_flavored_markdown_to_html(text, options=Options.CMARK_OPT_UNSAFE)
    return html.fragment_fromstring(made, create_parent="div")


def text_of(*reports: Report, fail_on: str = "caution", **changed: Any) -> str:
    out = report_writer("markdown", Look())
    total = Summary(fail_on)
    text = ""
    for one in reports:
        text += out.add(markdown.section(one, Look(), fail_on))
        total.add(summary_of(one, fail_on))
    for key, value in changed.items():
        setattr(total, key, value)
    return text + out.end(total)


def waived(**changed: Any) -> Finding:
    return finding(waiver=Waiver("hold-bypassed", "a glider", None, date(2027, 4, 1), 0), **changed)


def words(element: html.HtmlElement) -> str:
    return " ".join(element.text_content().replace("\u2060", "").split())


@pytest.mark.parametrize("write", [escaped, escaped_html])
@given(TEXTS | WORDS)
@example(EVIL)
@example("1. x")
@example("- x")
@example("# x")
@example("+ x")
@example("===")
def test_text_is_shown_as_it_is_and_means_nothing(write: Any, text: str) -> None:
    """At the start of a paragraph, in a table's cell, in a list, in a summary."""
    shown = write(text)
    assert "\n" not in shown
    page = rendered(
        f"{shown}\n\n- {shown}\n\n{number_table(['a', shown], [[shown, '1']])}" if write is escaped
        else f"<details><summary>{shown}</summary>\n\nx\n\n</details>"
    )  # fmt: skip
    allowed = {"p", "ul", "li", "table", "thead", "tbody", "tr", "th", "td", "details", "summary"}
    assert {each.tag for each in page.iter() if each is not page} <= allowed
    assert not REFERENCE.search(page.text_content())
    plainly = " ".join(plain(" ".join(text.split())).split())
    parts = page.xpath("//summary") if write is escaped_html else page.xpath("./p | .//li | .//th[2] | .//td[1]")
    assert len(parts) == (1 if write is escaped_html else 4 if plainly else 3)
    for part in parts:
        assert words(part) == plainly


@given(TEXTS | WORDS)
@example(EVIL)
def test_code_is_shown_as_it_is(text: str) -> None:
    page = rendered(f"{code_span(text, 1000)} and no more")
    (span,) = page.xpath(".//code")
    assert words(span) == " ".join(plain(" ".join(text.split())).split())
    assert {each.tag for each in page.iter()} == {"div", "p", "code"}


def test_long_text_is_cut_and_says_so() -> None:
    assert escaped("x" * 5000, 100) == "x" * 100 + "... (4,900 more characters)"


def test_the_verdict_comes_first_and_the_caution_last() -> None:
    text = text_of(report(finding(), finding(signal="notice")))
    page = rendered(text)
    assert words(page[0]) == "setuplint on 1 setup: 1 danger, 1 notice"
    assert words(page[1]) == "This does not pass: 1 finding at or above caution, the least that fails."
    assert words(page[-1]) == CAUTION
    counts = dict(zip([words(x) for x in page.xpath(".//th")], [words(x) for x in page.xpath(".//td")], strict=True))
    assert counts == {
        "setups": "1", "danger": "1", "caution": "0", "notice": "1", "waived": "0", "in the baseline": "0", "not judged": "0",
        "not decided": "0",
    }  # fmt: skip


def test_a_clean_run_passes_and_is_no_clearance() -> None:
    page = rendered(text_of(report()))
    assert words(page[0]) == "setuplint on 1 setup: nothing found"
    assert words(page[1]) == "Passed: nothing at or above caution, the least that fails."
    assert "not a clearance to fly" in words(page)


def test_below_the_threshold_passes() -> None:
    assert "**Passed:** nothing at or above danger" in text_of(report(finding(signal="caution")), fail_on="danger")


def test_what_could_not_be_checked_is_said_at_the_top() -> None:
    page = rendered(text_of(troubles=["cannot read a.toml: no such file"]))
    assert words(page[1]) == "Not everything could be checked."
    assert words(page[2]) == "Not checked: cannot read a.toml: no such file"


def test_a_finding_has_place_message_case_and_remedy_and_the_rest_is_folded() -> None:
    page = rendered(text_of(report(finding())))
    shown = [words(each) for each in page.xpath("./p")]
    assert "danger wagtail.toml:25:12: with hold on, rescue-power drives the motor at +55 % (hold-bypassed)" in shown
    assert "On the bench: put hold on, pull save: the motor channel gives +55 % (77.5 of 100, 1775 µs)." in shown
    assert "Remedy: Give held a priority above 50." in shown
    (details,) = page.xpath(".//details")
    assert words(details.find("summary")) == "Why, and where else"
    assert "A pilot who carries the craft trusts the hold." in words(details)
    assert "wagtail.toml:20:12: the hold ranks here" in words(details)


def test_steps_are_numbered() -> None:
    page = rendered(text_of(report(finding(steps=({"hold": "on"}, {"save": "pulled", "hold": "off"})))))
    (steps,) = page.xpath(".//ol")
    assert [words(each) for each in steps] == [
        "switch on with hold on",
        "pull save, put hold off: motor +55 % (77.5 of 100)",
    ]


def test_what_is_waived_says_why_and_until_when() -> None:
    one = report(waived=(waived(),), remarks=(Remark("ends-soon", "this ends in 3 days", Place(("craft",))),))
    page = rendered(text_of(one))
    listed = [words(each) for each in page.xpath(".//li")]
    assert listed == [
        "wagtail.toml:1:1: danger hold-bypassed of motor, until 2027-04-01: a glider",
        "wagtail.toml:2:1: this ends in 3 days.",
    ]


def test_what_is_not_judged_is_folded_by_its_cause() -> None:
    page = rendered(text_of(report(not_judged=NOT_JUDGED), report(not_judged=NOT_JUDGED[:1], name="b.toml")))
    (details,) = page.xpath(".//details")
    assert words(details.find("summary")) == "Not judged: 4"
    assert [words(each) for each in details.xpath(".//li")] == [
        "rescue-too-weak, rescue-incomplete: because craft.hover-throttle is not given (2 setups)",
        "rescue-not-level: because intent.level is not given (1 setup)",
    ]


def test_the_gravest_come_first_whatever_the_file() -> None:
    one = report(finding(signal="notice", message="c"), finding(signal="caution", message="b"))
    text = text_of(one, report(finding(message="a"), name="z.toml"))
    assert text.index("**danger**") < text.index("**caution**") < text.index("**notice**")


@pytest.mark.quick(1)
@pytest.mark.parametrize("message", ["x", EVIL, "日" * 1400, "<" * 1400])
def test_it_keeps_to_its_length_and_counts_what_is_cut(message: str) -> None:
    findings = [
        finding(signal=SIGNALS[number % 3], message=message, why=message, remedy=message) for number in range(90)
    ]
    reports = [
        report(*findings, name=f"{number}.toml", not_judged=NOT_JUDGED, waived=(waived(),)) for number in range(9)
    ]
    text = text_of(*reports)
    assert byte_size(text) <= LIMIT
    page = rendered(text)
    shown = sum(len(page.xpath(f".//strong[text()='{signal}']")) for signal in SIGNALS)
    cut = re.search(r"Not shown here, to save space: ([^.]+)\.", words(page))
    assert cut is not None
    assert shown + sum(int(each.replace(",", "")) for each in re.findall(r"[\d,]*\d", cut[1])) == 810
    assert words(page).endswith(CAUTION)
    assert page.xpath(".//strong")[1].text == "danger"


def test_dangers_are_kept_before_all_else() -> None:
    many = report(*(finding(signal="caution", message="m" * 900) for _ in range(99)))
    text = text_of(many, report(finding(message="the last"), name="z.toml"))
    assert "the last" in text
    assert "1 danger" not in text[text.index("Not shown here") :]


def test_nothing_of_a_file_is_markup() -> None:
    one = finding(
        message=EVIL, subject=EVIL, why=EVIL, remedy=EVIL, then=EVIL, assumed=(EVIL,), estimate=EVIL, witness={EVIL: EVIL},
        primary=Place(("craft",), EVIL), related=(Place(("craft",), EVIL),),
    )  # fmt: skip
    page = rendered(text_of(report(one, waived=(waived(subject=EVIL),), name=EVIL), troubles=[EVIL]))
    assert not page.xpath(".//a | .//script | .//img | .//del | .//em/*")
    assert len(page.xpath(".//table")) == 1
    for each in page.xpath(".//code"):
        each.text = ""
    assert not REFERENCE.search(page.text_content())
    assert len(page.xpath(".//summary")) == 1


def test_folded_parts_stand_apart() -> None:
    page = rendered(f"a\n\n{folded('t <b>', '**b**')}\n\nc")
    assert [each.tag for each in page] == ["p", "details", "p"]
    assert unescape(words(page[1])) == "t <b> b"
