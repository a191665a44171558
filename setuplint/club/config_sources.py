"""Where setuplint.toml, a club's rules and its baseline are read from: the disk, or git's objects. Paths are absolute."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

from setuplint.book import club_rules
from setuplint.book.club_rules import RuleText
from setuplint.book.rule_file import BookError
from setuplint.club import nearest
from setuplint.club.git_files import LINK, GitFiles
from setuplint.club.nearest import NearestFile
from setuplint.named_tuple import NamedTuple
from setuplint.setup.file_sources import file_content, is_toml_name, name_from, path_from


class Disk:
    """The disk."""

    def configs(self, file: str, tops: Sequence[str] = ()) -> list[NearestFile]:
        """The setuplint.toml that hold for a file, the outermost first; for `tops` see `nearest.config_files`."""
        return nearest.config_files(file, tops)

    def shown(self, path: str) -> str:
        """What people call it."""
        here = os.path.realpath(os.curdir)
        return path_from(here, path) if is_inside(path, here) else path

    def resolved(self, path: str) -> str:
        """The path once links are followed, where they are."""
        return os.path.realpath(path)

    def content(self, path: str, root: str, most: int) -> bytes:
        """What a file holds, or one byte more than `most`. OSError where it cannot be read, or leads out of `root`."""
        real = os.path.realpath(path)
        if not is_inside(real, root):
            raise OSError("it is a link that leads out of the repository")
        data = file_content(real, most)
        if data is None:
            raise OSError("it is not a file")
        return data

    def is_folder(self, path: str) -> bool:
        return os.path.isdir(path)

    def rule_texts(self, folder: str) -> list[RuleText]:
        """The rule files in a folder, by name. OSError or book.BookError where one cannot be taken."""
        return club_rules.rule_texts(Path(self.shown(folder)))


DISK: ConfigSource = Disk()


class GitSource(NamedTuple):
    """A commit, or what is staged. No link is followed: git has only where it leads."""

    files: GitFiles

    def configs(self, file: str, tops: Sequence[str] = ()) -> list[NearestFile]:
        folder = os.path.dirname(os.path.abspath(file or "x"))
        if not is_inside(folder, self.files.root):
            folder = os.path.realpath(folder)
        if not is_inside(folder, self.files.root):
            return []
        steps = self._name(folder).split("/")
        folders = [self.files.root, *(os.path.join(self.files.root, *steps[: n + 1]) for n in range(len(steps)))]
        names = dict.fromkeys(os.path.normpath(os.path.join(folder, nearest.NAME)) for folder in folders)
        return [NearestFile(path, self.files.root) for path in names if self._name(path) in self.files.entries]

    def shown(self, path: str) -> str:
        of = f" ({self.files.revision})" if self.files.revision else ""
        return f"{DISK.shown(path)}{of}"

    def resolved(self, path: str) -> str:
        return os.path.normpath(path)

    def content(self, path: str, root: str, most: int) -> bytes:
        return self.files.content(self._name(path), most)

    def is_folder(self, path: str) -> bool:
        return self.files.is_folder(self._name(path))

    def rule_texts(self, folder: str) -> list[RuleText]:
        inside = self._name(folder)
        start = "" if inside == "." else f"{inside}/"
        names = [n for n in self.files.under(start.rstrip("/")) if is_toml_name(n) and "/" not in n[len(start) :]]
        if not names:
            raise club_rules.no_rule(self.shown(folder))
        for name in names[: club_rules.MOST + 1]:
            if self.files.entries[name].mode == LINK:
                raise BookError(f"{self.shown(os.path.join(self.files.root, name))}: no link is followed in a revision")
        blobs = {name: self.files.entries[name].name for name in names[: club_rules.MOST + 1]}
        texts = self.files.contents(blobs.values(), club_rules.LARGEST)
        return [
            RuleText(path, self.shown(path), texts[blob])
            for name, blob in blobs.items()
            for path in [os.path.join(self.files.root, *name.split("/"))]
        ]

    def _name(self, path: str) -> str:
        return name_from(self.files.root, path)


ConfigSource = Disk | GitSource


def is_inside(path: str, root: str) -> bool:
    return (path + os.sep).startswith(root.rstrip(os.sep) + os.sep)
