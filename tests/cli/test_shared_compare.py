"""compare sees through shared parts: two files, and a work tree against a revision."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.running import REFERENCE, Command
from tests.cli.test_compare_command import git
from tests.test_shared_parts import halves

LATER = REFERENCE.replace('when = "flight is normal"\nvoice', 'when = "flight is normal or flight is idle-up-1"\nvoice')


@pytest.fixture
def club(folder: Path) -> Path:
    """A commit with two craft that extend one radio; a third extends none."""
    git(folder, "init", "-q")
    (folder / "craft").mkdir()
    for name in ("kestrel", "wagtail"):
        (folder / "craft" / f"{name}.toml").write_text("".join(halves(REFERENCE)[0]), encoding="utf-8")
    (folder / "alone.toml").write_text(REFERENCE, encoding="utf-8")
    (folder / "radio.toml").write_text("".join(halves(REFERENCE)[1]), encoding="utf-8")
    git(folder, "add", "-A")
    git(folder, "commit", "-qm", "One")
    return folder


def test_the_same_in_one_file_and_in_two(command: Command, club: Path) -> None:
    done = command("compare", "alone.toml", "craft/wagtail.toml")
    assert (done.status, done.err) == (0, ""), done.out


def test_a_changed_shared_part_is_a_change_of_each_that_extends_it(command: Command, club: Path) -> None:
    (club / "radio.toml").write_text("".join(halves(LATER)[1]), encoding="utf-8")
    done = command("compare", "--since", "HEAD")
    assert done.status == 1
    assert "The same in 2 setups (craft/kestrel.toml, craft/wagtail.toml):" in done.words
    assert "radio.toml (HEAD) ->" not in done.words
    assert "alone.toml" not in done.words
    only = command("compare", "--since", "HEAD", "radio.toml")
    assert only.out == done.out
    assert command("compare", "--since", "HEAD", "craft").status == 0  # that is all that was asked for


def test_a_shared_part_that_means_the_same_is_no_change(command: Command, club: Path) -> None:
    text = (club / "radio.toml").read_text()
    (club / "radio.toml").write_text(text.replace('"flight is normal"', '"not flight is not normal"') + "# more\n")
    done = command("compare", "--since", "HEAD")
    assert (done.status, done.words.count("->")) == (0, 2)


def test_parts_moved_into_a_shared_file_since_are_no_change(command: Command, club: Path) -> None:
    own = halves(REFERENCE)[0]
    (club / "alone.toml").write_text("".join(own).replace("../", ""), encoding="utf-8")
    git(club, "mv", "radio.toml", "club-radio.toml")
    for name in ("alone.toml", "craft/kestrel.toml", "craft/wagtail.toml"):
        path = club / name
        path.write_text(path.read_text().replace("radio.toml", "club-radio.toml"), encoding="utf-8")
    done = command("compare", "--since", "HEAD")
    assert (done.status, done.err) == (0, ""), done.out
    assert done.words.count("->") == 3


def test_a_shared_part_that_is_gone_is_not_the_same(command: Command, club: Path) -> None:
    (club / "radio.toml").unlink()
    done = command("compare", "--since", "HEAD")
    assert done.status != 0
    assert "craft/kestrel.toml" in done.words
    assert "there is no file radio.toml" in done.words


def test_from_a_folder_of_the_tree(club: Path, monkeypatch: pytest.MonkeyPatch, command: Command) -> None:
    (club / "radio.toml").write_text("".join(halves(LATER)[1]), encoding="utf-8")
    monkeypatch.chdir(club / "craft")
    done = command("compare", "--since", "HEAD", "..")
    assert done.status == 1
    assert "The same in 2 setups (kestrel.toml, wagtail.toml):" in done.words


def test_nothing_outside_the_tree_is_read_for_a_revision(command: Command, club: Path) -> None:
    (club / "alone.toml").write_text("".join(halves(REFERENCE)[0]), encoding="utf-8")  # extends ../radio.toml
    git(club, "add", "-A")
    git(club, "commit", "-qm", "Two")
    (club / "alone.toml").write_text(REFERENCE, encoding="utf-8")
    done = command("compare", "--since", "HEAD")
    assert done.status in (1, 2)
    assert "../radio.toml (HEAD) lies outside the repository" in done.words
