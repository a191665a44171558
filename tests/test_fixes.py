"""Mechanical remedies: put where they belong and nothing else touched, and applied only where nothing speaks against."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from itertools import product
from pathlib import Path

import pytest

import setuplint
from setuplint.book import rulebook
from setuplint.budget import WORK_A_FILE
from setuplint.dataclass import field_names
from setuplint.findings import Edit, Finding, NotJudged, Place, Report
from setuplint.fixes import BOM, MOST, objection, remedies
from setuplint.formats.patch import edited_text as edited
from setuplint.formats.remedies import diff
from setuplint.plain.evaluate import Evaluation, evaluate, truth
from setuplint.plain.state import State
from setuplint.setup import Texts
from setuplint.setup.model import Setup
from setuplint.source import parsed_document
from tests import once
from tests.rules.edits import example_text

HAZARDS = Path(__file__).parent.parent / "examples" / "hazards"

REMEDIED = (  # rules that have an example whose remedy is an edit that can be applied
    *("alarm-once", "alarm-silent", "curve-flat-at-hover", "curve-not-monotonic", "curve-overshoot", "expo-harsh"),
    *("failsafe-not-level", "failsafe-runs-motor", "failsafe-wastes-rotor", "flight-time-too-long", "hold-bypassed"),
    *("hold-idles", "hover-off-centre", "hover-too-sharp", "mode-unannounced", "motor-lags", "rescue-too-strong"),
    *("trim-lifts-motor", "voltage-alarm-late", "curve-short-of-full", "hold-slow", "mode-jump", "rescue-lowers-power"),
    *("receiver-alarm-below-floor", "rescue-not-level", "rescue-slow", "rescue-too-weak", "start-in-idle-up"),
    *("start-unguarded", "start-without-hold", "timer-stops-in-flight", "voltage-alarm-below-floor"),
    *(
        "voltage-alarm-nervous",
        "mode-voice-shared",
        "failsafe-held-over",
        "failsafe-keeps-controls",
        "failsafe-drops-gain",
    ),
)


PROVED = (  # of these, the ones that are proved to change outputs only where the hazard was
    *("alarm-once", "alarm-silent", "failsafe-not-level", "failsafe-runs-motor", "failsafe-wastes-rotor"),
    *("flight-time-too-long", "hold-bypassed", "hold-idles", "mode-unannounced", "rescue-too-strong"),
    *("voltage-alarm-late", "receiver-alarm-below-floor", "rescue-too-weak", "start-in-idle-up", "start-unguarded"),
    *("start-without-hold", "timer-stops-in-flight", "voltage-alarm-below-floor", "voltage-alarm-nervous"),
    *("mode-voice-shared", "failsafe-held-over", "failsafe-keeps-controls", "failsafe-drops-gain", "start-stick-up"),
    *("charge-alarm-late", "alarm-voice-shared"),
)


def model(text: bytes) -> Setup:
    return setuplint.load_text(text).model


def spoken(report: Report) -> set[tuple[str, str]]:
    return {(finding.rule, finding.subject) for finding in report.findings}


def commented(text: str) -> bytes:
    """With a mark, line ends of two characters, and a comment at every line that is not part of a longer value."""
    lines = [
        f"{line}  # note {number}" if line and line[0] not in " ]" and not line.endswith("= [") else line
        for number, line in enumerate(text.splitlines())
    ]
    return BOM + "".join(f"{line}\r\n" for line in lines).encode()


@pytest.mark.quick(2)
@pytest.mark.parametrize("rule", REMEDIED)
def test_a_remedied_example_is_silent_and_nothing_new_speaks(rule: str) -> None:
    applied = 0
    for example in rulebook.page(rule).examples:
        if not example.speaks or example.beside is not None:
            continue
        before = commented(example_text(example))
        report = once.lint_text(before)
        if not any(finding.edit and finding.rule == rule for finding in report.findings):
            continue
        found = remedies(before, report, once.lint_text)
        after = once.lint_text(found.data)
        gone = {(finding.rule, finding.subject) for finding in found.applied}
        assert not gone & spoken(after)
        assert spoken(after) <= spoken(report) - gone
        assert {note.rule for note in after.not_judged} <= {note.rule for note in report.not_judged}
        again = remedies(found.data, after, once.lint_text)
        assert (again.data, again.applied) == (found.data, ())
        assert found.data.startswith(BOM)
        assert found.data.count(b"\r\n") == found.data.count(b"\n")
        assert re.findall(b"# note [0-9]+", found.data) == re.findall(b"# note [0-9]+", before)
        applied += any(finding.rule == rule for finding in found.applied)
    assert applied


@pytest.mark.quick(1)
@pytest.mark.parametrize("rule", REMEDIED)
def test_a_remedy_is_applied_where_it_is_proved_and_offered_elsewhere(rule: str) -> None:
    applied = 0
    for example in rulebook.page(rule).examples:
        if not example.speaks or example.beside is not None or applied > 1:
            continue
        before = example_text(example).encode()
        report = once.lint_text(before)
        found = remedies(before, report, once.lint_text, {rule}, model)
        applied += len(found.applied)
        old, new = model(before), model(found.data)
        changed = list(where_outputs_change(old, new)) if found.applied else []
        for finding in found.applied:
            for state, one in changed:
                assert finding.hazard
                assert truth(old, finding.hazard, state, one) is True
        for offer in found.offered:
            assert offer.because
    assert bool(applied) == (rule in PROVED)


def where_outputs_change(old: Setup, new: Setup) -> Iterator[tuple[State, Evaluation]]:
    """By the plain evaluator: every place of the switches, sticks by every tenth of their travel, one after the other."""
    channels = touched(old, new)
    switches = [[(s.name, p) for p in s.positions] for s in old.switches.values()]
    rest = {s.name: s.rest for s in old.sticks.values()}
    for places in product(*switches) if channels else ():
        for stick in rest:
            for at in range(-100, 101, 20):
                readings = dict.fromkeys(old.sensors, "unheard")
                state = State(dict(places), {**rest, stick: Fraction(at)}, readings, Fraction(4))
                one, two = evaluate(old, state), evaluate(new, state)
                if any(one.outputs[name] != two.outputs[name] for name in channels):
                    yield state, one


def touched(old: Setup, new: Setup) -> list[str]:
    """The channels that are another in the new setup, or that another override may decide: all of them, where anything differs
    that is neither one of these, nor heard by the pilot alone, nor about what may be begun with."""
    apart = {"channels", "overrides", "alarms", "timers", "failsafe", "claims", "waivers", "declared", "start"}
    assert old.channels.keys() == new.channels.keys()
    if any(getattr(old, name) != getattr(new, name) for name in field_names(old) if name not in apart):
        return list(old.channels)

    def parts(setup: Setup, channel: str) -> list[object]:
        return [setup.channels[channel], *(o for o in setup.overrides.values() if o.channel == channel)]

    return [name for name in old.channels if parts(old, name) != parts(new, name)]


def test_a_remedy_that_changes_more_says_where() -> None:
    before = (HAZARDS / "curve-dips-when-smoothed.toml").read_bytes()
    found = remedies(before, once.lint_text(before), once.lint_text, None, model)
    assert (found.data, found.applied) == (before, ())
    assert [offer.because.partition(":")[0] for offer in found.offered] == [
        "it also changes motor where the hazard is not"
    ]


def test_a_hold_that_is_raised_above_more_than_the_hazard_is_only_offered() -> None:
    text = (HAZARDS / "rescue-beats-hold.toml").read_text()
    text += (
        '\n[overrides.parked]\nchannel = "motor"\nvalue = -120\nwhen = "hold is on and style is free"\npriority = 140\n'
    )
    report = once.lint_text(text)
    found = remedies(text.encode(), report, once.lint_text, {"hold-bypassed"}, model)
    assert not found.applied
    assert "it also changes motor where the hazard is not: " in found.offered[0].because


@pytest.mark.parametrize(
    ("name", "removed", "added"),
    [
        ("alarm-sounds-once", [], ["repeat = 10"]),
        ("curve-dips-when-smoothed", ['smoothing = "natural"'], ['smoothing = "monotone"']),
        ("equal-priorities", ["priority = 50"], ["priority = 51"]),
        ("failsafe-keeps-throttle", ['motor = "keep"'], ["motor = -100"]),
        ("hold-at-half-throttle", ["value = 0"], ["value = -100"]),
        ("rescue-beats-hold", ["priority = 100"], ["priority = 151"]),
    ],
)
def test_a_hazard_is_mended_by_one_line(name: str, removed: list[str], added: list[str]) -> None:
    before = (HAZARDS / f"{name}.toml").read_bytes()
    found = remedies(before, once.lint_text(before), once.lint_text)
    rows = diff(before.decode(), found.data.decode(), f"{name}.toml").splitlines()
    assert [row[1:] for row in rows[2:] if row.startswith("-")] == removed
    assert [row[1:] for row in rows[2:] if row.startswith("+")] == added
    assert not found.offered
    assert once.lint_text(found.data).findings == ()


@pytest.mark.parametrize(
    ("before", "path", "value", "after"),
    [
        pytest.param("[a]\nx = 1   # one\ny = 2\n", ("a", "x"), "7", "[a]\nx = 7   # one\ny = 2\n", id="given"),
        pytest.param('[a]\r\n"x y"=1\r\n', ("a", "x y"), "[1, 2]", '[a]\r\n"x y"=[1, 2]\r\n', id="quoted"),
        pytest.param("[a]\nx = 1 # b\n\n[c]\n", ("a", "y"), "2", "[a]\nx = 1 # b\ny = 2\n\n[c]\n", id="missing"),
        pytest.param("[a]\nx = [\n 1 ]\n# c\n", ("a", "y"), "2", "[a]\nx = [\n 1 ]\ny = 2\n# c\n", id="after a list"),
        pytest.param("[a]\r\nx = 1\r\n[b]\r\n", ("a", "y"), "2", "[a]\r\nx = 1\r\ny = 2\r\n[b]\r\n", id="CRLF"),
        pytest.param("[a]\nx = 1", ("a", "y"), "2", "[a]\nx = 1\ny = 2", id="no last line end"),
        pytest.param("[a]  # c\n[b]\n", ("a", "y"), "2", "[a]  # c\ny = 2\n[b]\n", id="empty table"),
        pytest.param("  [a]\n    x = 1\n", ("a", "y"), "2", "  [a]\n    x = 1\n    y = 2\n", id="indented"),
        pytest.param(
            "[a]\nx = 1\n[a.b]\nz = 1\n", ("a", "y"), "2", "[a]\nx = 1\ny = 2\n[a.b]\nz = 1\n", id="own lines"
        ),
        pytest.param("[a.b]\nz = 1\n", ("a", "b", "y"), "2", "[a.b]\nz = 1\ny = 2\n", id="under another"),
        pytest.param("[a]\nb.z = 1\nc = 1\n", ("a", "b", "y"), "2", "[a]\nb.z = 1\nb.y = 2\nc = 1\n", id="dotted"),
        pytest.param("[a]\nb.z = 1\n", ("a", "y"), "2", "[a]\nb.z = 1\ny = 2\n", id="beside dotted"),
        pytest.param("a.b.z = 1\n", ("a", "b", "y"), "2", "a.b.z = 1\na.b.y = 2\n", id="twice dotted"),
        pytest.param("a = { x = 1 }\n", ("a", "y"), "2", "a = { x = 1, y = 2 }\n", id="braces"),
        pytest.param("a = {} # c\n", ("a", "y"), "2", "a = { y = 2 } # c\n", id="empty braces"),
        pytest.param(
            "[[a]]\nx = 1\n[[a]]\nx = 2\n", ("a", 0, "y"), "2", "[[a]]\nx = 1\ny = 2\n[[a]]\nx = 2\n", id="list"
        ),
        pytest.param("[b]\nx = 1\n", ("a", "y z"), "2", '[b]\nx = 1\n\n[a]\n"y z" = 2\n', id="missing table"),
        pytest.param(
            "[b]\r\nx = 1", ("a", "c", "y"), "2", "[b]\r\nx = 1\r\n\r\n[a.c]\r\ny = 2\r\n", id="missing tables"
        ),
        pytest.param("x = 1\n[a]\n", ("y",), "2", "x = 1\ny = 2\n[a]\n", id="at the top"),
        pytest.param('["é"]\n"ö" = "ü" # ß\n', ("é", "ö"), '"ä"', '["é"]\n"ö" = "ä" # ß\n', id="not ASCII"),
    ],
)
def test_an_edit_is_put_where_it_belongs(before: str, path: tuple[str | int, ...], value: str, after: str) -> None:
    assert edited(parsed_document(before), Edit(path, value)) == after


@pytest.mark.parametrize(
    ("before", "path", "value"),
    [
        pytest.param("[a]\nx = 1\n", ("a",), "2", id="a whole table"),
        pytest.param("[a]\nx = [ # first\n 1 ]\n", ("a", "x"), "[2]", id="comments within the value"),
        pytest.param("a = { x = 1 }\n", ("a", "b", "y"), "2", id="a table in braces"),
        pytest.param("a = 1\n", ("a", "y"), "2", id="no table"),
        pytest.param("[a]\nx = \n", ("a", "y"), "2", id="not TOML"),
        pytest.param("[a]\nx = 1\n", ("a", "x"), "2\ny = 3", id="more than a value"),
        pytest.param("[[a]]\nx = 1\n", ("a", 3, "x"), "2", id="no such item"),
        pytest.param("[a]\nx = 1\n", (), "2", id="nowhere"),
    ],
)
def test_an_edit_that_does_not_fit_is_not_made(before: str, path: tuple[str | int, ...], value: str) -> None:
    assert edited(parsed_document(before), Edit(path, value)) is None


def finding(rule: str, subject: str = "s", edit: Edit | None = None) -> Finding:
    return Finding(rule, "danger", "m", subject, Place(), edit=edit)


def report(*findings: Finding, waived: tuple[Finding, ...] = (), open: tuple[NotJudged, ...] = ()) -> Report:
    return Report("x", Texts(parsed_document("x = 1\n")), findings, open, waived)


def test_what_speaks_against_a_remedy() -> None:
    one, other = finding("one"), finding("other")
    before = report(one, other)
    assert objection(one, before, report(other)) == ""
    assert objection(one, before, report(one, other)) == "the finding stays"
    assert objection(one, before, report(one)) == "the finding stays"
    assert objection(one, before, report(other, finding("third"))) == "then third reports s"
    assert objection(one, before, report(other, finding("one", "t"))) == "then one reports t"
    assert objection(one, before, report(other, other)) == "then other reports s"
    assert objection(one, before, report(other, waived=(finding("third"),))) == "then third reports s"
    unclear = (NotJudged("one", "because", "s"),)
    assert objection(one, before, report(other, open=unclear)) == "then one cannot be judged of s"
    assert objection(one, report(one, open=unclear), report(open=unclear)) == ""


def test_a_remedy_that_makes_another_rule_speak_is_only_offered() -> None:
    example = next(e for e in rulebook.page("rescue-too-weak").examples if "overrides.rescue-lift" in e.edit)
    before = example_text(example).encode()
    found = remedies(before, once.lint_text(before), once.lint_text)
    assert (found.data, found.applied) == (before, ())
    assert [(offer.finding.rule, offer.because) for offer in found.offered] == [
        ("rescue-too-weak", "then lift-before-level reports rescue-lift")
    ]


def test_a_remedy_that_does_not_help_is_only_offered() -> None:
    before = (HAZARDS / "rescue-beats-hold.toml").read_bytes()
    found = once.lint_text(before)
    useless = replace(found.findings[0], edit=Edit(("overrides", "held", "priority"), "101"))
    result = remedies(before, replace(found, findings=(useless,)), once.lint_text)
    assert result.data == before
    assert [offer.because for offer in result.offered] == ["the finding stays"]


def test_only_the_rules_that_are_named_are_remedied() -> None:
    before = (HAZARDS / "rescue-beats-hold.toml").read_bytes()
    report = once.lint_text(before)
    assert remedies(before, report, once.lint_text, {"alarm-once"})[:3] == (before, (), ())
    assert len(remedies(before, report, once.lint_text, {"hold-bypassed"}).applied) == 1


NOT_TRIED = "not tried: the {} before it took all that may be spent on one file"


def test_a_file_costs_no_more_than_so_many_lints() -> None:
    """Every edit changes the value and none helps."""
    found = tuple(finding("one", f"s{number}", Edit(("x",), "2")) for number in range(MOST + 5))
    lints: list[bytes] = []

    def lint(data: bytes) -> Report:
        lints.append(data)
        return report(*found)

    result = remedies(b"x = 1\n", report(*found), lint)
    assert (len(lints), len(result.offered)) == (MOST, MOST + 5)
    assert [offer.because for offer in result.offered[-5:]] == [NOT_TRIED.format(MOST)] * 5


def test_a_file_costs_no_more_than_so_much_work() -> None:
    """Each of the lints takes a third of what may be spent, the first one too; where one takes all of it, none is made."""
    found = tuple(finding("one", f"s{number}", Edit(("x",), "2")) for number in range(9))
    dear = replace(report(*found), work=WORK_A_FILE // 3)
    result = remedies(b"x = 1\n", dear, lambda data: dear)
    assert [offer.because for offer in result.offered[-5:]] == [NOT_TRIED.format("one")] * 5
    dearest = replace(dear, work=WORK_A_FILE + 1)
    result = remedies(b"x = 1\n", dearest, lambda data: pytest.fail("it was judged once more"))
    assert {offer.because for offer in result.offered} == {
        "not tried: to judge this file once more would take more than may be spent on one"
    }


def test_thousands_of_findings_are_not_compared_with_one_another(monkeypatch: pytest.MonkeyPatch) -> None:
    """Those of ten thousand alarms took seven seconds."""
    found = [finding("one", f"s{number}", Edit(("x",), "2")) for number in range(300)]
    compared: list[object] = []
    monkeypatch.setattr(Finding, "__eq__", lambda one, other: compared.append(other) or one is other)
    result = remedies(b"x = 1\n", replace(report(*found), work=WORK_A_FILE + 1), lambda data: report(*found))
    assert len(result.offered) == 300
    assert not compared


def test_a_diff_keeps_line_ends_and_escapes_what_drives_a_terminal() -> None:
    shown = diff("a\u202e\t1\r\nb\u2028c", "a\u202e\t1\r\nd\u2028c", "x\x1b.toml")
    assert shown == (
        "--- a/x\\x1b.toml\n+++ b/x\\x1b.toml\n@@ -1,2 +1,2 @@\n a\\u202e\t1\r\n-b\\u2028c\n\\ No newline at end of file\n"
        "+d\\u2028c\n\\ No newline at end of file\n"
    )
