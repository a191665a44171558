"""The TOML files of a folder, in the order in which `lint` takes them, within bounds. Links and hidden files are left out."""

from __future__ import annotations

import os
from collections.abc import Iterator

from setuplint.named_tuple import NamedTuple
from setuplint.setup.file_sources import ROOTS, is_toml_name, repository_root

MOST_FILES = 300  # TOML files of a folder
MOST_SEEN = 5_000  # files and folders
MOST_BYTES = 20_000_000


class FolderWalk(NamedTuple):
    """The real paths of a folder's TOML files, and whether these are all of them."""

    paths: list[str]
    is_whole: bool


def toml_files(path: str) -> list[str]:
    """Those of a setup's repository, itself among them; without a repository those of its folder."""
    root = repository_root(os.path.dirname(path))
    return walk(root, deep=any(os.path.lexists(os.path.join(root, mark)) for mark in ROOTS)).paths


def walk(root: str, *, deep: bool = True) -> FolderWalk:
    """Those of a folder; `deep`: and of the folders in it."""
    paths: list[str] = []
    size = 0
    for seen, entry in enumerate(_entries(os.path.realpath(root), deep), start=1):
        if seen > MOST_SEEN:
            return FolderWalk(paths, False)
        if is_toml_name(entry.name) and entry.is_file(follow_symlinks=False):
            size += entry.stat(follow_symlinks=False).st_size
            if len(paths) == MOST_FILES or size > MOST_BYTES:
                return FolderWalk(paths, False)
            paths.append(entry.path)
    return FolderWalk(paths, True)


def _entries(root: str, deep: bool) -> Iterator[os.DirEntry[str]]:
    """A folder's entries by name, then those of its folders; neither hidden ones nor links."""
    folders = [root]
    while folders:
        inner = []
        try:
            with os.scandir(folders.pop()) as entries:
                here = sorted(entries, key=lambda entry: entry.name)
        except OSError:
            continue
        for entry in here:
            if entry.name.startswith(".") or entry.is_symlink():
                continue
            yield entry
            if entry.is_dir(follow_symlinks=False):
                inner.append(entry.path)
        folders += reversed(inner if deep else [])
