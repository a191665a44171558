"""SARIF 2.1.0: by OASIS's schema, by what its prose asks, and what a reader gets from it."""

from __future__ import annotations

import json
import os
import re
import unicodedata
from dataclasses import replace
from datetime import date
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from jsonschema import Draft7Validator

from setuplint.book import rulebook
from setuplint.findings import Edit, Finding, Place, Remark, Report
from setuplint.formats.passed_over import PassedOver
from setuplint.formats.reports import report_writer, sarif
from setuplint.formats.sarif_places import message_words, path_in_root, root_of
from setuplint.formats.summary import Summary, summary_of
from setuplint.formats.terminal import Look
from setuplint.setup import Texts
from setuplint.setup.model import Waiver
from setuplint.source import Span, parsed_document
from tests import once
from tests.formats.made import HELD, NOT_JUDGED, SETUP, finding, report
from tests.formats.sarif_rules_of_prose import check
from tests.rules.edits import example_text

Object = dict[str, Any]
NAME = "wagtail.toml"
WAIVED = '[[waivers]]\nrule = "hold-bypassed"\nreason = "a glider"\n'
EVIL = '{0} [x](http://evil) {{ }} \x1b[2J\u202e "<b>" \\ \u2028'


@pytest.fixture(autouse=True)
def _apart(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """In a work tree of its own."""
    (tmp_path / ".git").mkdir()
    monkeypatch.chdir(tmp_path)


def text_of(*reports: Report, fail_on: str = "caution", **changed: Any) -> str:
    out = report_writer("sarif", Look())
    total = Summary(fail_on)
    text = ""
    for one in reports:
        text += out.add(sarif.section(one, Look()))
        total.add(summary_of(one, fail_on))
    for key, value in changed.items():
        setattr(total, key, value)
    return text + out.end(total)


def log_of(*reports: Report, **changed: Any) -> Object:
    log: Object = json.loads(text_of(*reports, **changed))
    return log


def run_of(*reports: Report, **changed: Any) -> Object:
    run: Object = log_of(*reports, **changed)["runs"][0]
    return run


def texts_of(*reports: Report) -> dict[str, str]:
    return {document.name: document.text for one in reports for document in one.texts}


def waived(**changed: Any) -> Finding:
    return finding(waiver=Waiver("hold-bypassed", "a glider", None, date(2027, 4, 1), 0), **changed)


ODD = {
    "none": report(),
    "one": report(finding()),
    "not judged": report(not_judged=NOT_JUDGED),
    "waived": report(waived=(waived(),), text=SETUP + WAIVED),
    "baselined": report(baselined=(finding(),)),
    "steps": report(finding(steps=({}, {"hold": "on"}, {"throttle": 2.5, "hold": "off"}), status="advice")),
    "a movement": report(finding(then="then hold to on")),
    "no outputs": report(finding(outputs={}, witness={"pack": Fraction("21.3"), "link": "lost"})),
    "at rest": report(finding(witness={})),
    "no case": report(finding(witness={}, outputs={})),
    "empty file": report(finding(primary=Place(), related=()), text=""),
    "an edit": report(finding(edit=Edit(HELD, "100"), estimate="some 12 m")),
    "hostile": report(
        finding(
            message=EVIL, subject=EVIL, why=EVIL, remedy=EVIL, then=EVIL, assumed=(EVIL,), outputs={EVIL: Fraction(1)},
            witness={EVIL: EVIL, "hold": EVIL}, primary=Place(("overrides",), EVIL),
        )
    ),
    "remarks": report(remarks=(Remark("ends-soon", "ends in 3 days", Place(("craft",))),)),
    "odd lines": report(finding(primary=Place(span=Span(0, 12))), text="# é\r\n# 🚁\u2028\rx\n\n"),
    "a line's end": report(finding(primary=Place(span=Span(3, 9)), related=()), text="abc\r\ndef\r\n"),
}  # fmt: skip


@pytest.mark.quick(2)
@pytest.mark.parametrize("name", ODD)
def test_made_reports_keep_to_schema_and_prose(sarif_schema: Draft7Validator, name: str) -> None:
    beside = report(finding(), name="beside.toml")
    log = log_of(ODD[name], beside, troubles=["cannot read x"], passed_over=[PassedOver("y.toml", "link-out")])
    sarif_schema.validate(log)
    check(log, texts_of(ODD[name], beside))


@pytest.mark.slow
def test_examples_of_the_book_keep_to_schema_and_prose(sarif_schema: Draft7Validator) -> None:
    reports = []
    for rule in list(rulebook.rules())[::4]:
        example = next((each for each in rulebook.page(rule).examples if each.speaks and each.beside is None), None)
        if example is not None:
            reports.append(once.lint_text(example_text(example), f"{rule}.toml"))
    log = log_of(*reports)
    sarif_schema.validate(log)
    check(log, texts_of(*reports))
    results = log["runs"][0]["results"]
    assert len(results) == sum(len(each.findings) + len(each.not_judged) + len(each.waived) for each in reports)
    spoken = {each["ruleId"] for each in results if each["kind"] == "fail"}
    assert {each.name[:-5] for each in reports} - spoken <= {"record-missing"}  # asked where a club asks for it
    assert sum("codeFlows" in each for each in results) == sum(
        bool(one.witness or one.steps or one.outputs) for each in reports for one in (*each.findings, *each.waived)
    )


def test_the_schema_refuses_what_is_wrong(sarif_schema: Draft7Validator) -> None:
    log = log_of(report(finding()))
    log["runs"][0]["results"][0]["level"] = "danger"
    assert not sarif_schema.is_valid(log)


def test_a_result_says_what_happens_and_where() -> None:
    (result,) = run_of(report(finding()))["results"]
    assert result["ruleId"] == "hold-bypassed"
    assert result["level"] == "error"
    assert result["message"]["text"].split("\n\n") == [
        "with hold on, rescue-power drives the motor at +55 %.",
        "On the bench: put hold on, pull save: the motor channel gives +55 % (77.5 of 100, 1775 µs).",
        "Remedy: Give held a priority above 50.",
    ]
    physical = result["locations"][0]["physicalLocation"]
    assert physical["artifactLocation"] == {"uri": NAME, "uriBaseId": "%SRCROOT%"}
    start = SETUP.index("50\n")
    assert physical["region"] == {
        "startLine": 25, "startColumn": 12, "endLine": 25, "endColumn": 14, "charOffset": start, "charLength": 2,
    }  # fmt: skip
    (other,) = result["relatedLocations"]
    assert (other["id"], other["message"]["text"]) == (1, "the hold ranks here")
    assert other["physicalLocation"]["region"]["startLine"] == 20
    assert result["suppressions"] == []
    assert result["properties"] == {"signal": "danger", "status": "proved", "subject": "motor"}


def test_the_case_is_a_flow_through_the_controls() -> None:
    (result,) = run_of(report(finding()))["results"]
    places = result["codeFlows"][0]["threadFlows"][0]["locations"]
    assert [(each["location"]["message"]["text"], line(each)) for each in places] == [
        ("put hold on", "[switches.hold]"),
        ("pull save", "[switches.save]"),
        ("the motor channel gives +55 % (77.5 of 100, 1775 µs)", "priority = 50"),
    ]
    assert [each["state"] for each in places] == [
        {"hold": {"text": "on"}}, {"save": {"text": "pulled"}}, {"motor": {"text": "55 %"}},
    ]  # fmt: skip


def test_steps_from_power_up_are_in_their_order() -> None:
    steps = ({"hold": "on"}, {"save": "pulled", "hold": "off"})
    (result,) = run_of(report(finding(steps=steps, then="then save to released")))["results"]
    places = result["codeFlows"][0]["threadFlows"][0]["locations"]
    said = [each["location"]["message"]["text"] for each in places]
    assert said[:2] == ["switch on with hold on", "pull save, put hold off"]
    assert said[2].startswith("let go of save")
    assert said[3].startswith("the motor channel gives +55 %")
    assert [line(each) for each in places[:3]] == ["[switches.hold]", "[switches.save]", "[switches.save]"]
    assert [each["executionOrder"] for each in places] == [1, 2, 3, 4]


def line(place: Object) -> str:
    region = place["location"]["physicalLocation"]["region"]
    return SETUP.splitlines()[region["startLine"] - 1]


def test_what_is_waived_is_suppressed_where_the_waiver_stands() -> None:
    one = report(finding(), waived=(waived(subject="b"),), text=SETUP + WAIVED)
    open_, hidden = run_of(one)["results"]
    assert open_["suppressions"] == []
    (suppression,) = hidden["suppressions"]
    assert (suppression["kind"], suppression["status"]) == ("inSource", "accepted")
    assert suppression["justification"] == "a glider"
    assert suppression["properties"] == {"until": "2027-04-01"}
    region = suppression["location"]["physicalLocation"]["region"]
    assert (SETUP + WAIVED).splitlines()[region["startLine"] - 1] == "[[waivers]]"


def test_what_a_baseline_holds_is_suppressed_outside() -> None:
    (result,) = run_of(report(baselined=(finding(),)))["results"]
    assert [each["kind"] for each in result["suppressions"]] == ["external"]


def test_what_is_not_judged_is_open() -> None:
    results = run_of(report(not_judged=NOT_JUDGED))["results"]
    assert [(each["ruleId"], each["kind"], each["level"]) for each in results] == [
        (each.rule, "open", "none") for each in NOT_JUDGED
    ]
    assert "craft.hover-throttle is not given" in results[0]["message"]["text"]


def test_a_fix_is_the_edit_and_nothing_more() -> None:
    text = "\ufeff" + SETUP.replace("\n", "\r\n").replace("priority = 10", "priority = 10  # é 🚁 low")
    one = report(finding(edit=Edit(HELD, "100")), finding(edit=Edit(("overrides", "held", "x"), "1")), text=text)
    for result, changed in zip(run_of(one)["results"], ("priority = 100", "priority = 10"), strict=True):
        (replacement,) = result["fixes"][0]["artifactChanges"][0]["replacements"]
        region = replacement["deletedRegion"]
        before = one.document.text
        start, end = region["charOffset"], region["charOffset"] + region["charLength"]
        after = before[:start] + replacement["insertedContent"]["text"] + before[end:]
        assert changed in after
        assert len(after) - len(before) == len(replacement["insertedContent"]["text"]) - region["charLength"]
        assert parsed_document(after).problems == []
        assert parsed_document(after).values != one.document.values


def test_a_text_is_not_read_again_for_thousands_of_fixes(monkeypatch: pytest.MonkeyPatch) -> None:
    one = report(finding(edit=Edit(HELD, "100")), finding(edit=Edit(HELD, "90")), finding())
    monkeypatch.setattr(sarif, "MOST_READ", 2 * len(one.document.text))
    assert ["fixes" in result for result in run_of(one)["results"]] == [True, True, False]
    monkeypatch.setattr(sarif, "MOST_READ", 2 * len(one.document.text) - 1)
    monkeypatch.setattr(sarif, "replacement", lambda *_: pytest.fail("the text was read again"))
    results = run_of(one)["results"]
    assert ["fixes" in result for result in results] == [False] * 3
    assert ["left out" in result["properties"].get("fix", "") for result in results] == [True, True, False]


def test_a_place_in_a_shared_part_leads_there_and_back() -> None:
    own = parsed_document('extends = "radio.toml"\nformat = 1\n', NAME)
    shared = parsed_document('format = 1\n[switches.hold]\nkind = "two-position"\n', "radio.toml")
    values = {**own.values, **shared.values}
    texts = Texts(own, [shared], values, {("switches",): shared, ("switches", "hold"): shared})
    place = Place(("switches", "hold"))
    edit = Edit(("switches", "hold", "kind"), '"momentary"')
    one = Report(NAME, texts, (finding(primary=place, related=(place,), edit=edit, witness={"hold": "on"}),))
    (result,) = run_of(one)["results"]
    assert result["locations"][0]["physicalLocation"]["artifactLocation"]["uri"] == "radio.toml"
    back = result["relatedLocations"][-1]
    assert back["physicalLocation"]["artifactLocation"]["uri"] == NAME
    assert [each["id"] for each in result["relatedLocations"]] == [1, 2]
    assert "fixes" not in result


def test_fingerprints_stay_when_lines_move_and_where_the_command_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "club").mkdir()

    def prints(name: str, text: str = SETUP) -> list[str]:
        return [
            each["partialFingerprints"]["setuplint/v1"]
            for each in run_of(report(finding(), name=name, text=text))["results"]
        ]

    here = prints("club/a.toml")
    assert prints("./club/a.toml", "# moved\n\n" + SETUP) == here
    assert prints("b.toml") != here
    monkeypatch.chdir("club")
    assert prints("a.toml") == here
    assert prints(str(tmp_path / "club" / "a.toml")) == here


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "uri", "based"),
    [
        ("a b.toml", "a%20b.toml", True),
        ("./x/é.toml", "x/%C3%A9.toml", True),
        ("c:d.toml", "c%3Ad.toml", True),
        ("50%25.toml", "50%2525.toml", True),
        ("#?.toml", "%23%3F.toml", True),
        ("../up.toml", "../up.toml", False),
        ("/else/a b.toml", "file:///else/a%20b.toml", False),
    ],
)
def test_files_go_by_their_path_from_the_root(name: str, uri: str, based: bool) -> None:
    place = run_of(report(finding(), name=name))["results"][0]["locations"][0]["physicalLocation"]["artifactLocation"]
    assert place == {"uri": uri} | ({"uriBaseId": "%SRCROOT%"} if based else {})


def test_a_name_that_is_no_text_leads_to_its_file(tmp_path: Path) -> None:
    (tmp_path / os.fsdecode(b"\xff.toml")).touch()
    assert path_in_root("\\xff.toml") == os.fsdecode(b"\xff.toml")
    place = run_of(report(finding(), name="\\xff.toml"))["results"][0]["locations"][0]["physicalLocation"]
    assert place["artifactLocation"]["uri"] == "%FF.toml"
    assert path_in_root("\\xfe.toml") == "\\xfe.toml"


def test_the_root_is_the_work_tree_else_the_folder(tmp_path: Path) -> None:
    (tmp_path / "a" / "b").mkdir(parents=True)
    assert root_of(str(tmp_path / "a" / "b")) == str(tmp_path)
    (tmp_path / "a" / ".git").write_text("gitdir: x", encoding="utf-8")
    assert root_of(str(tmp_path / "a" / "b" / "none")) == str(tmp_path / "a")


def test_no_path_of_the_machine_and_no_time(tmp_path: Path) -> None:
    text = text_of(report(finding()), report(finding(), name=str(tmp_path / "b.toml")), troubles=["x"])
    assert str(tmp_path) not in text
    assert not re.search(r"[Tt]imeUtc|\d\d:\d\d:\d\d", text)
    assert text.isascii()
    assert text == text_of(report(finding()), report(finding(), name=str(tmp_path / "b.toml")), troubles=["x"])


def test_rules_are_listed_once_with_their_pages() -> None:
    rules = run_of(report(finding()), report(finding(), name="b.toml"))["tool"]["driver"]["rules"]
    assert [rule["id"] for rule in rules] == sorted(rulebook.rules())
    rule = next(rule for rule in rules if rule["id"] == "hold-bypassed")
    page = rulebook.page("hold-bypassed").rule
    assert rule["name"] == "HoldBypassed"
    assert rule["shortDescription"]["text"] == page.title
    assert rule["fullDescription"]["text"] == " ".join(page.why.split())
    assert rule["defaultConfiguration"] == {"level": "error"}
    assert rule["properties"] == {
        "signal": "danger",
        "tags": ["safety", "danger", "check" if page.check else "claim"],
        "limits": {"patience": {"value": 0.5, "unit": "s", "basis": "practice"}},
    }
    assert "**Remedy.**" in rule["help"]["markdown"]
    assert "Remedy:" in rule["help"]["text"]


def test_a_clubs_rule_is_found_by_its_name() -> None:
    club = replace(rulebook.rules()["hold-bypassed"], name="club-own", check=None, never="hold called")
    log = log_of(report(finding(rule="club-own")), clubs={"club-own": club})
    check(log, texts_of(report()))
    assert "ruleIndex" not in log["runs"][0]["results"][0]
    assert log["runs"][0]["tool"]["driver"]["rules"][-1]["id"] == "club-own"


def test_the_run_says_how_it_went() -> None:
    (good,) = run_of(report(finding()))["invocations"]
    assert (good["executionSuccessful"], good["exitCode"]) == (True, 1)
    assert [each["level"] for each in good["toolExecutionNotifications"]] == ["note"]
    assert "not a clearance to fly" in good["toolExecutionNotifications"][-1]["message"]["text"]
    (bad,) = run_of(troubles=["cannot read x"])["invocations"]
    assert (bad["executionSuccessful"], bad["exitCode"]) == (False, 2)
    assert bad["toolExecutionNotifications"][0] == {
        "level": "error",
        "message": {"text": "Not checked: cannot read x."},
    }
    (clean,) = run_of(report())["invocations"]
    assert clean["exitCode"] == 0
    (said,) = run_of(ODD["remarks"])["invocations"]
    assert said["toolConfigurationNotifications"][0]["message"]["text"] == "ends in 3 days."


@example("\u1680")
@given(st.text(st.characters(exclude_categories=()), max_size=60))
def test_words_are_shown_as_they_are(text: str) -> None:
    """A reader that undoes what 3.11.5 and 3.11.6 ask for has the text, and nothing that drives a terminal."""
    shown = message_words(text)
    assert "](" not in re.sub(r"\\[\[\]]", "", shown)
    undone = re.sub(r"\\([\[\]])", r"\1", shown) if "\\](" in shown else shown
    undone = undone.replace("{{", "{").replace("}}", "}")
    driving = [c for c in undone if not c.isprintable() and unicodedata.category(c) != "Zs"]  # spaces drive nothing
    assert not driving or "\n" in text
    if text.isascii() and text.isprintable() and "\\" not in text:
        assert undone == text
