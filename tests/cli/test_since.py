"""`compare --since`: with the merge base, between two revisions, of what is staged, in clones that are not whole."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

import setuplint
from setuplint.cli import files
from tests.cli.running import REFERENCE, Command
from tests.club.git import commit, git
from tests.club.made import HAZARD, write

RAISED = REFERENCE.replace("value = 55\n", "value = 60\n")


@pytest.fixture
def club(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Two branches that parted: `main` has changed another setup since."""
    folder = tmp_path / "club"
    folder.mkdir()
    monkeypatch.chdir(folder)
    git(folder, "init", "-q")
    write(folder, {"wagtail.toml": REFERENCE, "kestrel.toml": REFERENCE, "notes/other.toml": "[tool]\nx = 1\n"})
    commit(folder, "one")
    git(folder, "checkout", "-q", "-b", "change")
    write(folder, {"wagtail.toml": RAISED})
    commit(folder, "change")
    git(folder, "checkout", "-q", "main")
    write(folder, {"kestrel.toml": RAISED})
    commit(folder, "two")
    git(folder, "checkout", "-q", "change")
    return folder


def test_it_is_compared_with_where_it_left_the_revision(club: Path, command: Command) -> None:
    """What others changed there since is none of this change."""
    base = git(club, "merge-base", "main", "change").strip()[:12]
    ran = command("compare", "--since", "main")
    assert ran.status == 1
    assert f"Compared with {base}, the merge base of main and what is here." in ran.words
    assert f"wagtail.toml ({base}) -> wagtail.toml: 1 difference." in ran.words
    assert "kestrel" not in ran.out
    assert json.loads(command("compare", "--since", "main", "--format", "json").out)["since"].startswith(
        "Compared with"
    )
    markdown = command("compare", "--since", "main", "--format", "markdown").out
    assert markdown.startswith(f"Compared with {base}, the merge base of main and what is here.\n")


def test_gits_own_settings_change_no_name(club: Path, command: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    git(club, "config", "diff.relative", "true")
    write(club, {"craft/merlin.toml": HAZARD})
    git(club, "add", "-A")
    monkeypatch.chdir(club / "craft")
    ran = command("compare", "--since", "HEAD", "--fail-on", "danger")
    assert (ran.status, "merlin.toml is new: 1 danger." in ran.words) == (1, True), ran


def test_two_revisions(club: Path, command: Command) -> None:
    """Whatever is checked out, and whatever lies in the work tree."""
    git(club, "checkout", "-q", "main")
    write(club, {"merlin.toml": HAZARD})
    base = git(club, "merge-base", "main", "change").strip()[:12]
    ran = command("compare", "--since", "main...change")
    assert f"wagtail.toml ({base}) -> wagtail.toml (change): 1 difference." in ran.words
    assert "compared," not in ran.words, "it is the only one"
    assert "merlin" not in ran.out
    assert "kestrel" not in ran.out
    assert "kestrel.toml (main): 1 difference." in command("compare", "--since", "change...").words.replace(
        "HEAD", "main"
    )
    wrong = command("compare", "--since", "main..change")
    assert (wrong.status, wrong.out) == (2, "")
    assert "write main...change" in wrong.err


def test_what_is_staged(club: Path, command: Command) -> None:
    """Not what lies beside it: neither files that git does not know nor later edits."""
    write(club, {"merlin.toml": HAZARD, "wagtail.toml": HAZARD})
    both = re.compile(r"merlin\.toml:\d+:1, wagtail\.toml:\d+:1: danger: .* \[hold-bypassed\]")
    assert both.search(command("compare", "--since", "HEAD").out)
    ran = command("compare", "--since", "HEAD", "--staged")
    assert (ran.status, ran.out) == (0, "No setup has changed.\n")
    git(club, "add", "merlin.toml")
    write(club, {"merlin.toml": REFERENCE})
    ran = command("compare", "--since", "HEAD", "--staged", "--fail-on", "caution")
    assert ran.status == 1
    assert "merlin.toml is new: 1 danger." in ran.words
    assert command("compare", "--staged", "wagtail.toml", "merlin.toml").status == 2


def test_before_a_push_a_hook_looks_at_all_that_is_pushed(
    club: Path, command: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    """All of it is committed: it was compared with itself, and passed."""
    write(club, {"wagtail.toml": HAZARD})
    commit(club, "past the hooks")
    hook = ("compare", "--since", "HEAD", "--staged", "--fail-on", "caution")
    assert command(*hook).status == 0
    monkeypatch.setenv("PRE_COMMIT_FROM_REF", git(club, "rev-parse", "HEAD~1").strip())
    ran = command(*hook)
    assert (ran.status, "1 danger gained" in ran.words) == (1, True)
    monkeypatch.setenv("PRE_COMMIT_FROM_REF", "0123456789")
    assert command(*hook).status == 2
    assert command("compare", "--since", "HEAD").status == 0, "no hook"


def test_a_shared_part_is_read_as_it_is_staged(club: Path, command: Command) -> None:
    hold = '[switches.hold]\nkind = "two-position"\npositions = ["off", "on"]\n'
    own = REFERENCE.replace("format = 1\n", 'format = 1\nextends = "radio.toml"\n').replace(hold, "")
    write(club, {"wagtail.toml": own, "radio.toml": f"format = 1\n{hold}"})
    git(club, "add", "wagtail.toml")
    ran = command("compare", "--since", "HEAD", "--staged", "--fail-on", "caution")
    assert ran.status == 1
    assert "there is no file radio.toml" in ran.words, "it is not staged"
    commit(club)
    turned = hold.replace('["off", "on"]', '["on", "off"]')
    write(club, {"radio.toml": f"format = 1\n{turned}"})
    assert command("compare", "--since", "HEAD", "--staged").status == 0
    git(club, "add", "radio.toml")
    ran = command("compare", "--since", "HEAD", "--staged")
    assert "wagtail.toml (HEAD) -> wagtail.toml:" in ran.words


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["nope.toml"], "there is no nope.toml, and there was none in HEAD"),
        (["wagtail.toml", "nowhere"], "there is no nowhere, and there was none in HEAD"),
        (["notes"], "there is no setup among notes, and there was none: nothing was compared"),
        (["notes/other.toml"], "there is no setup among notes/other.toml"),
        (["--staged", "nope.toml"], "there is no nope.toml"),
        (["--staged", "notes"], "there is no setup among notes"),
        (["--policy", "nowhere"], "--policy: 'nowhere' is not a revision of this repository"),
    ],
)
def test_what_is_not_there_is_trouble(words: list[str], said: str, club: Path, command: Command) -> None:
    ran = command("compare", "--since", "HEAD", *words)
    assert (ran.status, ran.out) == (2, "")
    assert said in ran.err


def test_a_link_is_not_followed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, command: Command) -> None:
    """It may lead out of the repository: what is there is not read, and makes no setup of it."""
    write(tmp_path, {"elsewhere.toml": REFERENCE, "club/tools.toml": "[tool]\nx = 1\n"})
    monkeypatch.chdir(tmp_path / "club")
    git(Path(), "init", "-q")
    Path("link.toml").symlink_to("../elsewhere.toml")
    Path("memory.toml").symlink_to("/proc/self/mem")
    commit(Path(), "one")
    ran = command("compare", "--since", "HEAD")
    assert (ran.status, ran.out) == (2, "")
    assert "there is no setup among ., and there was none" in ran.err


def test_a_file_that_cannot_be_read_is_trouble(club: Path, command: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(candidate: files.Candidate) -> bytes:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(files, "content", refused)
    ran = command("compare", "--since", "HEAD")
    assert (ran.status, ran.err) == (2, "setuplint: cannot read kestrel.toml: Permission denied\n")


def test_a_folder_whose_setups_have_gone_is_no_folder_without(club: Path, command: Command) -> None:
    (club / "wagtail.toml").unlink()
    ran = command("compare", "--since", "HEAD", "wagtail.toml")
    assert ran.status == 1
    assert "wagtail.toml (HEAD) is gone." in ran.words


def test_a_hook_may_stand_where_there_is_no_setup_yet(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, command: Command
) -> None:
    monkeypatch.chdir(tmp_path)
    git(tmp_path, "init", "-q")
    write(tmp_path, {"tools.toml": "[tool]\nx = 1\n"})
    git(tmp_path, "add", "-A")
    assert command("compare", "--since", "HEAD", "--staged").status == 0
    assert command("compare", "--since", "HEAD").status == 2
    git(tmp_path, "rm", "-q", "--cached", "tools.toml")
    write(tmp_path, {"wagtail.toml": HAZARD})
    git(tmp_path, "add", "-A")
    assert command("compare", "--since", "HEAD", "--staged", "--fail-on", "caution").status == 1


def cloned(club: Path, depth: int, branch: str = "change") -> Path:
    folder = club.parent / f"clone-{depth}"
    git(club.parent, "clone", "-q", "--depth", str(depth), "--branch", branch, f"file://{club}", str(folder))
    return folder


def test_a_clone_that_is_not_whole_says_what_to_fetch(
    club: Path, command: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = cloned(club, 1)
    monkeypatch.chdir(folder)
    ran = command("compare", "--since", "origin/main")
    assert (ran.status, ran.out) == (2, "")
    assert (
        "'origin/main' is not a revision of this repository; this clone is shallow: `git fetch --unshallow" in ran.err
    )
    git(folder, "fetch", "-q", "--depth", "1", "origin", "main:refs/remotes/origin/main")
    ran = command("compare", "--since", "origin/main")
    assert ran.status == 2
    assert "there is no merge base of origin/main and what is here; this clone is shallow" in ran.err
    git(folder, *ran.err.split("`")[1].split()[1:3], "origin", "+refs/heads/*:refs/remotes/origin/*")
    assert "1 difference" in command("compare", "--since", "origin/main").words


def test_while_a_merge_is_under_way_both_are_here(club: Path, command: Command) -> None:
    git(club, "merge", "-q", "--no-commit", "--no-ff", "main")
    ran = command("compare", "--since", "main", "--staged")
    assert "wagtail.toml (main) -> wagtail.toml: 1 difference." in ran.words
    assert "kestrel" not in ran.out
    ran = command("compare", "--since", "HEAD", "--staged")
    assert "kestrel.toml (HEAD) -> kestrel.toml: 1 difference." in ran.words


def test_a_waiver_for_what_is_found_already_is_told(club: Path, command: Command) -> None:
    write(club, {"wagtail.toml": HAZARD})
    commit(club)
    write(club, {"wagtail.toml": f'{HAZARD}[[waivers]]\nrule = "hold-bypassed"\nreason = "the bench stand"\n'})
    ran = command("compare", "--since", "HEAD")
    assert ran.status == 1
    assert "1 danger hidden" in ran.words
    assert "waived: without an end: the bench stand" in ran.words
    commit(club)
    write(club, {"wagtail.toml": (club / "wagtail.toml").read_text() + "# more\n"})
    assert command("compare", "--since", "HEAD").status == 0


def test_another_repository_is_not_judged_by_the_policy_of_this_one(club: Path, command: Command) -> None:
    write(club.parent, {"theirs/kestrel.toml": HAZARD})
    ran = command("lint", "../theirs/kestrel.toml", "--policy", "main")
    assert (ran.status, ran.out) == (2, "")
    assert "../theirs/kestrel.toml lies outside of this repository" in ran.err


@pytest.mark.slow
def test_the_library_judges_by_a_revision_too(club: Path, command: Command) -> None:
    waived = f'{HAZARD}[[waivers]]\nrule = "hold-bypassed"\nreason = "the bench stand"\n'
    write(club, {"setuplint.toml": 'never-waive = ["danger"]', "craft/merlin.toml": waived})
    commit(club)
    write(club, {"setuplint.toml": ""})
    assert setuplint.lint("craft/merlin.toml").findings == ()
    (finding,) = setuplint.lint("craft/merlin.toml", policy="HEAD").findings
    assert finding.rule == "hold-bypassed"
    with pytest.raises(OSError, match="'nowhere' is not a revision"):
        setuplint.lint("craft/merlin.toml", policy="nowhere")
    before = setuplint.load("craft/merlin.toml")
    write(club, {"craft/merlin.toml": f"{waived}# more\n"})
    assert setuplint.compare(before, "craft/merlin.toml").gained == ()
    write(club, {"craft/kestrel.toml": waived})
    assert setuplint.compare("wagtail.toml", "craft/kestrel.toml").gained == ()
    (gained,) = setuplint.compare("wagtail.toml", "craft/kestrel.toml", policy="HEAD").gained
    assert gained.rule == "hold-bypassed", "never-waive of the revision"
    write(club, {"craft/kestrel.toml": HAZARD, "setuplint.toml": "baseline = 'known.jsonl'"})
    command("lint", "craft/kestrel.toml", "--baseline-write", "grow")
    known = setuplint.compare("wagtail.toml", "craft/kestrel.toml")
    assert (known.gained, [finding.rule for finding in known.hidden]) == ((), ["hold-bypassed"])
    (gained,) = setuplint.compare("wagtail.toml", "craft/kestrel.toml", config=False).gained
    assert gained.rule == "hold-bypassed", "by none"


def test_what_a_setuplint_toml_says_is_not_passed_over(club: Path, command: Command) -> None:
    write(club, {"setuplint.toml": "fail-on = 'notice'", "tools.toml": "[tool]\nx = 1\n"})
    ran = command("compare", "--since", "HEAD")
    assert "fail-on is notice now, and was caution: a notice fails now No setup has changed." in ran.words
    assert "Passed over: 1 other TOML file, not a setup." in ran.words


def test_nothing_in_common(club: Path, command: Command) -> None:
    git(club, "checkout", "-q", "--orphan", "alone")
    commit(club, "alone")
    ran = command("compare", "--since", "main")
    assert ran.err == "setuplint: there is no merge base of main and what is here\n"


def test_what_is_waived_or_known_is_marked_and_fails_nothing(club: Path, command: Command) -> None:
    waived = f'{HAZARD}[[waivers]]\nrule = "hold-bypassed"\nreason = "the bench stand"\nuntil = 2099-01-01\n'
    write(club, {"wagtail.toml": waived})
    ran = command("compare", "--since", "HEAD", "--fail-on", "notice")
    assert ran.status == 0
    assert "1 danger hidden" in ran.words
    assert "waived: until 2099-01-01: the bench stand" in ran.words
    write(club, {"wagtail.toml": HAZARD})
    assert command("lint", ".", "--baseline", "known.jsonl", "--baseline-write", "grow").status == 0
    commit(club, "known")
    git(club, "revert", "-n", "HEAD")
    git(club, "checkout", "-q", "HEAD", "--", "known.jsonl")
    git(club, "commit", "-qm", "safe, and the baseline still there")
    write(club, {"wagtail.toml": HAZARD})
    for options in (["--baseline", "known.jsonl"], ["--baseline", "known.jsonl", "--policy", "HEAD"]):
        ran = command("compare", "--since", "HEAD", "--fail-on", "notice", *options)
        assert ran.status == 0
        assert "hidden: in the baseline" in ran.words
        assert command("lint", ".", *options).status == 0, "two hooks, one verdict"
    hidden = json.loads(command("compare", "--since", "HEAD", "--format", "json", *options).out)["comparisons"][0]
    assert ([x["rule"] for x in hidden["hidden"]], hidden["gained"]) == (["hold-bypassed"], [])
    assert command("compare", "--since", "HEAD", "--fail-on", "notice").status == 1
    assert command("compare", "--since", "HEAD", "--baseline", "nope.jsonl").status == 2
