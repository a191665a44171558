"""What the page tells beside its drawings: waivers, the baseline, estimates, other files, a club's limits."""

from __future__ import annotations

import dataclasses
import html
import json
import re
from datetime import date
from pathlib import Path

import pytest

import setuplint
from setuplint.cli import main
from setuplint.findings import Report
from setuplint.formats.decided_document import decided_document
from setuplint.formats.summary import CAUTION
from setuplint.pages.document_html import document_html
from setuplint.pages.report import report_page

ROOT = Path(__file__).parent.parent.parent
REFERENCE = (ROOT / "examples" / "reference.toml").read_text(encoding="utf-8")
WAIVED = """
[[waivers]]
rule = "hold-bypassed"
reason = "tried on the stand <b>only</b>"
until = 2031-05-02
"""
BROKEN = REFERENCE.replace("priority = 100", "priority = 10")


def words(page: str) -> str:
    """The page's text, without its style and data."""
    bare = re.sub(r"<(style|script).*?</\1>", " ", page, flags=re.DOTALL)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", bare)).split())


def page_of(report: Report, text: str) -> str:
    return report_page(report, setuplint.load_text(text).model)


def test_what_is_waived_is_told_with_its_reason_and_end() -> None:
    text = BROKEN + WAIVED
    report = setuplint.lint_text(text, "wagtail.toml", today=date(2030, 1, 1))
    assert [finding.rule for finding in report.waived] == ["hold-bypassed"]
    page = page_of(report, text)
    line = text[: text.index('[[waivers]]\nrule = "hold-bypassed"')].count("\n") + 1
    assert f"Waived until 2031-05-02: tried on the stand <b>only</b> (wagtail.toml:{line})" in words(page)
    assert "<b>only" not in page
    assert "1 waived" in words(page)


def test_a_refused_or_ending_waiver_is_told() -> None:
    text = BROKEN + WAIVED.replace("2031-05-02", "2030-01-09")
    report = setuplint.lint_text(text, "wagtail.toml", today=date(2030, 1, 1))
    assert report.remarks
    said = words(document_html(decided_document(report)))
    for remark in report.remarks:
        assert remark.message in said


def test_the_baseline_and_an_estimate_are_told() -> None:
    report = setuplint.lint_text(BROKEN, "wagtail.toml")
    (finding,) = (each for each in report.findings if each.rule == "hold-bypassed")
    reckoned = dataclasses.replace(finding, estimate="about 12 m of height")
    other = dataclasses.replace(report, findings=(reckoned,), baselined=(finding,))
    said = words(page_of(other, BROKEN))
    assert "Estimate about 12 m of height" in said
    assert "1 in the baseline" in said
    assert f"danger: {finding.message} [hold-bypassed" in said


def test_what_is_not_judged_is_told_by_what_would_let_it_be() -> None:
    text = REFERENCE.replace("hover-throttle = 16", "")
    report = setuplint.lint_text(text, "wagtail.toml")
    assert report.not_judged
    said = words(page_of(report, text))
    for item in report.not_judged:
        assert f"Because {item.because}: " in said
        assert item.rule in said


def test_nothing_found_says_whether_all_was_judged() -> None:
    whole, part = REFERENCE, REFERENCE.replace("hover-throttle = 16", "")
    for text, open_rules in ((whole, False), (part, True)):
        report = setuplint.lint_text(text, "wagtail.toml")
        assert (report.findings, bool(report.not_judged)) == ((), open_rules)
        page = page_of(report, text)
        said = words(page)
        still_open = f", {len(report.not_judged)} not judged" if open_rules else ""
        assert f"Findings Nothing found{still_open}." in said
        assert ('class="signal good"' in page) is not open_rules  # green only where all was judged


def test_why_is_said_once_and_led_back_to() -> None:
    unused = "".join(f'\n[conditions.spare-{n}]\nwhen = "hold is on"\n' for n in range(3))
    report = setuplint.lint_text(REFERENCE + unused, "wagtail.toml")
    found = [finding for finding in report.findings if finding.rule == "part-unused"]
    assert len(found) == 3
    said = words(page_of(report, REFERENCE + unused))
    assert said.count(" ".join(found[0].why.split())) == 1
    assert said.count("as in finding 1") == 2


def test_a_line_of_a_craft_without_modes_is_named_by_its_curve() -> None:
    path = ROOT / "examples" / "hazards" / "rescue-beats-hold.toml"
    page = report_page(setuplint.lint(path), setuplint.load(path).model).replace("\u00a0", " ")
    assert "</svg>hover-soft, smoothing not known: hovers at +12 %" in page


def test_the_caution_and_the_fingerprint_stand_first() -> None:
    from setuplint.setup.fingerprint import fingerprint

    setup = setuplint.load(ROOT / "examples" / "reference.toml")
    page = page_of(setuplint.lint(ROOT / "examples" / "reference.toml"), REFERENCE)
    head = words(page[: page.index("<main")])
    assert CAUTION in head
    assert f"fingerprint {fingerprint(setup.model)}" in head


def test_a_finding_in_a_shared_part_names_that_file() -> None:
    part = "[switches.spare]\nkind = 'no-such-kind'\n[switches.hold]\nkind = 'two-position'\n"
    own = re.sub(r"\[switches\.hold\]\n.*?\n\n?(?=\[)", "", REFERENCE, count=1, flags=re.DOTALL)
    texts = {"wagtail.toml": own.replace("format = 1", 'format = 1\nextends = "radio.toml"', 1), "radio.toml": part}
    report = setuplint.lint_together(texts)[0]
    places = {report.where(finding.primary).name for finding in report.findings}
    assert "radio.toml" in places
    page = report.to_html()
    for finding in report.findings:
        where = report.where(finding.primary)
        assert f"{where.name}:{where.start[0]}:{where.start[1]}" in page


@pytest.fixture
def club(tmp_path: Path) -> Path:
    (tmp_path / ".git").mkdir()
    limits = '"voltage-alarm-below-floor.floor-lipo" = 3.45'
    (tmp_path / "setuplint.toml").write_text(f"[limits]\n{limits}\n", encoding="utf-8")
    (tmp_path / "wagtail.toml").write_text(REFERENCE, encoding="utf-8")
    return tmp_path


def test_a_clubs_floor_is_the_one_that_is_drawn(club: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["report", str(club / "wagtail.toml")]) == 0
    assert ">floor 3.45 V<" in capsys.readouterr().out.replace("\u00a0", " ")


def test_pages_of_a_folder_say_what_lint_says_of_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Set-ups of one radio are compared with each other: only together is it seen that holds are on different switches."""
    hangar = tmp_path / "hangar"
    hangar.mkdir()
    for number in range(3):
        (hangar / f"wagtail-{number}.toml").write_text(REFERENCE, encoding="utf-8")
    turned = REFERENCE.replace('"hold is on"', '"hold is off"')
    (hangar / "wagtail-9.toml").write_text(turned, encoding="utf-8")
    main(["lint", str(hangar), "--format", "json"])
    rules = {finding["rule"] for finding in json.loads(capsys.readouterr().out)["findings"]}
    alone = {finding.rule for finding in setuplint.lint(hangar / "wagtail-9.toml").findings}
    assert rules - alone
    assert main(["report", str(hangar), "--out", str(tmp_path / "pages")]) == 0
    (page,) = (tmp_path / "pages").glob("*wagtail-9.html")
    said = words(page.read_text(encoding="utf-8"))
    for rule in rules:
        assert f"· {rule} " in said, rule
    index = words((tmp_path / "pages" / "index.html").read_text(encoding="utf-8"))
    assert "4 set-ups:" in index


def test_outputs_are_those_with_the_battery_and_other_packs_are_named() -> None:
    said = "With the battery, of 6 cells: with twelve some may be otherwise."
    for packs, there in (("", False), ("[packs.again]\ncells = 6\n", False), ("[packs.twelve]\ncells = 12\n", True)):
        text = REFERENCE + packs
        assert (said in words(page_of(setuplint.lint_text(text, "wagtail.toml"), text))) is there
