"""Which files a command is to look at, and their bytes, within bounds."""

from __future__ import annotations

import os
import stat
import sys
from collections.abc import Callable, Iterable, Sequence

from setuplint.formats.passed_over import LINK_NOWHERE, LINK_OUT, NO_FILE, PassedOver
from setuplint.hints import TYPE_CHECKING
from setuplint.named_tuple import NamedTuple
from setuplint.setup.file_sources import GIT, RECORD, FileSource, Folder, is_toml_name, name_beside, name_from
from setuplint.setup.file_sources import extending_files as extending_files
from setuplint.setup.setup_texts import LARGEST as LARGEST
from setuplint.setup.setup_texts import holds_setup as holds_setup
from setuplint.setup.setup_texts import is_setup_text as is_setup_text
from setuplint.setup.setup_texts import may_be_setup as may_be_setup

if TYPE_CHECKING:
    from setuplint.club.git_files import GitFiles

CONFIG = "setuplint.toml"  # a repository's choices are no setup, and nothing that was passed over
NO_PATH = "'' names no file"


class Candidate(NamedTuple):
    """A file to lint. `sure`: it was named, so it is taken for a setup whatever is in it. `tree` has its content where that is
    not the disk's."""

    name: str
    path: str  # "" for standard input
    sure: bool
    tree: GitFiles | None = None

    @property
    def location(self) -> str:
        """The path or, of standard input, the name: from there its setuplint.toml and its shared parts are looked for."""
        return self.path or self.name


class Gathered:
    """What the paths come to, and what in the folders among them is not looked at."""

    def __init__(self) -> None:
        self.candidates: list[Candidate] = []
        self.passed_over: list[PassedOver] = []
        self.troubles: list[str] = []

    def pass_over(self, path: str, because: str) -> None:
        self.passed_over.append(PassedOver(printable(path), because))


def gathered(paths: Sequence[str], stdin_name: str, *, sure: bool = True) -> Gathered:
    """The files that the paths stand for: named ones as given, a folder's in the order of their names."""
    found = Gathered()
    for path in dict.fromkeys(each for given in paths for each in _matching(given)):
        if path == "-":
            found.candidates.append(Candidate(stdin_name, "", sure))
        elif not path:
            found.troubles.append(NO_PATH)
        elif os.path.isdir(path):
            _Folder(path, found).walk()
        else:
            path = setup_of_record(path)
            found.candidates.append(Candidate(printable(path), path, sure))
    found.candidates = each_once(found.candidates)
    return found


def each_once(candidates: Sequence[Candidate]) -> list[Candidate]:
    """Every file once, however it is named; a link is a file of its own. One that was named stands for itself."""
    real: dict[str, str] = {}
    found: dict[str, Candidate] = {}
    for candidate in candidates:
        folder, name = os.path.split(candidate.path)
        if folder not in real:
            real[folder] = _real_path(folder)
        place = candidate.path and os.path.join(real[folder], name)
        if candidate.sure and place in found and not found[place].sure:
            found[place] = candidate
        found.setdefault(place, candidate)
    return list(found.values())


def _real_path(path: str) -> str:
    """Without links; as it is where one of them may not be read."""
    try:
        return os.path.realpath(path)
    except OSError:
        return path


def _matching(path: str) -> list[str]:
    """What a pattern stands for that the shell has left as it was, as those of Windows do; else the path as it is."""
    if os.path.lexists(path) or not ("*" in path or "?" in path):
        return [path]
    from glob import glob

    return sorted(glob(path.replace("[", "[[]"))) or [path]  # a bracket is a bracket there


def setup_of_record(path: str, is_there: Callable[[str], bool] = os.path.lexists) -> str:
    """The setup beside a record, where there is one: whether it is proved may have changed with it. Another path as it is."""
    folder, name = os.path.split(path)
    stem = name.removesuffix(RECORD)
    while stem != name:
        for setup in (os.path.join(folder, f"{stem}{end}") for end in (".toml", ".TOML")):
            if is_there(setup):
                return setup
        if "." not in stem:
            break
        stem = stem.rpartition(".")[0]
    return path


class _Folder:
    """One folder that was given, hidden ones in it too, but not git's own. A link is followed only to a file inside of it."""

    def __init__(self, root: str, found: Gathered) -> None:
        self.root = root
        self.found = found
        self.inside = os.path.realpath(root).rstrip(os.sep) + os.sep
        self.seen: set[str] = set()
        self.links: list[str] = []

    def walk(self) -> None:
        """A folder's files, then its folders', each by name; links last, so that a file goes by its own name."""
        folders = [self.root]
        while folders:
            folders += reversed(self.files(folders.pop()))
        for path in self.links:
            self.follow(path)

    def files(self, folder: str) -> list[str]:
        """Takes the setups that may be in a folder; gives the folders in it."""
        folders = []
        try:
            entries = sorted(os.scandir(folder), key=lambda entry: entry.name)
        except OSError as error:
            self.found.troubles.append(cannot_read(folder, error))
            return []
        for entry in entries:
            if entry.name in (GIT, CONFIG):
                continue
            if entry.is_symlink():
                self.links.append(entry.path)
            elif entry.is_dir(follow_symlinks=False):
                folders.append(entry.path)
            elif is_toml_name(entry.name):
                if entry.is_file(follow_symlinks=False):
                    self.take(entry.path)
                else:
                    self.found.pass_over(entry.path, NO_FILE)
        return folders

    def take(self, path: str) -> None:
        real = os.path.realpath(path)
        if real not in self.seen:
            self.seen.add(real)
            self.found.candidates.append(Candidate(printable(path), path, False))

    def follow(self, path: str) -> None:
        """A folder inside is walked under its own name, so only a link to a file is worth a look."""
        toml = is_toml_name(path)
        try:
            real = os.path.realpath(path)
        except OSError as error:  # a link that may not be read
            if toml:
                self.found.troubles.append(cannot_read(printable(path), error))
            return
        if not (real + os.sep).startswith(self.inside):
            if toml or os.path.isdir(path):
                self.found.pass_over(path, LINK_OUT)
        elif toml and os.path.isfile(path):
            self.take(path)
        elif toml and not os.path.isdir(path):
            self.found.pass_over(path, NO_FILE if os.path.exists(path) else LINK_NOWHERE)


def content(candidate: Candidate) -> bytes:
    """The bytes, one more than LARGEST at most; OSError where there are none to be had."""
    if candidate.tree is not None:
        return candidate.tree.content(candidate.tree.name(candidate.path) or candidate.path, LARGEST)
    if not candidate.path:
        return sys.stdin.buffer.read(LARGEST + 1)
    with open(candidate.path, "rb") as file:
        if not candidate.sure and not stat.S_ISREG(os.fstat(file.fileno()).st_mode):
            return b""
        return file.read(LARGEST + 1)


def beside(candidate: Candidate) -> FileSource:
    """What reads the shared parts of a file; those of standard input lie where its name says, from the current folder."""
    if candidate.tree is not None:
        from setuplint.club.git_folder import GitFolder

        return GitFolder(candidate.tree, candidate.tree.name(candidate.path) or candidate.path, candidate.name)
    return Folder(candidate.location, candidate.name)


def extending(shared: Sequence[Candidate], given: Sequence[Candidate]) -> list[Candidate]:
    """The files that extend shared parts and were not given themselves, named from where the part is."""
    known = {os.path.realpath(candidate.path) for candidate in given if candidate.path}
    found: dict[str, Candidate] = {}
    for one in shared:
        here = os.path.dirname(os.path.realpath(one.path))
        for path in extending_files(one.path) if one.path else ():
            if path not in known:
                name = name_beside(one.name, name_from(here, path))
                found.setdefault(path, Candidate(printable(name), path, False))
    return list(found.values())


def is_among(name: str, paths: Iterable[str]) -> bool:
    """Whether a file is one of those that the paths stand for."""
    slashed = name.replace(os.sep, "/")
    given = (printable(path).replace(os.sep, "/") for path in paths)
    return any(slashed == path or slashed.startswith(path.rstrip("/") + "/") for path in given)


def printable(path: str) -> str:
    """The path as text: bytes of a file's name that are no UTF-8 are written as escapes."""
    return path if path.isascii() else os.fsencode(path).decode(errors="backslashreplace")


def cannot_read(path: str, error: OSError) -> str:
    return f"cannot read {path}: {error.strerror or error}"
