"""Every setuplint.toml down to a setup, taken together: a nearer one only tightens, and what it tries to loosen is said."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

import setuplint
from setuplint.club.policy import file_policy
from tests.cli.running import Command
from tests.club.made import HAZARD, REFERENCE, claim, write

NOTICE = f"{REFERENCE}\n[curves.spare]\npoints = [[-100, 0], [100, 0]]\n"
WAIVED = f'{HAZARD}[[waivers]]\nrule = "hold-bypassed"\nreason = "the bench stand"\n'


def rules(report: setuplint.Report) -> list[str]:
    return [finding.rule for finding in report.findings]


def test_a_nearer_one_voids_nothing(club: Path, command: Command) -> None:
    """`never-waive` and rules are both files'; the library agrees with the command."""
    write(club, {"setuplint.toml": 'never-waive = ["danger"]\nrules = ["club-rules"]'})
    write(club, {"club-rules/too-strong.toml": claim(), "more/too-weak.toml": claim("output motor < -101")})
    write(club, {"a/setuplint.toml": 'never-waive = ["too-strong"]\nrules = ["../more"]', "a/kestrel.toml": WAIVED})
    ran = command("lint", "a/kestrel.toml")
    assert ran.status == 1
    assert "[hold-bypassed]" in ran.out
    assert "[too-strong]" in ran.out
    assert "Rules: edition 2026, by setuplint.toml, a/setuplint.toml, which names none" in ran.words
    assert sorted(rules(setuplint.lint("a/kestrel.toml"))) == ["hold-bypassed", "too-strong"]
    assert command("lint", "a", "--only", "too-weak").status == 0, "the nearer one's rules are judged too"


LOOSER = {
    "fail-on = 'caution'": (1, 11, "fail-on caution does not count: setuplint.toml has notice"),
    "[limits]\nhold-slow.longest = 0.45": (
        2,
        21,
        "hold-slow.longest = 0.45 does not count: 0.4 holds by setuplint.toml",
    ),
    "\nbaseline = 'mine.jsonl'": (2, 12, "this baseline does not count: setuplint.toml has one"),
}


@pytest.mark.quick(1)
@pytest.mark.parametrize("nearer", LOOSER)
def test_what_it_tries_to_loosen_does_not_count_and_is_said(nearer: str, club: Path, command: Command) -> None:
    line, column, said = LOOSER[nearer]
    top = "fail-on = 'notice'\nbaseline = 'known.jsonl'\n[limits]\nhold-slow.longest = 0.4\n"
    write(club, {"setuplint.toml": top, "known.jsonl": '{"setuplint-baseline": 1}\n', "a/setuplint.toml": nearer})
    write(club, {"a/kestrel.toml": NOTICE})
    policy = file_policy("a/kestrel.toml")
    assert policy is not None
    assert (policy.fail_on, policy.baseline) == ("notice", str(club / "known.jsonl"))
    ran = command("lint", ".")
    assert ran.status == 1
    assert said in ran.words
    remarks = json.loads(command("lint", ".", "--format", "json").out)["remarks"]
    places = [(r["kind"], r["file"], r["line"], r["column"]) for r in remarks]
    assert places == [("loosens", "a/setuplint.toml", line, column)]
    (notice,) = json.loads(command("lint", ".", "--format", "sarif").out)["runs"][0]["invocations"][0][
        "toolConfigurationNotifications"
    ]
    assert notice["locations"][0]["physicalLocation"]["artifactLocation"]["uri"] == "a/setuplint.toml"


def test_without_a_word_about_it_a_caution_fails(club: Path, command: Command) -> None:
    """An outer file without `fail-on` is not silent about it: a nearer one cannot set the threshold to danger."""
    write(club, {"setuplint.toml": "edition = 2026", "a/setuplint.toml": 'fail-on = "danger"'})
    write(club, {"a/kestrel.toml": REFERENCE.replace("soft-start = true", "soft-start = false")})
    ran = command("lint", ".")
    assert "fail-on danger does not count: setuplint.toml names none, which is caution" in ran.words
    (policy,) = [file_policy("a/kestrel.toml")]
    assert policy is not None
    assert policy.fail_on == "caution"


def test_the_stricter_limit_holds_whichever_has_it(club: Path) -> None:
    write(club, {"setuplint.toml": "limits.hold-slow.longest = 0.4\nlimits.rescue-slow.level = 0.2"})
    write(club, {"a/setuplint.toml": "limits.hold-slow.longest = 0.3\nlimits.rescue-slow.level = 0.25"})
    from setuplint.club.choosing import choices

    found = choices(file_policy("a/x.toml")).rules
    assert float(found["hold-slow"].limits["longest"].value) == 0.3
    assert float(found["rescue-slow"].limits["level"].value) == 0.2


def test_a_baseline_of_the_clubs_is_used_without_an_option(club: Path, command: Command) -> None:
    write(club, {"setuplint.toml": 'baseline = "lists/known.jsonl"', "a/kestrel.toml": HAZARD, "lists/keep": ""})
    none = command("lint", ".")
    assert none.status == 2
    with pytest.raises(ValueError, match=r"known\.jsonl, which setuplint.toml names as the baseline"):
        setuplint.lint("a/kestrel.toml")
    assert "there is no lists/known.jsonl, which setuplint.toml names as the baseline: --baseline-write" in none.err
    assert command("lint", ".", "--baseline-write", "grow").status == 0
    ran = command("lint", "a/kestrel.toml")
    assert ran.status == 0
    assert "In the baseline: 1 danger." in ran.words
    report = setuplint.lint("a/kestrel.toml")
    assert (rules(report), [x.rule for x in report.baselined]) == ([], ["hold-bypassed"]), "the library agrees"
    assert rules(setuplint.lint_together(["a/kestrel.toml", "wagtail.toml"])[0]) == []
    assert rules(setuplint.lint("a/kestrel.toml", config=False)) == ["hold-bypassed"]
    write(club, {"a/kestrel.toml": REFERENCE})
    assert "No longer found, and still in the baseline: 1. ../a/kestrel.toml" in command("lint", ".").words
    assert "1 that is no longer found left out" in command("lint", ".", "--baseline-write", "shrink").words


@pytest.mark.parametrize("path", ["../known.jsonl", "/known.jsonl", "", "a/../../x"])
def test_a_baseline_lies_in_the_repository(path: str, club: Path, command: Command) -> None:
    write(club, {"setuplint.toml": f'baseline = "{path}"'})
    ran = command("lint", ".")
    assert (ran.status, ran.out) == (2, "")
    assert ran.err.startswith("setuplint: setuplint.toml:1:12: ")
