"""The files beside a set-up: where shared parts are read from, and what is never read.

Paths here are relative to the set-up's folder, have `/` between their steps, and `..` at most at their start.
"""

from __future__ import annotations

import os
import re
import stat
from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from functools import cached_property

from setuplint.hints import Any, Protocol
from setuplint.setup.problems import quoted
from setuplint.source import parsed_document

LARGEST = 1_000_000  # bytes of all shared parts together
LONGEST_PATH = 400
MOST_FILES = 100_000  # of a repository are looked at for what they extend
SLASHES = "a path has / between its folders"
EXAMPLE = 'write for example extends = "club-radio.toml"'
GIT = ".git"
RECORD = ".record.json"  # how the name of a record ends; it begins with its setup's
LARGEST_RECORD = 300_000  # bytes
MOST_RECORDS = 50  # of one setup are looked at, the last by name
ROOTS = (GIT, "setuplint.toml")  # what lies at the top of a repository, the first that is found upwards counts


def is_toml_name(name: str) -> bool:
    """Whether a file is TOML by its name: systems that do not tell capitals apart write .TOML too."""
    return name.lower().endswith(".toml")


class Refused(Exception):
    """Why a file is not read, in one sentence, and what to do."""

    def __init__(self, message: str, help: str) -> None:
        super().__init__(message)
        self.message, self.help = message, help


def relative_path(written: Any, extending: str) -> str:
    """The path of a shared part, from the set-up's folder, as a file at `extending_files` names it. Refused where it is none."""
    if not isinstance(written, str) or not written:
        raise Refused("extends must be the path of a file", EXAMPLE)
    if len(written) > LONGEST_PATH or not written.isprintable():
        raise Refused("extends is not the path of a file", EXAMPLE)
    if "\\" in written:
        raise Refused(f"extends is {quoted(written)}: {SLASHES}", written.replace("\\", "/"))
    if written.startswith("/") or ":" in written:
        raise Refused(f"extends is {quoted(written)}: it must be relative to the folder of this file", EXAMPLE)
    steps: list[str] = extending.split("/")[:-1]
    for step in written.split("/"):
        if step == ".." and steps and steps[-1] != "..":
            steps.pop()
        elif step not in ("", "."):
            steps.append(step)
    if not written.endswith(".toml") or any(step.startswith(".") and step != ".." for step in steps):
        raise Refused(
            f"extends is {quoted(written)}: a shared part is a file that ends in .toml, and not hidden", EXAMPLE
        )
    return "/".join(steps)


Records = dict[str, bytes | None]
"""Records by their names, each one byte more than LARGEST_RECORD at most; None for a link, and for what cannot be read."""


class FileSource(Protocol):
    """Where the files beside one set-up come from: a folder, a revision, an editor's buffers."""

    @property
    def own(self) -> str:
        """The set-up's own file as a path of this kind; empty where it has none."""

    def name(self, path: str) -> str:
        """What a file is called in findings."""

    def place(self, path: str) -> str:
        """The same for all paths that lead to one file."""

    def is_extended(self) -> bool:
        """Whether another file extends the set-up's own."""

    def read(self, path: str, most: int) -> bytes:
        """Its content, or one byte more than `most` where it has more. Refused where it may not or cannot be read."""

    def records(self) -> Records:
        """The records beside the set-up."""


def path_from(folder: str, path: str) -> str:
    """A path as it is written from a folder; the absolute one where no way leads there, as between two drives of Windows."""
    try:
        return os.path.relpath(path, folder)
    except ValueError:
        return os.path.abspath(path)


def name_from(folder: str, path: str) -> str:
    """The same with `/` between its steps, as files and git write it."""
    return path_from(folder, path).replace(os.sep, "/")


def name_beside(name: str, path: str) -> str:
    """The name of the file at a path beside the one of this name, written as that one is; an absolute path is a name itself."""
    if os.path.isabs(path):
        return path
    folder = os.path.dirname(name)
    for step in path.split("/"):
        up = step == ".." and os.path.basename(folder) not in ("", ".", "..")
        folder = os.path.dirname(folder) if up else os.path.join(folder, step)
    return folder


def records_among(names: Iterable[str], own: str) -> list[str]:
    """The names of those files of a folder that are records of its set-up: of `wagtail.toml`, `wagtail.record.json` and
    `wagtail.2027.record.json`."""
    stem = own[: -len(".toml")] if is_toml_name(own) else own
    found = sorted(name for name in names if stem and name.startswith(f"{stem}.") and name.endswith(RECORD))
    return found[-MOST_RECORDS:]


class Folder:
    """The folder that a set-up's file lies in, on the disk. Nothing is read but regular files that end in .toml, inside the
    repository once every link is followed, and not hidden there: `.git` may hold a password.

    The repository is the folder upwards that has `.git`, or else `setuplint.toml`; without either, the set-up's own folder.
    """

    def __init__(self, path: str | os.PathLike[str], name: str = "") -> None:
        """`path` is the set-up's file; `name` what it is called in findings."""
        self.path = os.fspath(path)
        self._name = name or self.path
        self.own = os.path.basename(self.path)

    @cached_property
    def folder(self) -> str:
        return os.path.dirname(os.path.abspath(self.path))

    @cached_property
    def root(self) -> str:
        return repository_root(self.folder)

    def name(self, path: str) -> str:
        return name_beside(self._name, path)

    def place(self, path: str) -> str:
        return os.path.realpath(os.path.join(self.folder, path))

    def is_extended(self) -> bool:
        own = os.path.realpath(self.path)
        return any(other == own for _, other in extending_pairs(self.root))

    def read(self, path: str, most: int) -> bytes:
        name = self.name(path)
        real = self.place(path)
        top = self.root.rstrip(os.sep) + os.sep
        if not real.startswith(top):
            raise Refused(f"{name} lies outside the repository", "shared parts are read from inside it only")
        hidden = any(step.startswith(".") for step in real[len(top) :].split(os.sep))
        if hidden or not real.endswith(".toml"):
            raise Refused(f"{name} leads to a file that is hidden or not a TOML file", "name the file itself")
        try:
            data = file_content(real, most)
        except FileNotFoundError:
            raise Refused(f"there is no file {name}", "the path is relative to the folder of this file") from None
        except OSError as error:
            raise Refused(f"{name} cannot be read: {error.strerror or error}", "see to it that it can be") from None
        if data is None:
            raise Refused(f"{name} is not a regular file", "name a TOML file")
        return data

    def records(self) -> Records:
        found: Records = {}
        with suppress(OSError):
            for name in records_among(os.listdir(self.folder), self.own):
                found[self.name(name)] = None
                path = os.path.join(self.folder, name)
                with suppress(OSError):
                    found[self.name(name)] = None if os.path.islink(path) else file_content(path, LARGEST_RECORD)
        return found


NEVER_WAIT = sum(getattr(os, flag, 0) for flag in ("O_NONBLOCK", "O_NOFOLLOW", "O_CLOEXEC", "O_BINARY"))
"""A pipe without a writer would be waited for; a link put in place since would be followed."""


def file_content(path: str, most: int) -> bytes | None:
    """What a regular file holds, at most one byte more than `most`; None for what is none. OSError where it cannot be read."""
    handle = os.open(path, os.O_RDONLY | NEVER_WAIT)
    try:
        if not stat.S_ISREG(os.fstat(handle).st_mode):
            return None
        with open(handle, "rb", closefd=False) as file:
            return file.read(most + 1)
    finally:
        os.close(handle)


class TextsByName:
    """Texts by their names, of which one is the set-up."""

    def __init__(self, texts: Mapping[str, str | bytes], name: str) -> None:
        self._texts, self._name = texts, name
        self.own = os.path.basename(name)

    def name(self, path: str) -> str:
        return name_beside(self._name, path)

    def place(self, path: str) -> str:
        return self.name(path)

    def is_extended(self) -> bool:
        others = ((name, extended_path(text)) for name, text in self._texts.items())
        return any(path is not None and name_beside(name, path) == self._name for name, path in others)

    def read(self, path: str, most: int) -> bytes:
        text = self._texts.get(self.name(path))
        if text is None:
            raise Refused(f"there is no text {self.name(path)}", "the path is relative to the name of this text")
        return _first_bytes(text, most)

    def records(self) -> Records:
        folder = os.path.dirname(self._name)
        beside = {os.path.basename(name): text for name, text in self._texts.items() if os.path.dirname(name) == folder}
        names = records_among(beside, self.own)
        return {self.name(name): _first_bytes(beside[name], LARGEST_RECORD) for name in names}


def _first_bytes(text: str | bytes, most: int) -> bytes:
    return (text if isinstance(text, bytes) else text.encode(errors="surrogatepass"))[: most + 1]


def extended_path(text: str | bytes) -> str | None:
    """The path of what a text extends, from its folder; None where it extends nothing that could be read."""
    text = text if isinstance(text, str) else text.decode("utf-8-sig", errors="replace")
    if "extends" not in text and "\\" not in text:  # a key may be written with escapes
        return None
    heading = HEADING.search(text)
    document = parsed_document(text[: heading.start()] if heading else text)
    if document.problems and heading:  # what looks like a heading may stand in a list
        document = parsed_document(text)
    written = document.values.get("extends")
    try:
        return None if written is None else relative_path(written, "")
    except Refused:
        return None


HEADING = re.compile(r"^[ \t]*\[", re.MULTILINE)


def extending_pairs(root: str) -> Iterator[tuple[str, str]]:
    """The files in a folder that extend one, each with that one: real paths, by name; without what is git's own."""
    left = MOST_FILES
    for folder, inner, names in os.walk(os.path.realpath(root)):
        inner[:] = sorted(name for name in inner if name != GIT)
        for name in filter(is_toml_name, sorted(names)):
            if not left:
                return
            left -= 1
            path = os.path.join(folder, name)
            other = _extended_by(path)
            if other is not None:
                yield path, os.path.realpath(os.path.join(folder, other))


def _extended_by(path: str) -> str | None:
    try:
        return extended_path(file_content(path, LARGEST) or b"")
    except OSError:
        return None


def extending_files(path: str) -> list[str]:
    """The real paths of the files in a file's repository that extend it, some of them through others, by name."""
    own = os.path.realpath(path)
    found = {own}
    known = list(extending_pairs(repository_root(os.path.dirname(own))))
    while more := {one for one, other in known if other in found} - found:
        found |= more
    return sorted(found - {own})


def repository_root(folder: str) -> str:
    """The real path of the repository that a folder is in."""
    folder = os.path.realpath(folder)
    marked = (at for mark in ROOTS for at in folders_above(folder) if os.path.lexists(os.path.join(at, mark)))
    return next(marked, folder)


def folders_above(folder: str) -> Iterator[str]:
    """A folder, and those that it lies in, outwards."""
    yield folder
    while (above := os.path.dirname(folder)) != folder:
        yield (folder := above)
