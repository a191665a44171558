"""What clean set-ups came to, kept on the disk under everything that the verdict rests on; only where --cache asks for it.

A key is made of the whole text, shared parts included, of what it is judged by, of what is usual on its radio, and of
setuplint itself, every file of it. Only that nothing was found is kept, with what was not judged: a file in which something
is found is judged anew each time. Entries are JSON in one SQLite file, so nothing in them can run.
"""

from __future__ import annotations

import json
import os
import sqlite3
from collections.abc import Iterator
from contextlib import suppress
from functools import lru_cache
from hashlib import sha256
from pathlib import Path
from posixpath import dirname, join, normpath
from typing import TYPE_CHECKING, Any

import setuplint
from setuplint.book.radios import Habits
from setuplint.cli import Trouble, files
from setuplint.cli.choosing import choices
from setuplint.findings import NotJudged, Report
from setuplint.setup.file_sources import Refused, extended_path, repository_root
from setuplint.setup.texts import Texts
from setuplint.source import parsed_document

if TYPE_CHECKING:
    from setuplint.club.config import Config

MOST = 100_000  # entries; the oldest go
DEEPEST = 16  # shared parts that extend each other


class Cache:
    """One file of entries. Where it cannot be read or written, nothing is known and nothing is kept."""

    def __init__(self, folder: str) -> None:
        os.makedirs(folder, exist_ok=True)
        self._base = sqlite3.connect(os.path.join(folder, "setuplint.sqlite3"), timeout=5, isolation_level=None)
        self._base.execute("PRAGMA journal_mode = WAL")
        self._base.execute("PRAGMA synchronous = OFF")
        self._base.execute("CREATE TABLE IF NOT EXISTS entries (key BLOB PRIMARY KEY, value TEXT) WITHOUT ROWID")

    def get(self, key: bytes) -> Any:
        with suppress(sqlite3.Error, ValueError):
            for (value,) in self._base.execute("SELECT value FROM entries WHERE key = ?", (key,)):
                return json.loads(value)
        return None

    def put(self, key: bytes, value: Any) -> None:
        with suppress(sqlite3.Error):
            self._base.execute("INSERT OR REPLACE INTO entries VALUES (?, ?)", (key, json.dumps(value)))

    def shrink(self) -> None:
        """Begin anew where there are too many: what is still needed comes back."""
        with suppress(sqlite3.Error):
            ((count,),) = self._base.execute("SELECT count(*) FROM entries")
            if count > MOST:
                self._base.execute("DELETE FROM entries")


@lru_cache(maxsize=1)
def opened(folder: str) -> Cache | None:
    """The cache of a folder, once a process; None where it cannot be opened."""
    try:
        return Cache(folder)
    except (sqlite3.Error, OSError):
        return None


def checked(folder: str, paths: list[str]) -> str:
    """The folder, if it is fit. Trouble where it lies in a repository that is linted: its entries could come from there."""
    real = os.path.realpath(folder)
    for path in paths:
        root = repository_root(path if os.path.isdir(path) else os.path.dirname(os.path.abspath(path)))
        if real == root or real.startswith(root.rstrip(os.sep) + os.sep):
            raise Trouble(
                f"--cache {folder} lies in what is linted, where anyone who changes it could say what is clean"
            )
    if opened(real) is None:
        raise Trouble(f"--cache {folder} cannot be written to")
    return real


@lru_cache(maxsize=1)
def stamp() -> bytes:
    """Setuplint itself: the version, and every file of its code and rules by size and time."""
    found = sha256(setuplint.__version__.encode())
    for path in sorted(_own()):
        status = path.stat()
        found.update(f"{path}\0{status.st_size}\0{status.st_mtime_ns}\n".encode(errors="surrogateescape"))
    return found.digest()


def _own() -> Iterator[Path]:
    from setuplint.book import rulebook

    for folder in (Path(setuplint.__file__).parent, rulebook.folder()):
        yield from (path for path in folder.rglob("*") if path.suffix in (".py", ".json", ".toml"))


@lru_cache(maxsize=64)
def judged_by(config: Config | None, folders: tuple[Path, ...], waive: bool) -> bytes:
    """The rules and limits of a run, as text."""
    return sha256(repr(choices(config, folders, waive)).encode(errors="surrogatepass")).digest()


def texts(candidate: files.Candidate, data: bytes) -> list[bytes] | None:
    """A set-up's own text and those that it extends; None where these cannot be read."""
    found, path = [data], extended_path(data)
    beside = files.beside(candidate)
    while path is not None and len(found) <= DEEPEST:
        try:
            found.append(beside.read(path, files.LARGEST))
        except Refused:
            return None
        inner = extended_path(found[-1])
        path = None if inner is None else normpath(join(dirname(path), inner))
    return found if path is None else None


def key(what: str, text: list[bytes], *parts: bytes | str) -> bytes:
    """Under which an entry is kept."""
    found = sha256(stamp())
    for part in (
        what.encode(),
        *text,
        *(p if isinstance(p, bytes) else p.encode(errors="surrogatepass") for p in parts),
    ):
        found.update(len(part).to_bytes(8, "big"))
        found.update(part)
    return found.digest()


def clean(report: Report) -> bool:
    """Whether there is nothing to say of it but what was not judged, on any day: waivers have an end."""
    said = (*report.findings, *report.waived, *report.baselined, *report.remarks)
    return not said and not report.texts.is_shared_file and "waivers" not in report.values


def written(report: Report) -> dict[str, Any]:
    return {
        "states": report.states,
        "rules": report.rules,
        "not-judged": [[note.rule, note.because, note.subject] for note in report.not_judged],
        "edition": report.edition,
        "pinned": report.pinned,
        "config": report.config,
    }


def report_of(name: str, entry: dict[str, Any]) -> Report:
    """The report of a clean set-up, without its text."""
    return Report(
        name,
        Texts(parsed_document("", name)),
        not_judged=tuple(NotJudged(*note) for note in entry["not-judged"]),
        states=entry["states"],
        rules=entry["rules"],
        edition=entry["edition"],
        pinned=entry["pinned"],
        config=entry["config"],
    )


def usual(base: Cache, text: list[bytes], habits: Habits | None) -> str:
    """What is usual on the radio of a set-up, as text: by which movements, not by how many of whom."""
    entry = base.get(key("record", text)) if habits else None
    found = (habits or {}).get(entry["radio"]) if entry else None
    return repr(sorted((what, habit.ways) for what, habit in found.items())) if found else ""
