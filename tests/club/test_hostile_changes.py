"""A change that chooses its own judge: of each kind one, and none turns the gate green without a line that says so.

The gate is what a pipeline runs on a pull request: `lint` by the base's policy, and `compare` with the merge base. Beside it
stands what `lint` says by the change's own policy, as in a hook: where that passes, `compare` has a line, and a status.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import pytest

from tests.cli.running import Command
from tests.club.git import commit, git
from tests.club.made import HAZARD, REFERENCE, claim, write

CLUB = """\
edition = 2026
fail-on = "notice"
rules = ["club-rules"]
never-waive = ["danger", "too-strong"]
baseline = "known.jsonl"
[limits]
hold-slow.longest = 0.4
"""
STRICT = "limits.hold-slow.longest = 0.2\n"
NOTICE = f"{REFERENCE}\n[curves.spare]\npoints = [[-100, 0], [100, 0]]\n"
WAIVED = f'{HAZARD}[[waivers]]\nrule = "hold-bypassed"\nreason = "the bench stand"\n'
RULE = claim("hold called and output motor > -90", signal="danger", title="Driven in the hold")
HEAD = '{"setuplint-baseline": 1}\n'

Change = Callable[[Path], None]


class Hostile(NamedTuple):
    """A change, what `compare` says of it, and the status of `lint` by the base's policy and by the change's own."""

    change: Change
    said: tuple[str, ...]
    by_base: int = 1
    by_own: int = 0


def edit(old: str, new: str, file: str = "setuplint.toml", **more: str) -> Change:
    def change(club: Path) -> None:
        text = (club / file).read_text(encoding="utf-8")
        assert old in text
        write(club, {file: text.replace(old, new), **more})

    return change


def put(**files: str) -> Change:
    """By names with __ for / and _ for a point."""
    return lambda club: write(club, {name.replace("__", "/").replace("_", "."): text for name, text in files.items()})


def grow(club: Path) -> None:
    from setuplint.cli import main

    write(club, {"setuplint.toml": CLUB.replace('"danger", ', "")})
    commit(club, "base")
    git(club, "branch", "-f", "main")
    write(club, {"wagtail.toml": HAZARD})
    assert main(["lint", ".", "--baseline-write", "grow"]) == 0


def gone(*names: str, **files: str) -> Change:
    def change(club: Path) -> None:
        for name in names:
            (club / name).unlink()
        put(**files)(club)

    return change


def moved(club: Path) -> None:
    """Out of the folder that is judged more strictly."""
    write(club, {"craft/setuplint.toml": STRICT})
    commit(club, "base")
    git(club, "branch", "-f", "main")
    git(club, "mv", "craft/kestrel.toml", "kestrel.toml")


def tree(club: Path) -> None:
    """A folder becomes a submodule with a setuplint.toml of its own; what is in it is no more of this repository."""
    git(club, "rm", "-rq", "craft")
    write(club, {"craft/setuplint.toml": "fail-on = 'danger'\n", "craft/kestrel.toml": WAIVED})
    write(club, {"craft/.git": "gitdir: ../.git/modules/craft\n", ".git/modules/craft/config": ""})
    git(club, "init", "-q", "--bare", ".git/modules/craft")
    git(club / "craft", "config", "core.worktree", "../../../craft")
    git(club / "craft", "config", "core.bare", "false")
    commit(club / "craft", "theirs")


def renamed(club: Path) -> None:
    git(club, "mv", "craft/kestrel.toml", "craft/kestrel.txt")


def linked(club: Path) -> None:
    (club / "craft" / "kestrel.toml").unlink()
    (club / "craft" / "kestrel.toml").symlink_to("../../elsewhere.toml")


def escaped(text: str) -> str:
    """Every key and every heading with an escape."""
    return re.sub(r"^(\[*)([a-z])([a-z-]*)", lambda m: f'{m[1]}"\\u{ord(m[2]):04x}{m[3]}"', text, flags=re.M)


CASES = {
    "a nested file voids never-waive": Hostile(
        put(craft__setuplint_toml="fail-on = 'danger'\n", craft__kestrel_toml=WAIVED), ("2 dangers gained",), 1, 1
    ),
    "never-waive is shortened": Hostile(
        edit('["danger", "too-strong"]', '["too-strong"]', **{"wagtail.toml": WAIVED}),
        ("danger: never-waive is without danger now", "waived: without an end: the bench stand"),
        1,
        1,
    ),
    "fail-on is raised": Hostile(
        edit('"notice"', '"danger"', **{"wagtail.toml": NOTICE}),
        ("caution: fail-on is danger now, and was notice: a caution or notice fails no more",),
    ),
    "a limit is loosened": Hostile(
        edit("longest = 0.4", "longest = 0.5"), ("danger: hold-slow.longest is 0.5 s now, and was 0.4: looser",), 0
    ),
    "a limit is left out": Hostile(edit("hold-slow.longest = 0.4", ""), ("hold-slow.longest is 0.5 s now",), 0),
    "the edition is moved": Hostile(edit("edition = 2026\n", ""), ("the edition is the newest now, and was 2026",), 0),
    "a club's rule is gone": Hostile(
        gone("club-rules/driven.toml"),
        ("danger: the rule driven is gone: “Driven in the hold” is not judged any more",),
        0,
    ),
    "a club's rule is weakened": Hostile(
        edit("output motor > -90", "output motor > 90", "club-rules/driven.toml", **{"wagtail.toml": HAZARD}),
        ("danger: the rule driven says never hold called and output motor > 90 now", "it is not proved that it finds"),
        1,
        1,
    ),
    "an entry is added to the baseline": Hostile(
        grow,
        ("danger: put into the baseline, so that it fails no more: hold-bypassed of rescue-power in wagtail.toml",),
    ),
    # five more
    "the club's file is gone": Hostile(
        gone("setuplint.toml", **{"wagtail_toml": WAIVED}),
        ("danger: the rule driven is gone", "danger: never-waive is without danger and too-strong now"),
    ),
    "a rule becomes a notice": Hostile(
        edit('signal = "danger"', 'signal = "notice"', "club-rules/driven.toml"),
        ("danger: the rule driven is a notice now, and was a danger",),
        0,
    ),
    "a rule is judged only where something is described": Hostile(
        edit("never = ", 'needs = ["craft.hover-measured-at-m"]\nnever = ', "club-rules/driven.toml"),
        ("danger: the rule driven is not judged now without craft.hover-measured-at-m",),
        0,
    ),
    "a rule is silent where another speaks": Hostile(
        edit("never = ", 'said-by = ["part-unused"]\nnever = ', "club-rules/driven.toml"),
        ("danger: the rule driven is silent now where there speaks part-unused",),
        0,
    ),
    "a setup moves out of a strict folder": Hostile(
        moved, ("danger: hold-slow.longest is 0.4 s now, and was 0.2: looser",), 0
    ),
    "another file is named as the baseline": Hostile(
        edit('"known.jsonl"', '"mine.jsonl"', **{"mine.jsonl": HEAD}), ("left out of the baseline: 1",), 0, 1
    ),
    "the rules are those of another folder": Hostile(
        edit(
            '["club-rules"]',
            '["other"]',
            **{
                "other/driven.toml": RULE.replace("> -90", "> 100"),
                "other/too-strong.toml": claim("output motor > 101"),
            },
        ),
        ("danger: the rule driven says never hold called and output motor > 100 now",),
        0,
    ),
    # what would rather not be seen
    "in a hidden folder": Hostile(
        put(**{".setups__kestrel_toml": HAZARD}), (".setups/kestrel.toml is new: 2 dangers",), 1, 1
    ),
    "in capitals": Hostile(put(craft__MERLIN_TOML=HAZARD), ("craft/MERLIN.TOML is new: 2 dangers",), 1, 1),
    "with every key escaped": Hostile(
        put(craft__merlin_toml=escaped(HAZARD)), ("craft/merlin.toml is new: 2 dangers",), 1, 1
    ),
    "a link takes a setup's place": Hostile(linked, ("craft/kestrel.toml is a link now, and no link is read",), 0),
    "a setup is no TOML file any more": Hostile(
        renamed, ("craft/kestrel.toml is craft/kestrel.txt now, and what is called so is not judged",), 0
    ),
    "a setup is none any more": Hostile(
        edit("format = 1", 'format = "1"', "wagtail.toml"), ("wagtail.toml (main) -> wagtail.toml:",), 1, 1
    ),
    "a submodule with a policy of its own": Hostile(tree, ("craft/kestrel.toml (main) is gone.",), 1, 1),
    "a merge is left undone": Hostile(
        edit("format = 1\n", "<<<<<<< one\nformat = 1\n=======\nformat = 1\n>>>>>>> other\n", "wagtail.toml"),
        ("wagtail.toml:1:1: danger: A merge", "Nothing of the set-up is judged any more"),
        1,
        1,
    ),
    "larger than a setup may be": Hostile(
        edit("format = 1\n", f"format = 1\n{'# x' * 20}\n" + "# more\n" * 150_000, "wagtail.toml"),
        ("it is not a setup",),
        1,
        1,
    ),
}
TROUBLE = {"larger than a setup may be", "a link takes a setup's place", "a setup is no TOML file any more"}
"""Status 2: not compared; lint passes it over."""


@pytest.fixture
def repository(club: Path, command: Command) -> Path:
    """Of one commit, on a branch of its own: a club with rules, limits and a baseline that holds a notice."""
    (club / ".git").rmdir()
    git(club, "init", "-q")
    files = {
        "setuplint.toml": CLUB,
        "club-rules/driven.toml": RULE,
        "club-rules/too-strong.toml": claim("output motor > 101"),
    }
    write(club, files | {"craft/kestrel.toml": REFERENCE, "old.toml": NOTICE})
    assert command("lint", ".", "--baseline-write", "grow").status == 0
    commit(club, "one")
    git(club, "checkout", "-q", "-b", "change")
    return club


@pytest.mark.parametrize("name", CASES)
@pytest.mark.quick(1)
def test_no_change_turns_the_gate_green_without_a_line(name: str, repository: Path, command: Command) -> None:
    case = CASES[name]
    case.change(repository)
    commit(repository)
    compared = command("compare", "--since", "main", "--fail-on", "notice")
    for words in case.said:
        assert words in compared.words
    grave = re.search(r"(danger|caution|notice)s?(:| |\.)", compared.words) is not None
    assert compared.status == (2 if name in TROUBLE else int(grave))
    assert command("compare", "--since", "main").status == (2 if name in TROUBLE else 1), "any difference"
    assert command("lint", ".", "--policy", "main").status == case.by_base
    assert command("lint", ".").status == case.by_own
