"""The files beside a set-up in a tree of git's, and which of them extend which."""

from __future__ import annotations

import os
from contextlib import suppress
from functools import lru_cache

from setuplint.club.git_files import REGULAR, GitFiles
from setuplint.setup.file_sources import (
    LARGEST,
    LARGEST_RECORD,
    Records,
    Refused,
    extended_path,
    is_toml_name,
    name_beside,
    name_from,
    records_among,
)


def toml_files_under(side: GitFiles, folders: list[str]) -> list[str]:
    """The TOML files in folders of a tree, or among those that are named."""
    return [
        name
        for name, entry in side.entries.items()
        if is_toml_name(name) and entry.mode in REGULAR
        if any(folder in (".", name) or name.startswith(f"{folder}/") for folder in folders)
    ]


@lru_cache(maxsize=4)
def extending_in(side: GitFiles) -> list[tuple[str, str]]:
    """The files of a tree that extend one, each with that one, as paths."""
    found: list[tuple[str, str]] = []
    names: dict[str, list[str]] = {}
    for name in toml_files_under(side, ["."]):
        names.setdefault(side.entries[name].name, []).append(name)
    for blob, data in side.stream(names, LARGEST):
        other = extended_path(data) if len(data) <= LARGEST else None
        for name in names[blob] if other is not None else ():
            path = os.path.join(side.root, *name.split("/"))
            found.append((path, os.path.normpath(os.path.join(os.path.dirname(path), str(other)))))
    return sorted(found)


class GitFolder:
    """The files beside a set-up as they are in a commit, or staged. Links are not followed: git has only where they lead."""

    def __init__(self, side: GitFiles, path: str, near: str, *, compared: bool = False) -> None:
        """`path` is the set-up's name in the tree, `near` what it is called. What is `compared` is taken for a set-up, whoever
        extends it."""
        self.side, self.path, self.near, self.compared = side, path, near, compared
        self.own = os.path.basename(path)
        self._of = f" ({side.revision})" if side.revision else ""
        self.called = f"{near}{self._of}"

    def name(self, path: str) -> str:
        return f"{name_beside(self.near, path)}{self._of}"

    def place(self, path: str) -> str:
        return os.path.normpath(os.path.join(os.path.dirname(self.path), path)).replace(os.sep, "/")

    def is_extended(self) -> bool:
        own = os.path.join(self.side.root, *self.path.split("/"))
        return not self.compared and any(other == own for _, other in extending_in(self.side))

    def read(self, path: str, most: int) -> bytes:
        place = self.place(path)
        if place.split("/")[0] == "..":
            raise Refused(f"{self.name(path)} lies outside the repository", "shared parts are read from inside it only")
        try:
            return self.side.content(place, most)
        except FileNotFoundError:
            raise Refused(
                f"there is no file {self.name(path)}", "the path is relative to the folder of this file"
            ) from None
        except OSError as error:
            raise Refused(
                f"{self.name(path)} cannot be read: {error.strerror}", "name a file with shared parts"
            ) from None

    def records(self) -> Records:
        folder = os.path.dirname(self.path)
        inside = [name_from(folder or ".", name) for name in self.side.under(folder)]
        found: Records = {}
        for name in records_among((each for each in inside if "/" not in each), self.own):
            found[self.name(name)] = None
            with suppress(OSError):  # a link
                found[self.name(name)] = self.side.content(self.place(name), LARGEST_RECORD)
        return found
