"""What has changed in a work tree since a revision, through git itself. Nothing that a repository holds is run."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Iterator
from functools import cached_property
from typing import NamedTuple

from setuplint.cli import files
from setuplint.cli.trouble import Trouble
from setuplint.setup.file_sources import Refused, extended_path, extending_pairs, is_toml_name, name_beside

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
        """The commit of a revision; Trouble where it names none. Before the first commit HEAD is an empty tree: a hook that
        compares with it is not to stop that commit."""
        try:
            name = self.git("rev-parse", "--verify", "--quiet", "--end-of-options", f"{revision}^{{commit}}")
        except Trouble:
            if revision != "HEAD" or not self.unborn():
                raise Trouble(f"{revision!r} is not a revision of this repository") from None
            name = self.git("hash-object", "-t", "tree", os.devnull)
        return name.decode().strip()

    def unborn(self) -> bool:
        """Whether the branch that is checked out has no commit yet."""
        try:
            branch = self.git("symbolic-ref", "--quiet", "HEAD")
            return not self.git("for-each-ref", branch.decode().strip())
        except Trouble:
            return False  # no branch is checked out

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
            if (there and is_toml_name(old)) or (here and is_toml_name(new)):
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
            if is_toml_name(name) and os.path.isfile(path) and not os.path.islink(path):
                yield Changed("", "", self.near(name), path)

    def near(self, name: str) -> str:
        """A name in the tree as it is written from the folder."""
        return os.path.relpath(os.path.join(self.root, name), os.path.realpath(self.folder))

    @cached_property
    def links(self) -> list[tuple[str, str]]:
        """The files of the work tree that extend one, each with that one, by real paths."""
        return list(extending_pairs(self.root))

    def real(self, near: str) -> str:
        """The real path of a file, named as from the folder; it need not be there."""
        return os.path.realpath(os.path.join(self.folder, near))

    def extended(self, changed: list[Changed]) -> set[str]:
        """The real paths of files that others extend in the work tree, or that one of the changed did."""
        found = {other for _, other in self.links}
        for each in changed:
            try:
                other = extended_path(self.content(each.blob)) if each.blob else None
            except Trouble:
                continue  # said where it is compared
            if other is not None:
                found.add(self.real(name_beside(each.old, other)))
        return found

    def extending(self, commit: str, changed: list[Changed]) -> Iterator[Changed]:
        """The files that have not changed, but extend one that has, or that has gone from under them."""
        known = {self.real(name) for each in changed for name in (each.old, each.new) if name}
        there = {os.path.realpath(each.path) for each in changed if each.path}
        paths: set[str] = set()
        while more := {one for one, other in self.links if other in known | paths} - there - paths:
            paths |= more
        for path in sorted(paths):
            name = os.path.relpath(path, os.path.realpath(self.root)).replace(os.sep, "/")
            blob = self.blob(commit, name)
            yield Changed(self.near(name) if blob else "", blob, self.near(name), path)

    def blob(self, commit: str, name: str) -> str:
        """Git's name for the content of a regular file in a commit, by its name in the tree; empty where there is none."""
        for entry in self.git("ls-tree", "-z", "--full-tree", commit, "--", name).split(b"\0"):
            mode, _, rest = entry.decode(errors="surrogateescape").partition(" ")
            if mode in REGULAR and rest.partition("\t")[2] == name:
                return rest.split()[1]
        return ""

    def beside(self, commit: str, revision: str, near: str) -> AtRevision:
        """What lies beside a file (named as from the folder) in a commit."""
        path = os.path.relpath(os.path.join(os.path.realpath(self.folder), near), os.path.realpath(self.root))
        return AtRevision(self, commit, path.replace(os.sep, "/"), files.printable(near), revision)

    def content(self, blob: str, most: int = files.LARGEST) -> bytes:
        """What a file held. Trouble where that is more than a set-up may have."""
        if int(self.git("cat-file", "-s", blob)) > max(most, files.LARGEST):
            raise Trouble(f"{blob[:12]} has more than {files.LARGEST:,} bytes: it is not a setup")
        return self.git("cat-file", "blob", blob)


class AtRevision:
    """The files beside a set-up as they are in a commit. Links are not followed: git has only where they lead."""

    def __init__(self, tree: Tree, commit: str, path: str, near: str, revision: str) -> None:
        self.tree, self.commit, self.path, self.near, self.revision = tree, commit, path, near, revision
        self.own = os.path.basename(path)
        self.called = f"{near} ({revision})"

    def name(self, path: str) -> str:
        return f"{name_beside(self.near, path)} ({self.revision})"

    def place(self, path: str) -> str:
        return os.path.normpath(os.path.join(os.path.dirname(self.path), path)).replace(os.sep, "/")

    def is_extended(self) -> bool:
        return False  # what is compared is compared as set-ups are

    def read(self, path: str, most: int) -> bytes:
        place = self.place(path)
        if place.split("/")[0] == "..":
            raise Refused(f"{self.name(path)} lies outside the repository", "shared parts are read from inside it only")
        blob = self.tree.blob(self.commit, place)
        if not blob:
            raise Refused(f"there is no file {self.name(path)}", "the path is relative to the folder of this file")
        try:
            return self.tree.content(blob, most)[: most + 1]
        except Trouble as trouble:
            raise Refused(str(trouble), "name a file with shared parts") from None
