"""`rules-test`: a club's rules are tested by their examples, as ours are."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from setuplint.book import rulebook
from setuplint.club.examples import ExampleError, edited, reference
from tests.cli.running import Command
from tests.club.git import commit, git
from tests.club.made import claim, write

SPEAKS = '[[examples]]\nspeaks = true\nedit = { "channels.tail-gain.from" = 61 }\n'
SILENT = '[[examples]]\nspeaks = false\nedit = { "channels.tail-gain.from" = 60 }\n'
CALM = claim("output tail-gain > 60")


def outcome(command: Command, text: str, name: str) -> tuple[int, str]:
    write(Path(), {f"club-rules/{name}.toml": text})
    ran = command("rules-test", "club-rules")
    return ran.status, ran.words + ran.err


def test_a_rule_that_does_as_it_says(club: Path, command: Command) -> None:
    status, out = outcome(command, CALM + SPEAKS + SILENT, "too-strong")
    assert (status, out) == (
        0, "club-rules/too-strong.toml: 2 examples as it says 1 rule, 2 examples: all as they say."
    )  # fmt: skip


@pytest.mark.quick(4)
@pytest.mark.parametrize(
    ("old", "new", "line", "words"),
    [
        ("speaks = true", "speaks = false", 10, "it should be silent, and finds: Too strong: "),
        ("= 61", "= 60", 10, "it should find something, and is silent"),
        ("= 60", "=", 0, ""),
        ("output tail-gain", "output tail-gains", 10, "and is silent: not judged, because there is no channel"),
        ("speaks = false", 'speaks = false\nremove = ["curves.x.y"]', 13, "remove names curves.x.y, which the reference"),
        (SILENT, SILENT.replace("channels.tail-gain.from", "craft.name.x"), 13, "craft.name.x cannot be put into"),
        (SILENT, SILENT.replace("channels.tail-gain.from", "claims.7.never"), 13, "claims.7.never cannot be put into"),
        (SILENT, SILENT.replace("channels.tail-gain.from", "a." * 20 + "a"), 13, "has more than 12 steps"),
        (SILENT, "", 1, "there is no example on which it is silent"),
        (SPEAKS, "", 1, "there is no example on which it finds something"),
        (SILENT, "[[examples]]\nspeaks = false\ntext = '= nonsense ['\n", 13, "it describes no setup: "),
    ],
)  # fmt: skip
def test_what_is_not_as_it_says_has_its_place(
    old: str, new: str, line: int, words: str, club: Path, command: Command
) -> None:
    assert old in CALM + SPEAKS + SILENT
    text = (CALM + SPEAKS + SILENT).replace(old, new)
    status, out = outcome(command, text, "too-strong")
    if not line:  # not TOML any more
        assert status == 2
        assert "setuplint: club-rules/too-strong.toml:15:36: not TOML: " in out
        return
    assert status == 1
    assert f"club-rules/too-strong.toml:{line}:1: " in out
    assert words in out
    assert "not as said" in out


def test_an_example_may_be_a_whole_text_or_two_setups(club: Path, command: Command) -> None:
    text = CALM + SPEAKS + f"[[examples]]\nspeaks = false\ntext = '''\n{reference()}'''\n"
    both = '[[examples]]\nspeaks = false\nbeside = { "craft.radio" = "blue" }\n'
    assert outcome(command, text + both, "too-strong")[0] == 0


def test_what_other_rules_find_is_shown_and_fails_nothing(club: Path, command: Command) -> None:
    text = SILENT.replace('channels.tail-gain.from" = 60', 'overrides.held.priority" = 5')
    status, out = outcome(command, CALM + SPEAKS + text, "too-strong")
    assert status == 0
    assert "also found by hold-bypassed" in out


def test_rules_are_tested_by_the_setuplint_toml_of_their_folder(club: Path, command: Command) -> None:
    stricter = "limits.voltage-alarm-below-floor.floor-lipo = 3.7"
    write(club, {"setuplint.toml": f'rules = ["club-rules", "other"]\n{stricter}', "other/of.toml": CALM})
    status, out = outcome(command, CALM + SPEAKS + SILENT, "too-strong")
    assert status == 0
    assert "also found by voltage-alarm-below-floor" in out
    assert "also found by of" in out, "the club's other rules are asked too"


def test_nothing_to_test_is_trouble(club: Path, command: Command) -> None:
    assert command("rules-test", "nowhere").status == 2
    (club / "club-rules").mkdir()
    ran = command("rules-test", "club-rules")
    said = "there is no rule in club-rules: a rule is a .toml file right in it\n"
    assert (ran.status, ran.err) == (2, f"setuplint: {said}")
    (club / ".git").rmdir()
    git(club, "init", "-q")
    write(club, {"setuplint.toml": 'rules = ["club-rules"]\n', "club-rules/README.md": "None yet.\n"})
    commit(club)
    ran = command("lint", ".", "--staged")
    assert (ran.status, ran.err) == (2, f"setuplint: setuplint.toml:1:9: {said}")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (CALM.replace("never", "check"), "a claim, never or always; a check would be code"),
        (CALM.replace("output", "outpt"), "club-rules/x.toml:5:16: never: “tail-gain” stands where "),
        (CALM + "run = 'rm'", "has no key run"),
        ("run = 'rm'\n" + CALM, "club-rules/x.toml:1:1: a rule has no key run"),
        (CALM.replace('"caution"', '"warning"'), "x.toml:1:1: signal is one of danger, caution, notice, not warning"),
        (CALM + SPEAKS + SILENT.replace("speaks", "speak"), "x.toml:14:1: an example has no key speak"),
    ],
)
def test_what_is_no_claim_is_trouble(text: str, words: str, club: Path, command: Command) -> None:
    status, out = outcome(command, text, "x")
    assert status == 2
    assert words in out


def test_nothing_outside_the_folder_is_read(club: Path, command: Command) -> None:
    write(club, {"secret.toml": CALM + SPEAKS + SILENT, "club-rules/ok.toml": CALM + SPEAKS + SILENT})
    (club / "club-rules" / "x.toml").symlink_to(club / "secret.toml")
    ran = command("rules-test", "club-rules")
    assert ran.status == 2
    assert "club-rules/x.toml: this link leads out of the folder of rules" in ran.err
    (club / "club-rules" / "x.toml").unlink()
    os.mkfifo(club / "club-rules" / "x.toml")
    assert "not a file" in command("rules-test", "club-rules").err


def test_our_own_folder_is_no_clubs(command: Command) -> None:
    assert "there is a rule" in command("rules-test", rulebook.folder()).err


def test_an_edit_may_append_and_make_tables() -> None:
    text = edited("a = [1]\n", {"a.1": 2, "a.0": 0, "b.c.d": 3}, ())
    assert text == "a = [\n    0,\n    2,\n]\n\n[b.c]\nd = 3\n"
    with pytest.raises(ExampleError):
        edited("a = [1]\n", {"a.5": 2})
    with pytest.raises(ExampleError):
        edited("a = [1]\n", {}, ["a.5"])


def test_without_a_folder_those_of_the_club_are_tested(club: Path, command: Command) -> None:
    assert command("rules-test").status == 2
    write(club, {"setuplint.toml": 'rules = ["club-rules"]', "club-rules/too-strong.toml": CALM + SPEAKS + SILENT})
    assert command("rules-test").words == (
        "club-rules/too-strong.toml: 2 examples as it says 1 rule, 2 examples: all as they say."
    )


@pytest.mark.slow
def test_of_what_is_staged_the_folders_that_have_changed(club: Path, command: Command) -> None:
    """As a hook gives them: a rule, a setuplint.toml; what belongs to no rules is passed over."""
    (club / ".git").rmdir()
    git(club, "init", "-q")
    good = {"club-rules/too-strong.toml": CALM + SPEAKS + SILENT, "craft/more/calm.toml": CALM + SPEAKS + SILENT}
    write(club, good | {"setuplint.toml": 'rules = ["club-rules"]', "craft/setuplint.toml": 'rules = ["more"]'})
    git(club, "add", "-A")
    write(club, {"club-rules/too-strong.toml": "broken", "craft/more/calm.toml": CALM + SILENT})
    none = command("rules-test", "--staged", "wagtail.toml")
    assert (none.status, none.out) == (0, "No rule of a club's has changed.\n")
    for given in ("club-rules/too-strong.toml", "setuplint.toml"):
        ran = command("rules-test", "--staged", given, "wagtail.toml")
        assert ran.status == 0
        assert "club-rules/too-strong.toml: 2 examples as it says" in ran.words
        assert "calm" not in ran.out
    assert command("rules-test", "--staged").words.endswith("2 rules, 4 examples: all as they say.")
    git(club, "add", "craft")
    ran = command("rules-test", "--staged", "craft/more/calm.toml")
    assert ran.status == 1
    assert "craft/more/calm.toml:1:1: there is no example on which it finds something" in ran.words
    git(club, "add", "club-rules")
    assert command("rules-test", "--staged", "setuplint.toml").status == 2
