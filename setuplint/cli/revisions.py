"""What has changed since a revision: in the work tree, in what is staged, or in a later revision. Through git's own objects."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from functools import cached_property

from setuplint.cli import files
from setuplint.cli.trouble import TooLarge, Trouble
from setuplint.club import git_files
from setuplint.club.git_files import LINK, REGULAR, GitError, GitFiles
from setuplint.club.git_folder import GitFolder, extending_in, toml_files_under
from setuplint.formats.passed_over import NO_FILE, PassedOver
from setuplint.named_tuple import NamedTuple
from setuplint.setup.file_sources import (
    RECORD,
    extended_path,
    extending_pairs,
    is_toml_name,
    name_beside,
    name_from,
    path_from,
)

RANGE = "..."


class Changed(NamedTuple):
    """A file that is not as it was: its old name and git's name for its old content ("" where it was not there), its new name
    and path ("" where it is gone), git's name for its new content ("" in the work tree), and, where it is still there but nobody
    looks at it, how that is. Names are relative to where git was asked from."""

    old: str
    blob: str
    new: str
    path: str
    now: str = ""
    unseen: str = ""


class Sides(NamedTuple):
    """An older revision, and what is compared with it: a later one, what is staged, or (None) the work tree. `said` tells that
    the older one is not the revision that was named, but a merge base."""

    old: GitFiles
    new: GitFiles | None
    said: str = ""


def sides(revision: str, *, staged: bool = False) -> Sides:
    """REV is compared from where what is here leaves it: from the merge base. REV...REV are two of them. GitError where there
    are none, with what a clone that is not whole lacks."""
    root = git_files.work_tree(".")
    one, dots, other = revision.partition(RANGE)
    if dots and staged:
        raise Trouble(f"--staged compares what is staged: give --since one revision, not {revision}")
    if not dots and ".." in revision:
        raise Trouble(
            f"{revision} names two revisions; write {revision.replace('..', RANGE, 1)}: since where they parted"
        )
    first = git_files.commit_of(root, (one or "HEAD") if dots else one)
    if dots:
        heads = [git_files.commit_of(root, other or "HEAD")]
        new: GitFiles | None = GitFiles(root, heads[0], other or "HEAD")
        there = other or "HEAD"
    else:
        heads = [git_files.commit_of(root, name) for name in ("HEAD", *_merged(root))]
        new, there = git_files.staged_files(root) if staged else None, "what is here"
    base = first if first in heads else _merge_base(root, first, heads, f"{one or 'HEAD'} and {there}")
    if base == first:
        return Sides(GitFiles(root, first, one or "HEAD"), new)
    said = f"Compared with {base[:12]}, the merge base of {one or 'HEAD'} and {there}."
    return Sides(GitFiles(root, base, base[:12]), new, said)


def _merged(root: str) -> list[str]:
    """While a merge is under way, what is being merged: it is here as well."""
    try:
        git_files.git(root, "rev-parse", "--verify", "--quiet", "MERGE_HEAD^{commit}")
    except GitError:
        return []
    return ["MERGE_HEAD"]


def _merge_base(root: str, first: str, heads: list[str], between: str) -> str:
    try:
        return git_files.git(root, "merge-base", first, *heads).decode().split()[0]
    except GitError:
        raise GitError(f"there is no merge base of {between}{git_files.fetching(root)}") from None


class Tree:
    """The two sides as trees of files. Trouble where there is no work tree, or no git."""

    def __init__(self, found: Sides, folder: str = ".") -> None:
        self.folder, self.old, self.new, self.said = folder, found.old, found.new, found.said
        self.root = found.old.root
        self.passed_over: list[PassedOver] = []  # that have changed, and are not compared
        self._records: set[str] = set()  # that have changed

    def changed(self, paths: list[str]) -> list[Changed]:
        """The TOML files under the paths that are not as they were, by name; in the work tree also those that are untracked."""
        found = [*self._tracked(paths), *([] if self.new else self._untracked(paths))]
        return sorted(found, key=lambda each: each.new or each.old)

    def _tracked(self, paths: list[str]) -> Iterator[Changed]:
        between = [self.old.commit]
        if self.new is not None:
            between = [self.old.commit, self.new.commit] if self.new.commit else ["--cached", self.old.commit]
        options = ("--raw", "-z", "-M", "--no-abbrev", "--no-ext-diff", "--no-textconv", "--no-relative")
        fields = iter(git_files.git(self.folder, "diff", *options, *between, "--", *paths).split(b"\0"))
        for head in fields:
            if not head:
                continue
            was, now, blob, later, status = head[1:].decode().split(" ")
            old = new = os.fsdecode(next(fields))
            if status[0] in "RC":
                new = os.fsdecode(next(fields))
            there = was in REGULAR and status[0] not in "AC" and is_toml_name(old)
            here = now in REGULAR and status[0] != "D" and is_toml_name(new)  # by any other name nobody judges it
            self._records.update(name for name in (old, new) if name.endswith(RECORD))
            if not (was in REGULAR or now in REGULAR) and is_toml_name(new):
                self.pass_over(self.near(new), NO_FILE)
            if there or here:
                yield Changed(
                    self.near(old) if there else "",
                    blob if there else "",
                    self.near(new) if here else "",
                    os.path.join(self.root, new) if here else "",
                    later if here and self.new else "",
                    "" if here else self._unseen(new, now),
                )

    def _unseen(self, new: str, mode: str) -> str:
        """How what was a file is still there, and not looked at; empty where it is gone."""
        if mode == LINK:
            return "is a link now, and no link is read"
        return (
            f"is {files.printable(self.near(new))} now, and what is called so is not judged" if mode in REGULAR else ""
        )

    def _untracked(self, paths: list[str]) -> Iterator[Changed]:
        for name in self._listed("--others", paths):
            if name.endswith(RECORD):
                self._records.add(name)
            if is_toml_name(name) and self._is_file(name):
                yield Changed("", "", self.near(name), os.path.join(self.root, name))
            elif is_toml_name(name):
                self.pass_over(self.near(name), NO_FILE)

    def _is_file(self, name: str) -> bool:
        """In the work tree. A link is none, wherever it leads."""
        path = os.path.join(self.root, name)
        return os.path.isfile(path) and not os.path.islink(path)

    def pass_over(self, near: str, because: str) -> None:
        if os.path.basename(near) != files.CONFIG:  # what it says is compared in another way
            self.passed_over.append(PassedOver(files.printable(near), because))

    def _listed(self, which: str, paths: list[str]) -> list[str]:
        raw = git_files.git(self.folder, "ls-files", which, "--exclude-standard", "--full-name", "-z", "--", *paths)
        return [os.fsdecode(name) for name in raw.split(b"\0") if name]

    def near(self, name: str) -> str:
        """A name in the tree as it is written from the folder."""
        return path_from(os.path.realpath(self.folder), os.path.join(self.root, name))

    def name(self, near: str) -> str:
        """The name in the tree of a path as it is written from the folder."""
        path = os.path.normpath(os.path.join(os.path.realpath(self.folder), near))
        return name_from(self.root, path)

    # -- which files there are

    def check_paths(self, paths: list[str]) -> None:
        """Trouble where one is neither there nor was."""
        for path in paths:
            name = self.name(path)
            there = os.path.lexists(path) if self.new is None else name in self.new.entries or self.new.is_folder(name)
            if not (there or name in self.old.entries or self.old.is_folder(name)):
                raise Trouble(f"there is no {files.printable(path)}, and there was none in {self.old.revision}")

    def names(self, paths: list[str]) -> list[str]:
        """The TOML files that there are under the paths, by their names in the tree."""
        if self.new is None:
            found = {*self._listed("--cached", paths), *self._listed("--others", paths)}
            return sorted(name for name in found if is_toml_name(name) and self._is_file(name))
        return toml_files_under(self.new, list(map(self.name, paths)))

    def texts(self, paths: list[str]) -> Iterator[bytes]:
        """What the TOML files under the paths hold, and, once these are at an end, what they held before."""
        names = list(map(self.name, paths))
        if self.new is None:
            for name in self.names(paths):
                near = self.near(name)
                try:
                    yield files.content(files.Candidate(near, os.path.join(self.root, name), False))
                except OSError as error:
                    raise Trouble(files.cannot_read(near, error)) from None
        for side in filter(None, (self.new, self.old)):
            blobs = [side.entries[name].name for name in toml_files_under(side, names)]
            yield from (data for _, data in side.stream(blobs, files.LARGEST))

    # -- shared parts

    @cached_property
    def links(self) -> list[tuple[str, str]]:
        """The files that extend one, each with that one, as paths."""
        if self.new is None:
            return list(extending_pairs(self.root))
        return list(extending_in(self.new))

    def place(self, near: str) -> str:
        """The path of a file, named as from the folder; it need not be there. Links are followed on the disk."""
        path = os.path.join(os.path.realpath(self.folder), near)
        return os.path.realpath(path) if self.new is None else os.path.normpath(path)

    def extended(self, changed: list[Changed]) -> set[str]:
        """The paths of files that others extend, or that one of the changed did."""
        found = {other for _, other in self.links}
        for each in changed:
            try:
                other = extended_path(self.content(each.blob)) if each.blob else None
            except Trouble:
                continue  # said where it is compared
            if other is not None:
                found.add(self.place(name_beside(each.old, other)))
        return found

    def extending(self, changed: list[Changed]) -> Iterator[Changed]:
        """The files that have not changed, but extend one that has, or that has gone from under them."""
        known = {self.place(name) for each in changed for name in (each.old, each.new) if name}
        there = {self.place(each.new) for each in changed if each.path}
        paths: set[str] = set()
        while more := {one for one, other in self.links if other in known | paths} - there - paths:
            paths |= more
        yield from map(self._as_it_is, sorted(paths))

    def recorded(self, others: Sequence[Changed]) -> Iterator[Changed]:
        """The files beside which a record has changed, that are not among others: whether they are proved hangs on it."""
        known = {each.new for each in others}
        for name in sorted({files.setup_of_record(name, self._is_there) for name in self._records} - self._records):
            if self.near(name) not in known:
                yield self._as_it_is(os.path.join(self.root, name))

    def _is_there(self, name: str) -> bool:
        return self._is_file(name) if self.new is None else name in self.new.entries

    def _as_it_is(self, path: str) -> Changed:
        """A file that has not changed, or is told for what has changed beside it."""
        name = name_from(self.root, path)
        entry = self.old.entries.get(name)
        blob = entry.name if entry and entry.mode in REGULAR else ""
        now = self.new.entries[name].name if self.new else ""
        return Changed(self.near(name) if blob else "", blob, self.near(name), path, now)

    def content(self, blob: str) -> bytes:
        """What a file held. Trouble where that is more than a set-up may have."""
        data = self.old.contents([blob], files.LARGEST)[blob]
        if len(data) > files.LARGEST:
            raise TooLarge(f"{blob[:12]} has more than {files.LARGEST:,} bytes: it is not a setup")
        return data

    def beside(self, side: GitFiles, near: str) -> GitFolder:
        """What lies beside a file, named as from the folder."""
        return GitFolder(side, self.name(near), files.printable(near), compared=True)
