"""`lint --staged`: what git has staged, shared parts, setuplint.toml and rules too; and the other setups of a radio."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
import yaml

from setuplint.cli import lint_run
from setuplint.club import git_files
from tests.cli.running import REFERENCE, ROOT, Command
from tests.club.git import commit, git
from tests.club.made import HAZARD, claim, write

HOLD = '[switches.hold]\nkind = "two-position"\npositions = ["off", "on"]\n'
TURNED = REFERENCE.replace('positions = ["off", "on"]', 'positions = ["on", "off"]')
EXTENDS = REFERENCE.replace("format = 1\n", 'format = 1\nextends = "radio.toml"\n').replace(HOLD, "")


@pytest.fixture
def club(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    git(tmp_path, "init", "-q")
    write(tmp_path, {"wagtail.toml": REFERENCE, "tools.toml": "[tool]\nx = 1\n", "craft/kestrel.toml": REFERENCE})
    commit(tmp_path, "one")
    return tmp_path


def test_what_lies_on_the_disk_does_not_count(club: Path, command: Command) -> None:
    write(club, {"wagtail.toml": HAZARD, "setuplint.toml": "limits.hover-too-sharp.slope = 0.4\n"})
    assert command("lint", "wagtail.toml", "--staged").status == 0
    git(club, "add", "wagtail.toml")
    write(club, {"wagtail.toml": REFERENCE})
    ran = command("lint", "wagtail.toml", "tools.toml", "--staged", "--only-setups")
    assert ran.status == 1
    assert "wagtail.toml:106:1: danger: " in ran.out
    assert "[hover-too-sharp]" not in ran.out
    git(club, "add", "setuplint.toml")
    assert "[hover-too-sharp]" in command("lint", ".", "--staged").out
    assert command("lint", ".", "--staged", "--only-setups").out.count("[hold-bypassed]") == 1


def test_the_clubs_rules_are_those_that_are_staged(club: Path, command: Command) -> None:
    write(club, {"setuplint.toml": 'rules = ["club-rules"]', "club-rules/too-strong.toml": claim("output motor > 101")})
    git(club, "add", "-A")
    write(club, {"club-rules/too-strong.toml": claim(), "club-rules/broken.toml": "x"})
    assert command("lint", "wagtail.toml", "--staged").status == 0
    git(club, "add", "club-rules/too-strong.toml")
    assert "[too-strong]" in command("lint", "wagtail.toml", "--staged").out


def test_a_shared_part_that_is_staged_brings_those_that_extend_it(club: Path, command: Command) -> None:
    write(club, {"wagtail.toml": EXTENDS, "radio.toml": f"format = 1\n{HOLD}"})
    git(club, "add", "wagtail.toml")
    assert "there is no file radio.toml" in command("lint", "wagtail.toml", "--staged").words
    git(club, "add", "radio.toml")
    write(club, {"radio.toml": "", "wagtail.toml": ""})
    ran = command("lint", "radio.toml", "--staged", "--only-setups")
    assert ran.status == 0
    assert "for that 1 setup more than were given" in ran.words


def test_a_hold_that_was_turned_round_speaks_as_in_a_lint_of_all(club: Path, command: Command) -> None:
    """Whichever of the two was changed."""
    for name, other in (("wagtail.toml", "craft/kestrel.toml"), ("craft/kestrel.toml", "wagtail.toml")):
        write(club, {name: TURNED, other: REFERENCE})
        git(club, "add", "-A")
        ran = command("lint", name, "--staged", "--only-setups", "--fail-on", "notice")
        assert ran.status == 1
        assert "Compared with the others: 1 setup of the same radios, judged by that alone." in ran.words
        assert ran.out.count("[rescue-elsewhere]") == command("lint", ".").out.count("[rescue-elsewhere]") > 0
        found = json.loads(command("lint", name, "--staged", "--format", "json").out)
        assert {each["file"] for each in found["findings"]} == {"craft/kestrel.toml"}, "the first of equals is usual"
        assert (found["summary"]["files"], found["summary"]["neighbours"]) == (1, 1)
        assert "1 setup: 1 notice; 1 compared alone." in ran.words
        write(club, {name: REFERENCE})
    git(club, "add", "-A")
    assert command("lint", "wagtail.toml", "--staged").status == 0


def test_what_else_is_wrong_with_a_neighbour_stops_no_other(club: Path, command: Command) -> None:
    write(club, {"craft/kestrel.toml": HAZARD, "merlin.toml": "format = 1\n[craft]\nradio = 'blue'\n= ["})
    commit(club, "an old hazard")
    assert command("lint", "wagtail.toml", "--staged", "--only-setups").status == 0
    write(club, {"red.toml": REFERENCE.replace('radio = "blue"', 'radio = "red"')})
    git(club, "add", "-A")
    assert "Compared with the others" not in command("lint", "red.toml", "--staged").words
    assert "Compared with the others" not in command("lint", "wagtail.toml", "--staged", "--only", "hold-slow").words


def test_a_record_stands_for_its_setup(club: Path, command: Command) -> None:
    write(club, {"wagtail.toml": HAZARD, "wagtail.record.json": "{}", "lost.record.json": "{}"})
    git(club, "add", "-A")
    ran = command("lint", "wagtail.record.json", "lost.record.json", "--staged", "--only-setups")
    assert (ran.status, ran.out.count("[hold-bypassed]")) == (1, 1)


def test_a_setuplint_toml_stands_for_all_that_it_judges(club: Path, command: Command) -> None:
    """The hook hands it on, and a commit that only tightens it lints what it holds for."""
    write(club, {"craft/setuplint.toml": "limits.hover-too-sharp.slope = 0.4\n", "craft/tools.toml": "[tool]\nx = 1\n"})
    git(club, "add", "-A")
    hook = next(
        each for each in yaml.safe_load((ROOT / ".pre-commit-hooks.yaml").read_text()) if each["id"] == "setuplint"
    )
    changed = [name for name in ("craft/setuplint.toml",) if re.search(hook["files"], name) and "exclude" not in hook]
    ran = command(*hook["entry"].split()[1:], *changed, "--fail-on", "notice")
    assert ran.status == 1
    assert "craft/kestrel.toml:" in ran.out
    assert "[hover-too-sharp]" in ran.out
    assert "wagtail.toml:" not in ran.out, "that is judged by another"
    write(club, {"craft/setuplint.toml": "", "setuplint.toml": "limits.hover-too-sharp.slope = 0.4\n"})
    git(club, "add", "-A")
    every = command("lint", "setuplint.toml", "--staged", "--only-setups")
    assert every.out.count("[hover-too-sharp]") == command("lint", ".").out.count("[hover-too-sharp]") == 2


def test_a_large_file_is_whose_it_is_on_the_disk(club: Path, command: Command) -> None:
    """Somebody else's is passed over; a setup that was filled up with comments is not."""
    padded = HAZARD + "# more\n" * 150_000
    for text, status in (("[[package]]\n" * 100_000, 0), (padded, 1)):
        write(club, {"large.toml": text})
        git(club, "add", "-A")
        ran = command("lint", "large.toml", "wagtail.toml", "--staged", "--only-setups")
        assert ran.status == status
        assert ("Passed over: 1 file too large to be a setup." in ran.words) is (status == 0)
        assert command("lint", "large.toml", "wagtail.toml", "--only-setups").status == status


@pytest.mark.parametrize(
    "words", [["-"], ["../x.toml"], [""], ["nope.toml"], [".", "--fix"], [".", "--baseline-write", "grow"]]
)
def test_what_is_not_staged_is_trouble(words: list[str], club: Path, command: Command) -> None:
    ran = command("lint", *words, "--staged")
    assert ran.status == 2
    assert ran.err.startswith("setuplint: ")


def test_while_a_merge_is_undone_nothing_is_staged(club: Path, command: Command) -> None:
    git(club, "checkout", "-q", "-b", "other")
    write(club, {"wagtail.toml": TURNED})
    commit(club)
    git(club, "checkout", "-q", "-")
    write(club, {"wagtail.toml": REFERENCE.replace('["off", "on"]', '["off", "still"]')})
    commit(club)
    git(club, "merge", "other", fails=True)
    ran = command("lint", ".", "--staged")
    assert (ran.status, ran.err.count("\n")) == (2, 1)
    assert "a merge was left undone" in ran.err


@pytest.mark.slow
def test_many_processes(club: Path, command: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    write(club, {f"more/{n}.toml": HAZARD for n in range(6)})
    git(club, "add", "-A")
    alone = command("lint", ".", "--staged", "--policy", "HEAD")
    monkeypatch.setattr(lint_run, "MANY", 2)
    assert command("lint", ".", "--staged", "--policy", "HEAD") == alone
    assert alone.out.count("[hold-bypassed]") == 6


def test_contents_come_in_chunks(club: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As they are, whatever lies in one chunk; of what is too large the start."""
    made = {f"many/{n}.toml": f"x = {'1' * n}\n" for n in range(40)} | {
        "many/large.toml": "x" * 500,
        "many/empty.toml": "",
    }
    write(club, made)
    git(club, "add", "-A")
    tree = git_files.staged_files(".")
    blobs = {name: tree.entries[name].name for name in made}
    for chunk in (1, 60, 10_000):
        monkeypatch.setattr(git_files, "CHUNK", chunk)
        found = tree.contents(blobs.values(), 100)
        assert {name: found[blob] for name, blob in blobs.items() if name != "many/large.toml"} == {
            name: text.encode() for name, text in made.items() if name != "many/large.toml"
        }
        assert found[blobs["many/large.toml"]] == b"x" * 101
