"""`lint` by a setuplint.toml: which findings, which status, what it says of itself."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

import setuplint
from setuplint.cli import lint_run
from tests.cli.running import Command
from tests.club.made import HAZARD, REFERENCE, claim, write

NOTICE = f"{REFERENCE}\n[curves.spare]\npoints = [[-100, 0], [100, 0]]\n"
WAIVED = '{0}[[waivers]]\nrule = "hold-bypassed"\nreason = "the bench stand"\nuntil = {1}\n'


def test_without_one_the_newest_edition_is_used_and_that_is_said(club: Path, command: Command) -> None:
    assert "Rules: edition 2026, the newest: no setuplint.toml names one." in command("lint", ".").words
    write(club, {"setuplint.toml": ""})
    assert "Rules: edition 2026, by setuplint.toml, which names none: the newest." in command("lint", ".").words
    write(club, {"setuplint.toml": "edition = 2026"})
    ran = command("lint", ".")
    assert "Rules: edition 2026, by setuplint.toml. " in ran.words
    assert "Passed over" not in ran.words
    sets = json.loads(command("lint", ".", "--format", "json").out)["summary"]["rule-sets"]
    assert sets == [{"edition": 2026, "pinned": True, "config": "setuplint.toml", "files": 1}]


def test_the_least_that_fails_is_the_repositorys_and_an_option_wins(club: Path, command: Command) -> None:
    write(club, {"wagtail.toml": NOTICE})
    assert command("lint", ".").status == 0
    write(club, {"setuplint.toml": 'fail-on = "notice"'})
    assert command("lint", ".").status == 1
    assert command("lint", ".", "--fail-on", "caution").status == 0
    assert command("lint", "-", stdin=NOTICE.encode()).status == 1
    assert command("lint", "-", "--name", "elsewhere/x.toml", stdin=NOTICE.encode()).status == 1


def test_folders_have_their_own(club: Path, command: Command) -> None:
    write(club, {"a/x.toml": NOTICE, "b/y.toml": NOTICE, "a/setuplint.toml": 'fail-on = "notice"\nedition = 2026'})
    assert command("lint", "b").status == 0
    ran = command("lint", ".")
    assert ran.status == 1
    assert "3 setups: 2 notices. 1 is below the least that fails." in ran.words
    assert "Rules: edition 2026, by a/setuplint.toml (1 setup)." in ran.words
    assert "the newest: no setuplint.toml names one (2 setups)." in ran.words
    summary = json.loads(command("lint", ".", "--format", "json").out)["summary"]
    assert (summary["fail-on"], summary["mixed"], summary["failing"], summary["below"]) == ("notice", True, 1, 1)


def test_claims_of_the_club_are_proved_like_ours(club: Path, command: Command) -> None:
    write(club, {"setuplint.toml": 'rules = ["club-rules"]', "club-rules/too-strong.toml": claim()})
    ran = command("lint", "wagtail.toml")
    assert ran.status == 1
    assert ": caution: Too strong" in ran.out
    assert "[too-strong]" in ran.out
    assert command("lint", "wagtail.toml", "--only", "too-strong").status == 1
    assert command("lint", "wagtail.toml", "--only", "hold-slow").status == 0
    assert command("lint", ".", "--rules", "club-rules").status == 1, "named twice, it is taken once"
    wrong = command("lint", ".", "--only", "to-strong")
    assert (wrong.status, wrong.err) == (2, "setuplint: there is no rule to-strong; did you mean too-strong?\n")


def test_a_claim_about_what_a_craft_does_not_have_is_not_judged_there(club: Path, command: Command) -> None:
    gear = claim("output gear > 60 and gear-up is on")
    write(club, {"setuplint.toml": 'rules = ["club-rules"]', "club-rules/gear.toml": gear})
    ran = command("lint", "wagtail.toml")
    assert ran.status == 0
    assert "gear: because there is no channel “gear”" in ran.words


def test_two_folders_with_a_rule_of_one_name(club: Path, command: Command) -> None:
    write(club, {"a/too-strong.toml": claim(), "b/too-strong.toml": claim(), "setuplint.toml": 'rules = ["a"]'})
    ran = command("lint", ".", "--rules", "b")
    assert (ran.status, ran.out) == (2, "")
    assert "there is a rule too-strong already" in ran.err
    write(club, {"c/setuplint.toml": 'rules = ["../b"]', "c/y.toml": REFERENCE})
    ran = command("lint", ".", "--only", "too-strong")
    assert (ran.status, ran.out) == (2, ""), "a nearer file does not put another in its place"
    assert ran.err.startswith("setuplint: c/setuplint.toml:1:9: b/too-strong.toml: there is a rule too-strong already")


def test_limits_of_the_club(club: Path, command: Command) -> None:
    write(club, {"setuplint.toml": "limits.voltage-alarm-below-floor.floor-lipo = 3.7"})
    ran = command("lint", ".")
    assert ran.status == 1
    assert "[voltage-alarm-below-floor]" in ran.out
    page = command("explain", "voltage-alarm-below-floor").words
    assert "floor-lipo: 3.7 V (the club's; in the book 3.3 V, common practice" in page
    assert "floor-lihv: 3.3 V (common practice" in page


def test_explain_knows_the_clubs_rules(club: Path, command: Command) -> None:
    write(club, {"setuplint.toml": 'rules = ["club-rules"]', "club-rules/too-strong.toml": claim()})
    assert "too-strong" in command("explain").out
    page = command("explain", "too-strong")
    assert page.status == 0
    assert "never: output motor > 60." in page.words
    wrong = command("explain", "to-strong")
    assert wrong.err == "setuplint: there is no rule to-strong; did you mean too-strong?\n"
    write(club, {"setuplint.toml": "rules = 3"})
    assert command("explain").status == 2


def test_what_may_never_be_waived(club: Path, command: Command) -> None:
    write(club, {"wagtail.toml": WAIVED.format(HAZARD, "2099-01-01")})
    passed = command("lint", ".")
    assert passed.status == 0
    assert "Waived: 1 (hold-bypassed 1)." in passed.words
    assert "danger hold-bypassed of rescue-power, until 2099-01-01: the bench stand" in passed.words
    write(club, {"setuplint.toml": 'never-waive = ["danger"]'})
    for options in ([], ["--fail-on", "danger"], ["--only", "hold-bypassed"]):
        ran = command("lint", ".", *options)
        assert ran.status == 1, "no option of the command loosens it"
        assert "hides nothing: setuplint.toml has a danger under never-waive" in ran.words
        assert "Waived" not in ran.words


def test_an_end_is_announced_and_fails_nothing(club: Path, command: Command) -> None:
    write(club, {"wagtail.toml": WAIVED.format(HAZARD, "2027-04-01")})
    ran = command("lint", ".", "--today", "2027-03-20")
    assert ran.status == 0
    assert "holds until 2027-04-01: its last day is in 12 days." in ran.words
    expired = command("lint", ".", "--today", "2027-04-02")
    assert expired.status == 1
    assert "[waiver-expired]" in expired.out


def test_an_audit(club: Path, command: Command) -> None:
    write(club, {"wagtail.toml": WAIVED.format(HAZARD, "2099-01-01")})
    ran = command("lint", ".", "--no-waivers")
    assert ran.status == 1
    assert "Waived: until 2099-01-01: the bench stand" in ran.words
    assert "Waivers hide nothing here: 1 finding is waived." in ran.words
    (finding,) = json.loads(command("lint", ".", "--no-waivers", "--format", "json").out)["findings"]
    assert finding["waiver"] == {"reason": "the bench stand", "until": "2099-01-01"}


@pytest.mark.parametrize("words", [("lint", "."), ("lint", "a/b/x.toml"), ("lint", "-"), ("explain",)])
def test_a_broken_one_is_one_message_and_status_2(words: tuple[str, ...], club: Path, command: Command) -> None:
    write(club, {"setuplint.toml": "edition = 2026\nfail_on = 'danger'\n", "a/b/x.toml": REFERENCE})
    ran = command(*words)
    assert (ran.status, ran.out) == (2, "")
    assert ran.err == "setuplint: setuplint.toml:2:1: unknown key “fail_on”; did you mean fail-on?\n"


@pytest.mark.slow
def test_many_files_in_many_processes_have_their_own(
    club: Path, command: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    names = {f"{folder}/{number}.toml": NOTICE for folder in "ab" for number in range(20)}
    rules = {"club-rules/too-strong.toml": claim(signal="notice"), "a/setuplint.toml": 'rules = ["../club-rules"]'}
    write(club, names | rules)
    alone = command("lint", ".")
    monkeypatch.setattr(lint_run, "MANY", 10)
    together = command("lint", ".")
    assert alone == together
    assert together.out.count("[too-strong]") == 20
    assert "b/3.toml" not in "".join(row for row in together.out.splitlines() if "[too-strong]" in row)


def test_the_library_agrees_with_the_command(club: Path) -> None:
    write(club, {"setuplint.toml": 'rules = ["club-rules"]', "club-rules/too-strong.toml": claim(), "other.toml": ""})

    def rules(report: setuplint.Report) -> list[str]:
        return [finding.rule for finding in report.findings]

    assert rules(setuplint.lint("wagtail.toml")) == ["too-strong"]
    assert rules(setuplint.lint("wagtail.toml", config=False)) == []
    assert rules(setuplint.lint("wagtail.toml", config="other.toml")) == []
    assert rules(setuplint.lint("wagtail.toml", config=club / "setuplint.toml")) == ["too-strong"]
    assert [rules(r) for r in setuplint.lint_together(["wagtail.toml"])] == [["too-strong"]]
    assert [rules(r) for r in setuplint.lint_together({"wagtail.toml": REFERENCE})] == [[]]
    assert rules(setuplint.lint_text(REFERENCE, "wagtail.toml")) == []
    assert rules(setuplint.lint_text(REFERENCE, "wagtail.toml", config=True)) == ["too-strong"]
    write(club, {"setuplint.toml": "colour = 1"})
    with pytest.raises(ValueError, match=r"^setuplint.toml:1:1: unknown key"):
        setuplint.lint("wagtail.toml")
