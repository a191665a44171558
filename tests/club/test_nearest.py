"""Which setuplint.toml hold for a file."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from setuplint.club import nearest


def put(folder: Path) -> str:
    folder.mkdir(parents=True, exist_ok=True)
    (folder / nearest.NAME).write_text("", encoding="utf-8")
    return os.path.realpath(folder / nearest.NAME)


def held(*where: Path | str, tops: tuple[str, ...] = ()) -> list[tuple[str, str]]:
    return [tuple(each) for each in nearest.config_files(os.path.join(*where), tops)]


def test_all_of_them_upwards_the_outermost_first(club: Path) -> None:
    top = put(club)
    (club / "a" / "b").mkdir(parents=True)
    assert held(club, "a", "b", "x.toml") == [(top, str(club))]
    inner = put(club / "a")
    assert held(club, "a", "b", "x.toml") == [(top, str(club)), (inner, str(club))]
    assert held(club, "x.toml") == [(top, str(club))]
    assert held("") == [(top, str(club))], "standard input: those of the working folder"
    assert held("a/b/x.toml") == [(top, str(club)), (inner, str(club))]


def test_never_above_the_root_of_the_work_tree(club: Path) -> None:
    put(club.parent)
    assert held(club, "wagtail.toml") == []
    (club / ".git").rmdir()
    (club / ".git").write_text("gitdir: elsewhere\n", encoding="utf-8")  # as in a linked work tree
    assert held(club, "wagtail.toml") == []
    (club / ".git").unlink()
    assert held(club, "wagtail.toml") != []


def test_a_tree_inside_another_has_its_own(club: Path) -> None:
    put(club)
    (club / "inner" / ".git").mkdir(parents=True)
    assert held(club, "inner", "x.toml") == []


def test_a_submodule_is_of_the_tree_around_it(club: Path) -> None:
    """A change could make one of a folder, with a setuplint.toml of its own."""
    top, inner = put(club), put(club / "craft")
    (club / "craft" / ".git").write_text("gitdir: ../.git/modules/craft\n", encoding="utf-8")
    assert held(club, "craft", "x.toml") == [(top, str(club)), (inner, str(club))]


def test_without_a_work_tree_not_above_the_home_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    (tmp_path / "home" / "craft").mkdir(parents=True)
    put(tmp_path)
    assert held(tmp_path, "home", "craft", "x.toml") == []
    assert held(tmp_path, "x.toml") != [], "elsewhere than at home"
    mine = put(tmp_path / "home")
    assert held(tmp_path, "home", "craft", "x.toml") == [(mine, str(tmp_path / "home"))]


def test_without_a_work_tree_not_from_a_folder_that_anyone_may_write_to(tmp_path: Path) -> None:
    put(tmp_path)
    (tmp_path / "shared" / "mine").mkdir(parents=True)
    assert held(tmp_path, "shared", "mine", "x.toml") != []
    (tmp_path / "shared").chmod(0o777)
    theirs = put(tmp_path / "shared")
    assert held(tmp_path, "shared", "mine", "x.toml") == []
    named = (os.path.realpath(tmp_path / "shared"),)
    assert held(tmp_path, "shared", "mine", "x.toml", tops=named) == [(theirs, named[0])], "but that was named"


def test_a_link_to_a_setup_has_the_config_of_where_the_link_is(club: Path) -> None:
    top = put(club)
    outside = club.parent / "outside"
    outside.mkdir()
    (outside / "x.toml").write_text("", encoding="utf-8")
    (club / "x.toml").symlink_to(outside / "x.toml")
    assert held(club, "x.toml") == [(top, str(club))]


def test_one_that_is_named_has_its_own_root(club: Path) -> None:
    put(club / "a")
    assert nearest.given_config("a/setuplint.toml") == (str(club / "a" / "setuplint.toml"), str(club))
    (club / ".git").rmdir()
    assert nearest.given_config("a/setuplint.toml").root == str(club / "a")
