"""A danger that nobody looked for fails as a danger does, by whatever `fail-on`: silence about it is no proof."""

from __future__ import annotations

import json
import re
from pathlib import Path
from xml.etree import ElementTree

import pytest

from tests.cli.running import Command
from tests.club.git import commit, git
from tests.club.made import REFERENCE, claim, write

OPEN = "Not all rules about danger are judged: that fails as a danger does."
UNKNOWN = REFERENCE.replace('hold = "hold is on"', 'hold = "hold is onn"')
NOT_GIVEN = REFERENCE.replace("motor-off = -95", "").replace("value = -100", "value = -50")
UNREADABLE = {
    "a hold that names nothing": UNKNOWN,
    "a failsafe that is no word": REFERENCE.replace("motor = -100 ", 'motor = "kep" '),
    "a priority given twice": REFERENCE.replace("priority = 100 ", "priority = 10\npriority = 100 "),
    "a line that may have been anything": REFERENCE.replace("[overrides.held]", "[overrides.held"),
    "lines that end in carriage returns": REFERENCE.replace("priority = 100 ", "priority = 10 ").replace("\n", "\r"),
    "another version of the format": REFERENCE.replace("format = 1", "format = 2"),
    "channels that cannot be read": REFERENCE.replace("[channels.", "[channels.!"),
    "larger than a setup may be": REFERENCE + "#" * 1_000_000,
}


def waived(text: str, rule: str) -> str:
    return f'{text}\n[[waivers]]\nrule = "{rule}"\nreason = "it is known"\n'


@pytest.mark.parametrize("name", UNREADABLE)
def test_a_gate_for_dangers_alone_fails_where_they_are_not_judged(name: str, club: Path, command: Command) -> None:
    write(club, {"wagtail.toml": UNREADABLE[name], "setuplint.toml": 'fail-on = "danger"'})
    ran = command("lint", ".")
    assert (ran.status, OPEN in ran.words) == (1, True)
    assert f"**This does not pass. {OPEN}**" in command("lint", ".", "--format", "markdown").out
    summary = json.loads(command("lint", ".", "--format", "json").out)["summary"]
    assert (summary["failing"], summary["danger-open"]) == (0, 1)
    suites = ElementTree.fromstring(command("lint", ".", "--format", "junit").out)
    assert sum(int(suite.get("failures", 0)) for suite in suites) > 0


@pytest.mark.parametrize("name", sorted(UNREADABLE.keys() - {"larger than a setup may be"}))
def test_compare_agrees_about_a_setup_that_is_new(name: str, club: Path, command: Command) -> None:
    """Also where the change brings waivers with it."""
    (club / ".git").rmdir()
    git(club, "init", "-q")
    commit(club, "one")
    text = UNREADABLE[name]
    for rule in ("not-a-setup", "unknown-name", "not-toml") if "\r" not in text else ():
        text = waived(text, rule)
    write(club, {"kestrel.toml": text})
    ran = command("compare", "--since", "HEAD", "--fail-on", "danger")
    assert ran.status == 1
    assert re.search(r"what rests on it is not judged: \d dangers? \(|[Nn]othing of the set-up is judged ", ran.words)


def test_where_something_fails_by_itself_it_is_not_said(club: Path, command: Command) -> None:
    write(club, {"wagtail.toml": UNKNOWN})
    ran = command("lint", ".")
    assert (ran.status, OPEN in ran.words) == (1, False)


def test_in_how_many_setups(club: Path, command: Command) -> None:
    write(club, {"kestrel.toml": UNKNOWN})
    assert "judged in 1 setup: that fails" in command("lint", ".", "--fail-on", "danger").words


def test_a_waiver_of_the_mistake_is_none_of_the_danger(club: Path, command: Command) -> None:
    write(club, {"wagtail.toml": waived(UNKNOWN, "unknown-name")})
    ran = command("lint", ".")
    assert (ran.status, OPEN in ran.words) == (1, True)


def test_a_baseline_of_the_mistake_is_none_of_the_danger(club: Path, command: Command) -> None:
    write(club, {"wagtail.toml": UNKNOWN, "setuplint.toml": 'baseline = "known.jsonl"'})
    command("lint", ".", "--baseline-write", "grow")
    ran = command("lint", ".")
    assert (ran.status, OPEN in ran.words) == (1, True)


def test_what_is_not_given_may_be_accepted(club: Path, command: Command) -> None:
    """It is a caution, and passes a gate for dangers; so it does with a reason, or as an old habit, but for a club that lets no
    danger be."""
    write(club, {"wagtail.toml": NOT_GIVEN})
    assert [command("lint", ".", "--fail-on", word).status for word in ("danger", "caution")] == [0, 1]
    write(club, {"wagtail.toml": waived(NOT_GIVEN, "dangers-not-judged")})
    assert command("lint", ".").status == 0
    for word in ("danger", "hold-bypassed"):
        write(club, {"setuplint.toml": f'never-waive = ["{word}"]'})
        ran = command("lint", ".")
        assert (ran.status, "hides nothing: setuplint.toml has" in ran.words) == (1, True)
    write(club, {"wagtail.toml": NOT_GIVEN, "setuplint.toml": 'baseline = "known.jsonl"'})
    command("lint", ".", "--baseline-write", "grow")
    assert command("lint", ".").status == 0


def test_what_is_no_danger_fails_no_gate_for_these(club: Path, command: Command) -> None:
    """A mistake that nothing grave rests on, a file at its beginning, a rule that was not asked for, and a club's about what the
    craft does not have."""
    begun = 'format = 1\n[switches.hold]\nkind = "two-position"\n[intent]\nhold = "hold is on"\n'
    write(club, {"wagtail.toml": REFERENCE.replace("voice = ", "voise = ", 1), "begun.toml": begun})
    ran = command("lint", ".", "--fail-on", "danger")
    assert (ran.status, "Not all rules" in ran.words) == (0, False)
    write(club, {"wagtail.toml": UNKNOWN})
    assert command("lint", ".", "--fail-on", "danger", "--only", "mode-jump").status == 0
    rule = claim("hold called and output winch > 0", signal="danger")
    write(club, {"wagtail.toml": REFERENCE, "setuplint.toml": 'rules = ["ours"]', "ours/winch.toml": rule})
    ran = command("lint", "wagtail.toml")
    assert (ran.status, "winch: because there is no channel “winch”" in ran.words) == (0, True)


def test_a_mistake_of_a_shared_part_counts_with_each_setup(club: Path, command: Command) -> None:
    """Though it is told once, with the part."""
    shared = "format = 1\n[switches.hold]\nkind = 'tow-position'\n"
    own = REFERENCE.replace("format = 1", 'format = 1\nextends = "radio.toml"', 1)
    own = own.replace('[switches.hold]\nkind = "two-position"\npositions = ["off", "on"]\n', "")
    write(club, {"wagtail.toml": own, "radio.toml": shared})
    assert command("lint", ".", "--fail-on", "danger").status == 1
