"""Which setuplint.toml holds for a file."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from setuplint.club import nearest


def put(folder: Path) -> str:
    folder.mkdir(parents=True, exist_ok=True)
    (folder / nearest.NAME).write_text("", encoding="utf-8")
    return os.path.realpath(folder / nearest.NAME)


def test_the_nearest_one_upwards(club: Path) -> None:
    top = put(club)
    (club / "a" / "b").mkdir(parents=True)
    assert nearest.nearest_config(str(club / "a" / "b" / "x.toml")) == (top, str(club))
    inner = put(club / "a")
    assert nearest.nearest_config(str(club / "a" / "b" / "x.toml")) == (inner, str(club))
    assert nearest.nearest_config(str(club / "x.toml")) == (top, str(club))
    assert nearest.nearest_config("") == (top, str(club)), "standard input: that of the working folder"
    assert nearest.nearest_config("a/b/x.toml") == (inner, str(club))


def test_never_above_the_root_of_the_work_tree(club: Path) -> None:
    put(club.parent)
    assert nearest.nearest_config(str(club / "wagtail.toml")) is None
    (club / ".git").rmdir()
    (club / ".git").write_text("gitdir: elsewhere\n", encoding="utf-8")  # as in a linked work tree
    assert nearest.nearest_config(str(club / "wagtail.toml")) is None
    (club / ".git").unlink()
    assert nearest.nearest_config(str(club / "wagtail.toml")) is not None


def test_a_tree_inside_another_has_its_own(club: Path) -> None:
    put(club)
    (club / "inner" / ".git").mkdir(parents=True)
    assert nearest.nearest_config(str(club / "inner" / "x.toml")) is None


def test_without_a_work_tree_not_above_the_home_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    (tmp_path / "home" / "craft").mkdir(parents=True)
    put(tmp_path)
    assert nearest.nearest_config(str(tmp_path / "home" / "craft" / "x.toml")) is None
    assert nearest.nearest_config(str(tmp_path / "x.toml")) is not None, "elsewhere than at home it is the nearest one"
    mine = put(tmp_path / "home")
    assert nearest.nearest_config(str(tmp_path / "home" / "craft" / "x.toml")) == (mine, str(tmp_path / "home"))


def test_without_a_work_tree_not_from_a_folder_that_anyone_may_write_to(tmp_path: Path) -> None:
    put(tmp_path)
    (tmp_path / "shared" / "mine").mkdir(parents=True)
    assert nearest.nearest_config(str(tmp_path / "shared" / "mine" / "x.toml")) is not None
    (tmp_path / "shared").chmod(0o777)
    put(tmp_path / "shared")
    assert nearest.nearest_config(str(tmp_path / "shared" / "mine" / "x.toml")) is None


def test_a_link_to_a_setup_has_the_config_of_where_the_link_is(club: Path) -> None:
    top = put(club)
    outside = club.parent / "outside"
    outside.mkdir()
    (outside / "x.toml").write_text("", encoding="utf-8")
    (club / "x.toml").symlink_to(outside / "x.toml")
    assert nearest.nearest_config(str(club / "x.toml")) == (top, str(club))


def test_one_that_is_named_has_its_own_root(club: Path) -> None:
    put(club / "a")
    assert nearest.given_config("a/setuplint.toml") == (str(club / "a" / "setuplint.toml"), str(club))
    (club / ".git").rmdir()
    assert nearest.given_config("a/setuplint.toml").root == str(club / "a")
