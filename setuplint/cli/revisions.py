"""What has changed in a work tree since a revision, through git itself. Nothing that a repository holds is run."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Iterator
from typing import NamedTuple

from setuplint.cli import Trouble, files

REGULAR = ("100644", "100755")


class Changed(NamedTuple):
    """A file of the work tree that is not as it was: its old name and git's name for its old content ("" where it was not
    there), and its new name and path ("" where it is gone). Names are relative to where git was asked from."""

    old: str
    blob: str
    new: str
    path: str


class Tree:
    """The work tree that a folder is in. Trouble where there is none, or no git."""

    def __init__(self, folder: str = ".") -> None:
        self.folder = folder
        self.root = os.fsdecode(self.git("rev-parse", "--show-toplevel")).rstrip("\n")

    def git(self, *words: str) -> bytes:
        command = ["git", "-C", self.folder, "--literal-pathspecs", "--no-pager", *words]
        environment = {**os.environ, "GIT_OPTIONAL_LOCKS": "0", "LC_ALL": "C"}
        try:
            done = subprocess.run(command, capture_output=True, env=environment, check=False)
        except OSError as error:
            raise Trouble(f"git cannot be run: {error.strerror or error}") from None
        if done.returncode:
            said = done.stderr.decode(errors="backslashreplace").strip().splitlines()
            raise Trouble(f"git {words[0]}: {said[-1] if said else f'ended with status {done.returncode}'}")
        return done.stdout

    def commit(self, revision: str) -> str:
        """The commit of a revision; Trouble where it names none."""
        try:
            name = self.git("rev-parse", "--verify", "--quiet", "--end-of-options", f"{revision}^{{commit}}")
        except Trouble:
            raise Trouble(f"{revision!r} is no revision of this repository") from None
        return name.decode().strip()

    def changed(self, commit: str, paths: list[str]) -> Iterator[Changed]:
        """The TOML files under the paths that are not as they were in the commit, untracked ones included, by name."""
        found = [*self._tracked(commit, paths), *self._untracked(paths)]
        yield from sorted(found, key=lambda each: each.new or each.old)

    def _tracked(self, commit: str, paths: list[str]) -> Iterator[Changed]:
        raw = self.git(
            "diff", "--raw", "-z", "-M", "--no-abbrev", "--no-ext-diff", "--no-textconv", commit, "--", *paths
        )
        fields = iter(raw.split(b"\0"))
        for head in fields:
            if not head:
                continue
            was, now, blob, _, status = head[1:].decode().split(" ")
            old = new = os.fsdecode(next(fields))
            if status[0] in "RC":
                new = os.fsdecode(next(fields))
            there, here = was in REGULAR and status[0] != "A", now in REGULAR and status[0] != "D"
            if status[0] == "C":
                there = False
            if (there and old.endswith(".toml")) or (here and new.endswith(".toml")):
                yield Changed(
                    self.near(old) if there else "",
                    blob if there else "",
                    self.near(new) if here else "",
                    os.path.join(self.root, new) if here else "",
                )

    def _untracked(self, paths: list[str]) -> Iterator[Changed]:
        raw = self.git("ls-files", "--others", "--exclude-standard", "--full-name", "-z", "--", *paths)
        for name in map(os.fsdecode, filter(None, raw.split(b"\0"))):
            path = os.path.join(self.root, name)
            if name.endswith(".toml") and os.path.isfile(path) and not os.path.islink(path):
                yield Changed("", "", self.near(name), path)

    def near(self, name: str) -> str:
        """A name in the tree as it is written from the folder."""
        return os.path.relpath(os.path.join(self.root, name), os.path.realpath(self.folder))

    def content(self, blob: str) -> bytes:
        """What a file held, one byte more than a setup may have at most."""
        if int(self.git("cat-file", "-s", blob)) > files.LARGEST:
            raise Trouble(f"{blob[:12]} has more than {files.LARGEST:,} bytes: it is no setup")
        return self.git("cat-file", "blob", blob)
