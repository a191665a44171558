"""Files as a commit has them, or as they are staged, by git's own objects: nothing is checked out, and no filter or hook runs."""

from __future__ import annotations

import os
from collections.abc import Collection, Iterable, Iterator, Mapping
from functools import lru_cache

from setuplint.named_tuple import NamedTuple
from setuplint.setup.file_sources import name_from

REGULAR = ("100644", "100755")
LINK = "120000"
CHUNK = 16_000_000  # bytes of contents that are held at a time
MOST_SAID = 400  # characters of what git says
STAGED = ("ls-files", "--stage", "-z")


class GitError(OSError):
    """What git could not do, in one line."""


class Blob(NamedTuple):
    """An entry of a tree: its mode, and git's name for its content."""

    mode: str
    name: str


def git(folder: str, *words: str, given: bytes = b"") -> bytes:
    """What a command of git's writes, asked in a folder. GitError where it fails, or where there is no git."""
    import subprocess  # a lint by a setuplint.toml on the disk runs no git

    try:
        done = subprocess.run(
            _command(folder, words), input=given, capture_output=True, env=_environment(), check=False
        )
    except OSError as error:
        raise GitError(f"git cannot be run: {error.strerror or error}") from None
    if done.returncode:
        said = " ".join(done.stderr.decode(errors="backslashreplace").split())[:MOST_SAID]
        raise GitError(f"git {words[0]}: {said or f'ended with status {done.returncode}'}")
    return done.stdout


def _command(folder: str, words: Iterable[str]) -> list[str]:
    return ["git", "-C", folder, "--literal-pathspecs", "--no-pager", *words]


def _environment() -> dict[str, str]:
    return {**os.environ, "GIT_OPTIONAL_LOCKS": "0", "GIT_NO_REPLACE_OBJECTS": "1", "LC_ALL": "C"}


def work_tree(folder: str) -> str:
    """The real path of the root of the work tree that a folder is in. GitError where there is none."""
    return os.path.realpath(os.fsdecode(git(folder or ".", "rev-parse", "--show-toplevel")).rstrip("\n"))


def commit_of(folder: str, revision: str) -> str:
    """The commit of a revision. GitError where it names none, with what to fetch in a clone that is not whole. Before the
    first commit HEAD is an empty tree: a hook that compares with it is not to stop that commit."""
    try:
        found = git(folder, "rev-parse", "--verify", "--quiet", "--end-of-options", f"{revision}^{{commit}}")
    except GitError:
        if revision != "HEAD" or not _unborn(folder):
            raise GitError(f"{revision!r} is not a revision of this repository{fetching(folder)}") from None
        found = git(folder, "hash-object", "-t", "tree", os.devnull)
    return found.decode().strip()


def fetching(folder: str) -> str:
    """What to do where something is missing in a clone that has not all of its history; empty where it has."""
    if git(folder, "rev-parse", "--is-shallow-repository").strip() != b"true":
        return ""
    return (
        "; this clone is shallow: `git fetch --unshallow origin '+refs/heads/*:refs/remotes/origin/*'` brings what it "
        "lacks (in a workflow, check out with `fetch-depth: 0`)"
    )


def _unborn(folder: str) -> bool:
    """Whether the branch that is checked out has no commit yet."""
    try:
        branch = git(folder, "symbolic-ref", "--quiet", "HEAD")
        return not git(folder, "for-each-ref", branch.decode().strip())
    except GitError:
        return False  # no branch is checked out


class GitFiles(NamedTuple):
    """The files of a commit, or (`commit` empty) those that are staged. `root` is the real path of the work tree, `revision`
    what people call the commit. Names are paths from the root, with / between their steps."""

    root: str
    commit: str = ""
    revision: str = ""
    stamp: str = ""  # tells what is staged from what was staged before

    @property
    def called(self) -> str:
        """`in main`, or `among what is staged`."""
        return f"in {self.revision}" if self.commit else "among what is staged"

    @property
    def entries(self) -> Mapping[str, Blob]:
        """Every file by its name, links among them."""
        return _entries(self.root, self.commit, self.stamp)

    def name(self, path: str) -> str | None:
        """The name of a path of the work tree; None where it lies outside. Links on the way are followed as they lie there."""
        real = os.path.join(os.path.realpath(os.path.dirname(path)), os.path.basename(path))
        inside = name_from(self.root, real)
        return None if inside.split("/")[0] == ".." or os.path.isabs(inside) else inside

    def content(self, name: str, most: int) -> bytes:
        """A regular file's content, or one byte more than `most`. FileNotFoundError where there is none, OSError for a link."""
        entry = self.entries.get(name)
        if entry is None:
            raise FileNotFoundError(2, "there is no such file")
        if entry.mode not in REGULAR:
            raise OSError(22, "it is a link, and no link is followed in a revision")
        return self.contents([entry.name], most)[entry.name]

    def contents(self, blobs: Collection[str], most: int) -> dict[str, bytes]:
        """Contents by git's names for them: at most one byte more than `most` of each."""
        return dict(self.stream(blobs, most))

    def stream(self, blobs: Collection[str], most: int) -> Iterator[tuple[str, bytes]]:
        """The same, one after another: a repository may have more than there is memory for."""
        blobs = list(dict.fromkeys(blobs))
        if not blobs:
            return
        sizes = list(map(int, git(self.root, "cat-file", "--batch-check=%(objectsize)", given=_lines(blobs)).split()))
        chunk: list[str] = []
        room = CHUNK
        for blob, size in zip(blobs, sizes, strict=True):
            if size > most:
                yield blob, self._start(blob, most + 1)
                continue
            if size > room:
                yield from self._chunk(chunk)
                chunk, room = [], CHUNK
            chunk.append(blob)
            room -= size
        yield from self._chunk(chunk)

    def _start(self, blob: str, most: int) -> bytes:
        """The first bytes of a content that has more of them."""
        import subprocess

        words = _command(self.root, ("cat-file", "blob", blob))
        with subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, env=_environment()) as running:
            assert running.stdout is not None
            data = running.stdout.read(most)
            running.kill()
        if len(data) < most:
            raise GitError(f"git cat-file: {blob} cannot be read")
        return data

    def _chunk(self, blobs: list[str]) -> Iterator[tuple[str, bytes]]:
        text = git(self.root, "cat-file", "--batch=%(objectsize)", given=_lines(blobs)) if blobs else b""
        at = 0
        for blob in blobs:
            end = text.index(b"\n", at)
            size = int(text[at:end])
            yield blob, text[end + 1 : end + 1 + size]
            at = end + size + 2

    def under(self, folder: str) -> Iterator[str]:
        """The names of the files in a folder ("": all), and in the folders in it."""
        start = f"{folder}/" if folder else ""
        return (name for name in self.entries if name.startswith(start))

    def is_folder(self, name: str) -> bool:
        return not name or name == "." or next(self.under(name), None) is not None


def staged_files(folder: str) -> GitFiles:
    """What is staged in the work tree that a folder is in, as it is now."""
    from hashlib import sha256

    root = work_tree(folder)
    found = GitFiles(root, stamp=sha256(git(root, *STAGED)).hexdigest())
    _ = found.entries  # GitError where a merge was left undone
    return found


def files_at(folder: str, revision: str) -> GitFiles:
    """What a revision has. GitError where it names none."""
    root = work_tree(folder)
    return GitFiles(root, commit_of(folder or ".", revision), revision)


def merge_attribute(path: str) -> str:
    """The line that .gitattributes lacks for git to merge what two branches add to a file of lines; empty where it is there, or a
    file's own way of merging, or where there is no work tree of git's."""
    real = os.path.realpath(path)
    try:
        root = work_tree(os.path.dirname(real))
        said = git(root, "check-attr", "-z", "merge", "--", real).split(b"\0")
    except GitError:
        return ""
    name = name_from(root, real)
    return f"{_pattern(name)} merge=union" if said[2] == b"unspecified" else ""


def _pattern(name: str) -> str:
    """A name as a line of .gitattributes has it: that of one file, where a space or a sign would mean something else."""
    from json import dumps  # git's quoting of what can stand in a name on one line

    plain = "".join(f"\\{sign}" if sign in "*?[\\" else sign for sign in f"/{name}")
    return dumps(plain, ensure_ascii=False) if any(sign in ' "\t\n' for sign in plain) else plain


def _lines(words: Collection[str]) -> bytes:
    return "".join(f"{word}\n" for word in words).encode()


@lru_cache(maxsize=8)
def _entries(root: str, commit: str, stamp: str) -> dict[str, Blob]:
    if commit:
        raw, field = git(root, "ls-tree", "-r", "-z", "--full-tree", commit), 2
    else:
        raw, field = git(root, *STAGED), 1
    found: dict[str, Blob] = {}
    for each in filter(None, raw.split(b"\0")):
        head, _, name = each.partition(b"\t")
        words = head.decode().split(" ")
        if field == 1 and words[2] != "0":
            raise GitError("a merge was left undone: what is staged is not one text for each file")
        if words[0] in (*REGULAR, LINK):
            found[os.fsdecode(name)] = Blob(words[0], words[field])
    return dict(sorted(found.items()))
