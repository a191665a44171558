"""A baseline: only what is new speaks, what is gone is listed, and nothing is written unasked."""

from __future__ import annotations

import json
import os
import re
import shutil
import time
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import setuplint
from setuplint.cli import lint_run
from setuplint.club import baseline
from setuplint.club.baseline import BaselineError, Entry, read_baseline
from tests.cli.running import Command, Ran
from tests.club.git import commit, git
from tests.club.made import HAZARD, REFERENCE, claim, write

NOTICE = f"{HAZARD}\n[curves.spare]\npoints = [[-100, 0], [100, 0]]\n"
FILE = "known.jsonl"


@pytest.fixture
def old(club: Path, command: Command) -> Path:
    """A club with an old danger and an old notice, in a baseline."""
    write(club, {"craft/kestrel.toml": NOTICE})
    assert command("lint", ".", "--baseline", FILE, "--baseline-write", "grow").status == 0
    return club


def entries(file: str | Path = FILE) -> list[tuple[str, str, str]]:
    head, *lines = Path(file).read_text(encoding="ascii").splitlines()
    assert head == '{"setuplint-baseline": 1}'
    return [(value["file"], value["rule"], value["subject"]) for value in map(json.loads, filter(None, lines))]


KNOWN = [("craft/kestrel.toml", "hold-bypassed", "rescue-power"), ("craft/kestrel.toml", "part-unused", "spare")]


def test_it_is_made_where_that_is_asked_and_says_what_it_holds(club: Path, command: Command) -> None:
    write(club, {"craft/kestrel.toml": NOTICE})
    none = command("lint", ".", "--baseline", FILE)
    assert (none.status, none.err) == (2, f"setuplint: there is no {FILE}: --baseline-write grow makes it\n")
    assert command("lint", ".", "--baseline", FILE, "--baseline-write", "shrink").status == 2
    assert not Path(FILE).exists()
    made = command("lint", ".", "--baseline", FILE, "--baseline-write", "grow")
    assert made.status == 0
    assert "2 setups: nothing found; hidden: 2 in the baseline." in made.words
    assert "In the baseline: 1 danger, 1 notice. ./craft/kestrel.toml: Throttle hold does not stop" in made.words
    assert f"Written to {FILE}: 2 added." in made.words
    assert entries() == KNOWN


def test_only_what_is_new_speaks(old: Path, command: Command) -> None:
    before = Path(FILE).read_bytes()
    ran = command("lint", ".", "--baseline", FILE)
    assert ran.status == 0
    assert "In the baseline: 1 danger, 1 notice. ./craft/kestrel.toml: Throttle hold does not stop" in ran.words
    write(old, {"craft/kestrel.toml": NOTICE.replace("motor = -100 ", "motor = 0 ")})
    ran = command("lint", ".", "--baseline", FILE)
    assert ran.status == 1
    assert "[failsafe-runs-motor]" in ran.out
    assert "[part-unused]" not in ran.out
    assert command("lint", ".").out.count("[part-unused]") == 1
    assert Path(FILE).read_bytes() == before, "nothing is written unasked"


def test_moved_lines_comments_and_layout_change_nothing(old: Path, command: Command) -> None:
    moved = "# a comment\n\n" + NOTICE.replace("value = 55", "value   =   56   # more").replace("\n[", "\n\n# x\n[")
    write(old, {"craft/kestrel.toml": moved})
    ran = command("lint", ".", "--baseline", FILE)
    assert (ran.status, "No longer found" in ran.words) == (0, False)


@pytest.mark.quick(1)
@pytest.mark.parametrize("where", [".", "craft", ".."])
def test_it_holds_from_wherever_one_is(
    old: Path, where: str, command: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(old / where)
    baseline = os.path.relpath(old / FILE)
    for path in (os.path.relpath(old), str(old), os.path.relpath(old / "craft" / "kestrel.toml")):
        ran = command("lint", path, "--baseline", baseline)
        assert ran.status == 0, ran.out
        assert "In the baseline: 1 danger, 1 notice." in ran.words
    ran = command("lint", "-", "--name", os.path.relpath(old / "craft" / "kestrel.toml"), "--baseline", baseline,
                  stdin=NOTICE.encode())  # fmt: skip
    assert ran.status == 0


def test_another_setup_with_the_same_hazard_is_new(old: Path, command: Command) -> None:
    shutil.copy(old / "craft" / "kestrel.toml", old / "craft" / "merlin.toml")
    assert command("lint", ".", "--baseline", FILE).out.count("[hold-bypassed]") == 2  # one is named as known


def test_what_is_gone_is_listed_and_left_out_only_if_asked(old: Path, command: Command) -> None:
    write(old, {"craft/kestrel.toml": HAZARD})
    ran = command("lint", ".", "--baseline", FILE)
    assert ran.status == 0
    assert "No longer found, and still in the baseline: 1. craft/kestrel.toml: part-unused of spare" in ran.words
    assert entries() == KNOWN
    ran = command("lint", ".", "--baseline", FILE, "--baseline-write", "shrink")
    assert f"Written to {FILE}: 0 added, 1 that is no longer found left out." in ran.words
    assert entries() == KNOWN[:1]
    write(old, {"craft/kestrel.toml": NOTICE})
    ran = command("lint", ".", "--baseline", FILE, "--baseline-write", "shrink", "--fail-on", "notice")
    assert ran.status == 1, "to shrink it takes nothing in"
    assert entries() == KNOWN[:1]


def test_of_what_was_not_looked_at_nothing_is_gone(old: Path, command: Command) -> None:
    for options in (["wagtail.toml"], [".", "--only", "mode-gap"]):
        ran = command("lint", *options, "--baseline", FILE, "--baseline-write", "shrink")
        assert (ran.status, "No longer found" in ran.words) == (0, False)
    assert entries() == KNOWN
    assert command("lint", "wagtail.toml", "--baseline", FILE, "--baseline-write", "grow").status == 0
    assert entries() == KNOWN


@pytest.mark.parametrize(
    "text",
    [
        HAZARD.replace("motor-off = -95 ", "# "),  # the hold rules cannot be judged
        HAZARD + "= broken [",
        "",
        HAZARD.replace("format = 1", "format = 7"),
    ],
)
def test_what_cannot_be_judged_now_is_not_gone(text: str, old: Path, command: Command) -> None:
    write(old, {"craft/kestrel.toml": text})
    command("lint", "craft/kestrel.toml", "--baseline", FILE, "--baseline-write", "shrink")
    assert KNOWN[0] in entries()


def test_behind_what_cannot_be_read_nothing_is_gone(old: Path, command: Command) -> None:
    write(old, {"craft/kestrel.toml": NOTICE.replace("[curves.spare]", "curves.spare]")})
    command("lint", ".", "--baseline", FILE, "--baseline-write", "shrink")
    assert entries() == KNOWN


def test_setups_that_are_no_more_are_gone(old: Path, command: Command) -> None:
    (old / "craft" / "kestrel.toml").unlink()
    ran = command("lint", "wagtail.toml", "--baseline", FILE)
    assert "No longer found, and still in the baseline: 2." in ran.words
    write(old, {"craft/kestrel.toml": "[project]\nname = 'x'\n"})
    ran = command("lint", ".", "--baseline", FILE)
    assert "No longer found, and still in the baseline: 2." in ran.words


def test_a_finding_that_became_graver_is_new(old: Path, command: Command) -> None:
    lighter = Path(FILE).read_text(encoding="ascii").replace('"signal": "danger"', '"signal": "notice"')
    Path(FILE).write_text(lighter, encoding="ascii")
    ran = command("lint", ".", "--baseline", FILE)
    assert ran.status == 1
    assert "[hold-bypassed]" in ran.out


def test_of_two_alike_one_may_be_new(club: Path, command: Command) -> None:
    same = '[[claims]]\nnever = "output motor > {}"\nbecause = "x"\n'
    write(club, {"wagtail.toml": REFERENCE.replace("[[claims]]", same.format(40) + "[[claims]]")})
    command("lint", ".", "--baseline", FILE, "--baseline-write", "grow")
    text = Path(FILE).read_text(encoding="ascii")
    line = text.splitlines()[1]
    assert len(entries()) == 1
    Path(FILE).write_text(f"{text}{line}\n", encoding="ascii")
    assert "No longer found" not in command("lint", ".", "--baseline", FILE).words, "a line twice, as a merge leaves it"
    Path(FILE).write_text(text.replace(line, line.replace("}", ', "times": 2}')), encoding="ascii")
    ran = command("lint", ".", "--baseline", FILE, "--baseline-write", "shrink")
    assert "0 added, 1 that is no longer found left out" in ran.words, "two entries, one finding"
    assert Path(FILE).read_text(encoding="ascii") == text


def test_text_that_cannot_be_read_is_never_known(club: Path, command: Command) -> None:
    write(club, {"wagtail.toml": REFERENCE + "= broken ["})
    assert command("lint", ".", "--baseline", FILE, "--baseline-write", "grow").status == 1
    assert "not-toml" not in Path(FILE).read_text(encoding="ascii")
    write(club, {"wagtail.toml": "format = 7\n[craft]\n"})
    assert command("lint", ".", "--baseline", FILE, "--baseline-write", "grow").status == 1
    assert entries() == []


def test_what_may_never_be_waived_is_not_hidden_by_a_baseline(old: Path, command: Command) -> None:
    write(old, {"setuplint.toml": 'never-waive = ["danger"]'})
    for options in ([], ["--baseline-write", "grow"]):
        ran = command("lint", ".", "--baseline", FILE, *options)
        assert ran.status == 1
        assert "[hold-bypassed]" in ran.out
        assert "the baseline does not hide hold-bypassed of rescue-power: setuplint.toml has a danger" in ran.words
        assert "In the baseline: 1 notice." in ran.words
    write(old, {"craft/merlin.toml": HAZARD})
    command("lint", ".", "--baseline", FILE, "--baseline-write", "grow")
    assert "merlin" not in Path(FILE).read_text(encoding="ascii")


def test_a_waiver_takes_the_place_of_an_entry(old: Path, command: Command) -> None:
    write(old, {"craft/kestrel.toml": f'{NOTICE}[[waivers]]\nrule = "hold-bypassed"\nreason = "a stand"\n'})
    ran = command("lint", ".", "--baseline", FILE)
    assert ran.status == 0
    assert "Waived: 1 (hold-bypassed 1)." in ran.words
    assert "No longer found, and still in the baseline: 1. craft/kestrel.toml: hold-bypassed" in ran.words


def test_json_has_what_is_known(old: Path, command: Command) -> None:
    value = json.loads(command("lint", ".", "--baseline", FILE, "--format", "json").out)
    assert value["findings"] == []
    assert [x["rule"] for x in value["baselined-dangers"]] == ["hold-bypassed"]
    assert value["summary"]["baselined"] == {"danger": 1, "caution": 0, "notice": 1}
    assert value["summary"]["baseline-written"] is None
    grown = command("lint", ".", "--baseline", FILE, "--baseline-write", "grow", "--format", "json")
    assert json.loads(grown.out)["summary"]["baseline-written"] == {"file": FILE, "added": 0, "left-out": 0}


@pytest.mark.slow
def test_many_files_in_many_processes(old: Path, command: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    write(old, {f"more/{number}.toml": HAZARD for number in range(20)})

    def ran(*options: str) -> Ran:
        return command("lint", ".", "--baseline", FILE, *options)

    alone = ran()
    monkeypatch.setattr(lint_run, "MANY", 5)
    assert ran() == alone
    assert alone.status == 1
    assert ran("--baseline-write", "grow").status == 0
    assert len(entries()) == 22
    assert ran().status == 0


def test_nothing_is_written_after_trouble(old: Path, command: Command) -> None:
    before = Path(FILE).read_bytes()
    write(old, {"craft/kestrel.toml": HAZARD})
    ran = command("lint", ".", "nowhere.toml", "--baseline", FILE, "--baseline-write", "shrink")
    assert ran.status == 2
    assert f"{FILE} is not written: not everything could be looked at" in ran.err
    assert Path(FILE).read_bytes() == before


def test_what_another_run_added_meanwhile_is_not_lost(
    old: Path, command: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    write(old, {"merlin.toml": HAZARD})
    changed = baseline.Baseline.changed

    def changed_while_another_runs(*given: Any) -> baseline.Baseline:
        Path(FILE).write_text(Path(FILE).read_text() + "\n")
        return changed(*given)

    monkeypatch.setattr(baseline.Baseline, "changed", changed_while_another_runs)
    ran = command("lint", ".", "--baseline", FILE, "--baseline-write", "grow")
    assert (ran.status, entries(FILE)) == (2, KNOWN)
    assert f"{FILE} is not written: it has changed since it was read" in ran.words


def test_a_folder_that_cannot_be_written_to(club: Path, command: Command) -> None:
    ran = command("lint", ".", "--baseline", "nowhere/x.jsonl", "--baseline-write", "grow")
    assert ran.status == 2
    assert "nowhere/x.jsonl is not written: " in ran.err


def test_it_is_sorted_and_written_as_it_was_read(old: Path, command: Command) -> None:
    write(old, {"a.toml": HAZARD, "z.toml": HAZARD})
    command("lint", "z.toml", "a.toml", "--baseline", FILE, "--baseline-write", "grow")
    assert [file for file, _, _ in entries()] == ["a.toml", "craft/kestrel.toml", "craft/kestrel.toml", "z.toml"]
    text = Path(FILE).read_text(encoding="ascii")
    read_baseline.cache_clear()
    assert read_baseline(FILE).text() == text


def test_a_name_that_is_no_text_is_an_entry(club: Path, command: Command) -> None:
    (club / os.fsdecode(b"kestrel-\xff.toml")).write_text(HAZARD, encoding="utf-8")
    assert command("lint", ".", "--baseline", FILE, "--baseline-write", "grow").status == 0
    assert command("lint", ".", "--baseline", FILE).status == 0
    Path(FILE).write_text(Path(FILE).read_text().replace("udcff", "ud800"))  # no name at all
    ran = command("lint", ".", "--baseline", FILE)
    assert (ran.status, "the fingerprint is not that of this rule, file and subject" in ran.err) == (2, True)


def test_two_branches_that_add_to_it_are_merged_by_git(old: Path, command: Command) -> None:
    (old / ".git").rmdir()
    git(old, "init", "-q")
    write(old, {".gitattributes": f"{FILE} merge=union\n"})
    commit(old, "one")
    for branch, name in (("left", "d/a.toml"), ("right", "d/b.toml")):
        git(old, "checkout", "-q", "-b", branch, "main")
        write(old, {name: HAZARD})
        assert command("lint", ".", "--baseline", FILE, "--baseline-write", "grow").status == 0
        commit(old, branch)
    git(old, "merge", "-q", "-m", "both", "left")
    assert command("lint", ".", "--baseline", FILE).status == 0
    assert len(entries()) == 4


@pytest.mark.slow
def test_what_git_needs_to_merge_it_is_said_where_it_is_written(old: Path, command: Command) -> None:
    """The line, as it is said, is what git takes."""
    (old / ".git").rmdir()
    file = "my [club]/known.jsonl"
    write(old, {"my [club]/kestrel.toml": HAZARD})

    def written() -> str:
        write(old, {f"craft/{time.time_ns()}.toml": HAZARD})
        return command("lint", ".", "--baseline", file, "--baseline-write", "grow").words

    assert "gitattributes" not in written(), "no repository"
    git(old, "init", "-q")
    said = re.search("Two branches that add to it conflict: add `(.*)` to .gitattributes[.]", written())
    assert said is not None
    assert "gitattributes" not in command("lint", ".", "--baseline", file).words, "nothing is written"
    write(old, {".gitattributes": f"{said[1]}\n"})
    assert git(old, "check-attr", "merge", file).endswith(": merge: union\n")
    assert "gitattributes" not in written()
    write(old, {".gitattributes": "*.jsonl -merge\n"})
    assert "gitattributes" not in written(), "the club's own way"


LINE = (
    '{"file": "a.toml", "rule": "x", "subject": "y", "signal": "notice", "message": "m", '
    '"fingerprint": "' + "0" * 16 + '"}\n'
)
TOP = '{"setuplint-baseline": 1}\n'


@pytest.mark.parametrize(
    ("text", "place", "words"),
    [
        ("", "1:1", "not JSON"),
        ("nonsense", "1:1", "not JSON"),
        ("[]\n", "1:1", "not an object"),
        ("{}\n", "1:1", "no baseline: its first line is"),
        ('{"setuplint-baseline": 2}\n', "1:1", "a baseline of another version; this setuplint knows version 1"),
        ('{"setuplint-baseline": true}\n', "1:1", "another version"),
        (TOP + '{"file": 1,}\n', "2:12", "not JSON"),
        (TOP + "\n\n[1]\n", "4:1", "not an object"),
        (TOP + "<<<<<<< left\n", "2:1", "a merge was left undone"),
        (TOP + '{"times": 0}\n', "2:1", "times is a whole number from 1 to 400,000"),
        (TOP + "{}\n", "2:1", "no entry: it has file, rule, subject, signal, message, fingerprint, each a text"),
        (TOP + LINE.replace('"m"', "7"), "2:1", "no entry"),
        (TOP + LINE, "2:1", "the fingerprint is not that of this rule, file and subject"),
        (TOP + LINE.replace("notice", "grave"), "2:1", "signal is one of danger, caution, notice"),
        (TOP + LINE.replace("a.toml", "/etc/a.toml"), "2:1", "file is a path from the folder"),
        (TOP + LINE.replace("a.toml", "a\\u0000"), "2:1", "file is a path from the folder"),
        (TOP + "[" * 15_000 + "\n", "2:1", "not JSON that an entry could be"),
        (TOP + " " * 20_001 + "{}\n", "2:1", "more than 20,000 characters"),
        (TOP + '{"a": ' + "9" * 5000 + "}\n", "2:1", "not JSON that an entry could be"),
    ],
)
def test_what_is_no_baseline_is_trouble_with_its_place(
    text: str, place: str, words: str, club: Path, command: Command
) -> None:
    Path(FILE).write_text(text, encoding="utf-8")
    ran = command("lint", ".", "--baseline", FILE)
    assert (ran.status, ran.out) == (2, "")
    assert ran.err.startswith(f"setuplint: {FILE}:{place}: "), ran.err
    assert words in ran.err
    assert ran.err.count("\n") == 1


def test_what_is_no_text_and_no_file(club: Path, command: Command) -> None:
    Path(FILE).write_bytes(TOP.encode() + b"\xff\n")
    assert f"{FILE}:2:1: not UTF-8" in command("lint", ".", "--baseline", FILE).err
    os.mkfifo("pipe")
    assert "pipe: not a file" in command("lint", ".", "--baseline", "pipe").err
    assert command("lint", ".", "--baseline", ".").status == 2
    assert command("lint", ".", "--baseline-write", "grow").status == 2


@pytest.mark.slow
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60)
@given(st.text() | st.recursive(st.none() | st.text(), lambda x: st.dictionaries(st.text(), x)).map(json.dumps))
def test_any_line_is_refused_in_one_line(club: Path, text: str) -> None:
    Path(FILE).write_text(TOP + text, encoding="utf-8", errors="replace")
    read_baseline.cache_clear()
    if text.split("\n")[0].strip():
        with pytest.raises(BaselineError) as caught:
            read_baseline(FILE)
        assert str(caught.value).startswith(f"{FILE}:")


def test_a_clubs_rule_that_is_no_more_is_gone(club: Path, command: Command) -> None:
    write(club, {"setuplint.toml": 'rules = ["club-rules"]', "club-rules/too-strong.toml": claim()})
    write(club, {"club-rules/calm.toml": claim("output motor > 101")})
    command("lint", ".", "--baseline", FILE, "--baseline-write", "grow")
    assert command("lint", ".", "--baseline", FILE).status == 0
    (club / "club-rules" / "too-strong.toml").unlink()
    assert "No longer found, and still in the baseline: 1." in command("lint", ".", "--baseline", FILE).words


def test_a_short_file_stands_for_no_more_than_a_long_one(club: Path, command: Command) -> None:
    """Whoever sends a change may write any number there, and each counted one takes memory."""
    known = [Entry("x.toml", "hold-slow", subject, "danger", "m") for subject in ("a", "b")]
    lines = [json.dumps({**each._asdict(), "fingerprint": each.fingerprint, "times": 300_000}) for each in known]
    Path(FILE).write_text(TOP + "\n".join(lines), encoding="ascii")
    done = command("lint", ".", "--baseline", FILE)
    assert (done.status, done.err) == (2, f"setuplint: {FILE}: its entries stand for more than 400,000 findings\n")


def test_an_entry_that_stands_for_many_is_told_in_one_line(club: Path, command: Command) -> None:
    """A line of 300 bytes made 45 MB of what a change does."""
    (club / ".git").rmdir()
    git(club, "init", "-q")
    entry = Entry("wagtail.toml", "hold-bypassed", "rescue-power", "danger", "It runs.")
    lines = {
        times: json.dumps({**entry._asdict(), "fingerprint": entry.fingerprint, "times": times}) for times in (2, 5)
    }
    write(club, {"setuplint.toml": f'baseline = "{FILE}"', FILE: f"{TOP}{lines[2]}\n"})
    commit(club)
    write(club, {FILE: f"{TOP}{lines[5]}\n"})
    ran = command("compare", "--since", "HEAD", "--fail-on", "danger")
    assert (ran.status, ran.words.count("put into the baseline")) == (1, 1)
    assert "hold-bypassed of rescue-power in wagtail.toml: It runs. (3 times)" in ran.words
    write(club, {FILE: TOP})
    assert "left out of the baseline: 2 of what was in it" in command("compare", "--since", "HEAD").words


@pytest.mark.slow
def test_whatever_two_branches_do_to_it_is_merged(old: Path, command: Command) -> None:
    """Beside each other: both add the same entry and one of their own, and one leaves an entry out. Without the attribute that
    is a conflict, and a baseline with its marks is trouble."""
    (old / ".git").rmdir()
    git(old, "init", "-q")
    commit(old, "one")
    for branch, more in (("left", ("e/a.toml", "e/b.toml")), ("right", ("e/b.toml", "e/c.toml"))):
        git(old, "checkout", "-q", "-b", branch, "main")
        write(old, dict.fromkeys(more, HAZARD))
        if branch == "right":
            write(old, {"craft/kestrel.toml": HAZARD})
        assert command("lint", ".", "--baseline", FILE, "--baseline-write", "grow").status == 0
        commit(old, branch)
    git(old, "merge", "left", fails=True)
    assert "a merge was left undone" in command("lint", ".", "--baseline", FILE).err
    git(old, "merge", "--abort")
    (old / ".git" / "info" / "attributes").write_text(f"{FILE} merge=union\n", encoding="ascii")
    git(old, "merge", "-q", "-m", "both", "left")
    found = read_baseline(FILE).entries
    assert sorted(set(found)) == sorted(found), "what both add counts once"
    assert {file for file, *_ in found} == {"craft/kestrel.toml", "e/a.toml", "e/b.toml", "e/c.toml"}
    assert command("lint", ".", "--baseline", FILE).status == 0
    told = command("compare", "--since", "main", "--baseline", FILE, "--fail-on", "danger")
    assert told.status == 1
    assert told.words.count("danger: put into the baseline, so that it fails no more: hold-bypassed") == 3


def test_a_call_of_the_library_reads_it_once_and_each_call_anew(old: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write(old, {"setuplint.toml": f'baseline = "{FILE}"'})
    read: list[str] = []
    entries_of = baseline._entries
    monkeypatch.setattr(baseline, "_entries", lambda data, name: read.append(name) or entries_of(data, name))
    files = ["craft/kestrel.toml", "wagtail.toml"]
    assert [len(report.findings) for report in setuplint.lint_together(files)] == [0, 0]
    assert [Path(name).name for name in read] == [FILE]
    Path(FILE).write_text('{"setuplint-baseline": 1}\n')
    assert len(setuplint.lint_together(files)[0].findings) == 2
