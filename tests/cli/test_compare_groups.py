"""`setuplint compare` of several setups: what they have in common once, the gravest first; and what is passed over, counted."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from setuplint.club.baseline import Entry
from tests.cli.running import REFERENCE, Command
from tests.club.git import commit, git

HOLD = '[switches.hold]\nkind = "two-position"\npositions = ["off", "on"]\n'
OWN = REFERENCE.replace("format = 1\n", 'format = 1\nextends = "radio.toml"\n').replace(HOLD, "")
GRAVE = REFERENCE.replace("priority = 100", "priority = 10")


@pytest.fixture
def club(folder: Path) -> Path:
    """Three setups that share a part, and a fourth that does not."""
    git(folder, "init", "-q")
    Path("radio.toml").write_text(f"format = 1\n{HOLD}", encoding="utf-8")
    for name in ("a", "b", "c"):
        Path(f"{name}.toml").write_text(OWN, encoding="utf-8")
    Path("z.toml").write_text(REFERENCE, encoding="utf-8")
    git(folder, "add", "-A")
    git(folder, "commit", "-qm", "One")
    return folder


def sections(said: str) -> list[str]:
    return [" ".join(part.removeprefix("### ").split()) for part in said.split("\n\n")]


@pytest.mark.slow
@pytest.mark.parametrize("form", ["text", "markdown"])
def test_the_same_change_is_told_once_and_the_gravest_setup_first(club: Path, command: Command, form: str) -> None:
    Path("radio.toml").write_text(f"format = 1\n{HOLD}".replace('["off", "on"]', '["on", "off"]'), encoding="utf-8")
    Path("b.toml").write_text(OWN.replace("expo = 20", "expo = 40"), encoding="utf-8")
    Path("z.toml").write_text(GRAVE, encoding="utf-8")
    done = command("compare", "--since", "HEAD", "--format", form)
    assert done.out.count("switch hold: positions: off, on before, on, off now") == 1
    told = sections(done.out)
    first = next(n for n, each in enumerate(told) if "The same in 3 setups (a.toml, b.toml, c.toml):" in each)
    assert "positions: off, on before" in " ".join(told[first : first + 2])
    headings = [each for each in told if re.match(r"[abcz]\.toml", each)]
    assert [each[0] for each in headings] == ["z", "b"], "a danger comes first"
    assert "2 differences; 1 of that is told above." in headings[1]
    assert "Told above is all that is different in a.toml, c.toml" in done.words
    changes = [
        each["changes"]
        for each in json.loads(command("compare", "--since", "HEAD", "--format", "json").out)["comparisons"]
    ]
    assert [len(each) for each in changes] == [1, 2, 1, len(changes[3])], "for programs each has its own"


def test_a_finding_in_several_setups_is_told_with_its_places(club: Path, command: Command) -> None:
    Path("radio.toml").write_text("format = 1\n" + HOLD.replace("hold]", "halt]"), encoding="utf-8")
    done = command("compare", "--since", "HEAD", "--fail-on", "danger")
    assert done.status == 1
    (line,) = [line for line in done.out.splitlines() if "there is no switch" in line]
    assert re.match(r" +a\.toml:\d+:9, b\.toml:\d+:9, c\.toml:\d+:9: danger: ", line)
    assert done.words.count("1 danger gained; all of it is told above.") == 3
    assert done.out.count("for want of") == 3, "what is not compared is said of each"


def test_what_is_not_compared_is_counted_by_reason(club: Path, command: Command) -> None:
    Path("other.toml").write_text("[format]\n", encoding="utf-8")
    Path("lock.TOML").write_text("[[package]]\n" * 100_000, encoding="utf-8")
    Path("link.toml").symlink_to("nowhere.toml")
    done = command("compare", "--since", "HEAD")
    said = "Passed over: 1 other TOML file, not a setup; 1 file too large to be a setup; 1 name that is no file."
    assert (done.status, done.words) == (0, f"No setup has changed. {said}")
    summary = json.loads(command("compare", "--since", "HEAD", "--format", "json").out)["summary"]
    assert {"file": "lock.TOML", "because": "too-large"} in summary["passed-over"]
    assert said in command("compare", "--since", "HEAD", "--format", "markdown").words
    Path("z.toml").write_text(REFERENCE + "#" * 1_000_000, encoding="utf-8")
    done = command("compare", "--since", "HEAD")
    assert done.status == 2, "a setup that is made too large is no other file"
    assert "z.toml has more than 1,000,000 bytes" in done.err


def test_a_comment_has_room_for_what_is_said_of_the_judge_and_of_troubles(folder: Path, command: Command) -> None:
    """However long a change makes it; and what there is no room for is counted."""
    git(folder, "init", "-q")
    for n in range(12):
        Path(f"{n}.toml").write_text(REFERENCE, encoding="utf-8")
    Path("setuplint.toml").write_text("baseline = 'known.jsonl'\n", encoding="utf-8")
    commit(folder, "one")
    entries = [Entry("x.toml", "hold-slow", f"s{n}", "danger", "&" * 15_000) for n in range(60)]
    lines = [json.dumps({**each._asdict(), "fingerprint": each.fingerprint}) for each in entries]
    Path("known.jsonl").write_text("\n".join(['{"setuplint-baseline": 1}', *lines]), encoding="ascii")
    for n in range(12):
        Path(f"{n}.toml").write_text(REFERENCE + "#" * 1_000_000, encoding="utf-8")
    done = command("compare", "--since", "HEAD", "--format", "markdown")
    assert done.status == 2
    assert len(done.out.encode()) < 65_536
    assert "and 20 more" in done.out
    assert "And 2 more notes." in done.out
