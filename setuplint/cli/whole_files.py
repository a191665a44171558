"""Files that are written whole or not at all, and leave no litter: neither where the disk is full nor where they are killed.

The content is written to a file without a name, which goes with its process. Where there are none such, and for the moment
in which one file takes another's place, it has a name that the next write of the same file finds and removes.
"""

from __future__ import annotations

import errno
import os
import stat
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress

from setuplint.hints import BinaryIO
from setuplint.named_tuple import NamedTuple

try:
    import fcntl
except ImportError:  # Windows
    fcntl = None  # type: ignore[assignment]

HANDLES = "/proc/self/fd"
ANYBODY_WRITES = 0o222


def create(path: str, data: bytes) -> None:
    """A new file. FileExistsError where one is there already, OSError where it cannot be written; then there is none."""
    if os.path.lexists(path):
        raise _exists()
    with _draft(path, 0o666) as draft:
        draft.fill(data)
        draft.link(path)


class GrowingFile:
    """A file that is written bit by bit, and is there once it is finished."""

    def __init__(self, draft: _Draft, path: str) -> None:
        self._draft, self._path = draft, path

    def write(self, data: bytes) -> None:
        self._draft.file.write(data)

    def finish(self) -> None:
        """Puts it in its place. OSError where that cannot be done; what was there is then as it was."""
        self._draft.sync()
        if os.path.lexists(self._path):
            self._draft.take_place(self._path)
        else:
            self._draft.link(self._path)


@contextmanager
def growing(path: str) -> Iterator[GrowingFile]:
    """A file that takes the place of what is there, if anything is. OSError where there can be none."""
    real = os.path.realpath(path)
    with _draft(real, 0o666) as draft:
        yield GrowingFile(draft, real)


def replace(path: str, before: bytes | None, after: bytes) -> None:
    """A file's content, its permissions kept, a link left in place. OSError where that cannot be done, or where it does not
    hold `before` any more (None: whatever it holds); the file is then as it was. Of several that replace it at once, one does."""
    real = os.path.realpath(path)
    with ExitStack() as held:
        file = held.enter_context(open(real, "r+b"))
        if fcntl is not None:
            with suppress(OSError):  # a disk that knows no locks
                fcntl.flock(file, fcntl.LOCK_EX)
        _check_replaceable(file, real, before)
        if fcntl is None:
            held.close()  # Windows replaces no file that is open
        with _draft(real, 0o600) as draft:
            draft.fill(after)
            draft.take_place(real)


def _check_replaceable(file: BinaryIO, path: str, before: bytes | None) -> None:
    """OSError where another file stands in its place, or would stay beside it, or where it may not be written."""
    there = os.fstat(file.fileno())
    if not stat.S_ISREG(there.st_mode):
        raise OSError("it is not a regular file")
    if not there.st_mode & ANYBODY_WRITES:  # which does not keep root from writing it
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))
    if there.st_nlink > 1:
        raise OSError("it has another name, a hard link, which would keep what it holds now")
    if not os.path.samestat(there, os.stat(path)) or (before is not None and file.read() != before):
        raise OSError("it has changed since it was read")


def beside(path: str) -> str:
    """The name that a file's next content may have for a while: always the same one, so that litter is found."""
    folder, name = os.path.split(path)
    from hashlib import sha256  # late: it takes long to import

    return os.path.join(folder, f".setuplint-{sha256(os.fsencode(name)).hexdigest()[:16]}")


class _Draft(NamedTuple):
    """A file on the disk, without a name or with one that goes."""

    file: BinaryIO
    name: str | None

    def fill(self, data: bytes) -> None:
        self.file.write(data)
        self.sync()

    def sync(self) -> None:
        self.file.flush()
        os.fsync(self.file.fileno())

    def take_place(self, path: str) -> None:
        """Puts it where another file is, with that one's permissions."""
        there, name = os.stat(path), beside(path)
        self.link(name)
        if hasattr(os, "chown"):
            with suppress(OSError):
                os.chown(name, there.st_uid, there.st_gid)
        os.chmod(name, stat.S_IMODE(there.st_mode))
        self._move(name, path)

    def link(self, path: str) -> None:
        """Gives it a name that is free. FileExistsError where it is not."""
        handle = self.file.fileno()
        if path == self.name:
            return
        try:
            if self.name is not None:
                os.link(self.name, path)
            else:  # with a handle of a folder, whichever, what lies in HANDLES is followed to the file
                os.link(f"{HANDLES}/{handle}", path, src_dir_fd=handle)
        except FileExistsError:
            raise
        except OSError:  # a disk that has no second names
            if self.name is None:
                raise
            if os.path.lexists(path):
                raise _exists() from None
            self._move(self.name, path)

    def _move(self, name: str, path: str) -> None:
        """Windows moves no file that is open."""
        self.file.close()
        os.replace(name, path)


@contextmanager
def _draft(path: str, mode: int) -> Iterator[_Draft]:
    """A file in the folder of `path`. At its end it has the names that it was given, or none."""
    name = beside(path)
    with suppress(FileNotFoundError):
        os.unlink(name)
    try:
        handle = _unnamed(path, mode)
        if handle is None:
            with open(name, "xb", opener=lambda file, flags: os.open(file, flags, mode)) as file:
                yield _Draft(file, name)
        else:
            with open(handle, "wb") as file:
                yield _Draft(file, None)
    finally:
        with suppress(OSError):
            os.unlink(name)


def _unnamed(path: str, mode: int) -> int | None:
    """A handle; None where the system, or the disk, has no files without names."""
    if not hasattr(os, "O_TMPFILE") or not os.path.isdir(HANDLES):
        return None
    try:
        return os.open(os.path.dirname(path) or os.curdir, os.O_TMPFILE | os.O_WRONLY | os.O_CLOEXEC, mode)
    except OSError:
        return None


def _exists() -> FileExistsError:
    return FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST))
