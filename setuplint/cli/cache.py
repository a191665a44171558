"""What clean set-ups came to, kept on the disk under everything that the verdict rests on; only where --cache asks for it.

A key is made of the whole text, shared parts included, of what it is judged by, of what is usual on its radio, and of
setuplint itself, every file of it. Only that nothing was found is kept, with what was not judged: a file in which something
is found is judged again each time. Entries are JSON in one SQLite file, so nothing in them can run; but whoever can write to
it says what is clean, so that must be nobody else.
"""

from __future__ import annotations

import json
import os
import sqlite3
import stat
from collections.abc import Callable
from contextlib import suppress
from functools import lru_cache
from hashlib import sha256
from pathlib import Path
from posixpath import dirname, join, normpath
from typing import TYPE_CHECKING, Any, TypeVar

import setuplint
from setuplint.book.radios import Habits
from setuplint.cli import files
from setuplint.cli.run_configs import file_choices
from setuplint.cli.trouble import Trouble
from setuplint.dataclass import replace
from setuplint.findings import NotJudged, Report
from setuplint.named_tuple import NamedTuple
from setuplint.setup.file_sources import Refused, extended_path, repository_root
from setuplint.setup.texts import Texts
from setuplint.source import parsed_document

if TYPE_CHECKING:
    from setuplint.book.club_rules import RuleText
    from setuplint.club.config import Config

Answer = TypeVar("Answer")

NAME = "setuplint.sqlite3"
LAYOUT = 2  # of the tables: a file of another is replaced
MOST = 100_000  # entries that a run leaves; the oldest go
LONGEST = 20_000  # characters of an entry; a longer one is not kept
DEEPEST = 16  # shared parts that extend each other


class Cache:
    """One file of entries. Where it cannot be read or written, nothing is known and nothing is kept."""

    def __init__(self, folder: str) -> None:
        self._base = sqlite3.connect(os.path.join(folder, NAME), timeout=5, isolation_level=None)
        self._base.execute("PRAGMA journal_mode = WAL")
        self._base.execute("PRAGMA synchronous = OFF")

    def make(self) -> None:
        """Its tables, where there are none. sqlite3.DatabaseError where the file is broken, or of another layout."""
        self._base.execute("BEGIN IMMEDIATE")
        ((layout,),) = self._base.execute("PRAGMA user_version")
        ((tables,),) = self._base.execute("SELECT count(*) FROM sqlite_master")
        if tables and (layout != LAYOUT or self._base.execute("PRAGMA quick_check(1)").fetchall() != [("ok",)]):
            self._base.close()
            raise sqlite3.DatabaseError
        self._base.execute(
            "CREATE TABLE IF NOT EXISTS entries (age INTEGER PRIMARY KEY AUTOINCREMENT, key BLOB UNIQUE, value TEXT)"
        )
        self._base.execute(f"PRAGMA user_version = {LAYOUT}")
        self._base.execute("COMMIT")

    def value(self, key: bytes) -> Any:
        """None where there is none."""
        with suppress(sqlite3.Error, ValueError):
            for (value,) in self._base.execute("SELECT value FROM entries WHERE key = ?", (key,)):
                return json.loads(value)
        return None

    def keep(self, key: bytes, value: Any) -> None:
        text = json.dumps(value)
        if len(text) <= LONGEST:
            with suppress(sqlite3.Error):
                self._base.execute("INSERT OR REPLACE INTO entries (key, value) VALUES (?, ?)", (key, text))

    def shrink(self) -> None:
        """Leave the newest MOST."""
        with suppress(sqlite3.Error):
            self._base.execute("DELETE FROM entries WHERE age <= (SELECT max(age) FROM entries) - ?", (MOST,))


class Slot(NamedTuple):
    """Where the answer to one question is kept, if it is."""

    base: Cache
    key: bytes


def opened(folder: str) -> Cache | None:
    """The cache of a folder, once a process (none may use another's); None where it cannot be opened."""
    return _opened(folder, os.getpid())


@lru_cache(maxsize=1)
def _opened(folder: str, process: int) -> Cache | None:
    try:
        return Cache(folder)
    except sqlite3.Error:
        return None


def checked_folder(folder: str, paths: list[str]) -> str:
    """Its real path, once it is made and fit to be used. Trouble where it is in a repository that is linted, or where others
    can write to it. A broken cache is replaced."""
    if not folder:
        raise Trouble("--cache '' names no folder")
    real = os.path.realpath(folder)
    for path in paths:
        root = repository_root(path if os.path.isdir(path) else os.path.dirname(os.path.abspath(path)))
        if real == root or real.startswith(root.rstrip(os.sep) + os.sep):
            raise Trouble(
                f"--cache {folder} lies in what is linted, where anyone who changes it could say what is clean"
            )
    try:
        os.makedirs(real, mode=0o700, exist_ok=True)
        theirs = open_to_others(real)
        if not theirs:
            _begin(real)
    except (sqlite3.Error, OSError):
        raise Trouble(f"--cache {folder} cannot be written to") from None
    if theirs:
        raise Trouble(f"--cache {folder}: others can write to {theirs}, and could say what is clean")
    return real


def open_to_others(folder: str) -> str:
    """What of a cache someone else, but for the system's owner, can write to or put in another's place; empty where that is
    nothing."""
    if not hasattr(os, "geteuid"):
        return ""  # a system with permissions of another kind
    for path in (folder, *_files(folder)):
        there = os.lstat(path)
        closed = stat.S_ISREG(there.st_mode) or not there.st_mode & (stat.S_IWGRP | stat.S_IWOTH)
        if there.st_uid not in (os.geteuid(), 0) or not closed:
            return path
    for above in map(str, Path(folder).parents):
        mode = os.lstat(above).st_mode
        if mode & stat.S_IWOTH and not mode & stat.S_ISVTX:
            return above
    return ""


def bound(folder: str) -> None:
    """At the end of a run: bounds what is kept."""
    base = opened(folder)
    if base is not None:
        base.shrink()


def _files(folder: str) -> list[str]:
    """The file of entries, and what SQLite has beside it."""
    return [os.path.join(folder, name) for name in sorted(os.listdir(folder)) if name.startswith(NAME)]


def _begin(folder: str) -> None:
    """Sees to it that the cache of a folder can be used."""
    _opened.cache_clear()
    try:
        Cache(folder).make()
    except sqlite3.OperationalError:  # locked, or not to be written to: that is not broken
        raise
    except sqlite3.DatabaseError:
        for path in _files(folder):
            os.unlink(path)
        Cache(folder).make()


def slot(folder: str, what: str, candidate: files.Candidate, data: bytes, *besides: bytes) -> Slot | None:
    """For a question about a set-up: what kind of question it is, and what the answer depends on other than its text. None
    where nothing can be kept of it."""
    base, texts = opened(folder), own_and_shared(candidate, data)
    return None if base is None or texts is None else Slot(base, entry_key(what, *texts, *besides))


def kept(
    place: Slot | None,
    answer: Callable[[], Answer],
    parsed: Callable[[Any], Answer],
    written: Callable[[Answer], Any],
) -> Answer:
    """An answer: as it is kept, or else worked out. `written` makes plain data of it, or None of what is not to be kept;
    `parsed` the answer of that."""
    if place is None:
        return answer()
    entry = place.base.value(place.key)
    if entry is not None:
        with suppress(LookupError, TypeError, AttributeError):  # a spoilt entry
            return parsed(entry)
    found = answer()
    data = written(found)
    if data is not None:
        place.base.keep(place.key, data)
    return found


def own_and_shared(candidate: files.Candidate, data: bytes) -> list[bytes] | None:
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


def entry_key(what: str, *parts: bytes) -> bytes:
    """Under which an entry is kept."""
    found = sha256(stamp())
    for part in (what.encode(), *parts):
        found.update(len(part).to_bytes(8, "big"))
        found.update(part)
    return found.digest()


@lru_cache(maxsize=1)
def stamp() -> bytes:
    """Setuplint itself: the version, and every file of its code and rules by size and time."""
    from setuplint.book import rulebook

    found = sha256(setuplint.__version__.encode())
    for folder in (Path(setuplint.__file__).parent, rulebook.folder()):
        for path in sorted(folder.rglob("*")):
            if path.suffix in (".py", ".json", ".toml"):
                status = path.stat()
                found.update(f"{path}\0{status.st_size}\0{status.st_mtime_ns}\n".encode(errors="surrogateescape"))
    return found.digest()


@lru_cache(maxsize=64)
def judged_by(config: Config | None, texts: tuple[RuleText, ...], waive: bool) -> bytes:
    """The rules and limits of a run, as text. Sets have no order of their own."""
    by = file_choices(config, texts, waive)
    words = (by.left_out, by.never_waive) if by else ()
    found = repr((by and replace(by, left_out=frozenset(), never_waive=frozenset()), *map(sorted, words)))
    return sha256(found.encode(errors="surrogatepass")).digest()


def usual_text(habits: Habits, radio: str | None) -> bytes:
    """What is usual on a radio (None: on every one) as text: by which movements, not by how many of whom."""
    radios = habits if radio is None else {radio: habits.get(radio, {})}
    found = [
        (name, sorted((what, [habit.ways for habit in some]) for what, some in usual.items()))
        for name, usual in sorted(radios.items())
    ]
    return repr(found).encode(errors="surrogatepass")


def report_data(report: Report | None) -> dict[str, Any] | None:
    """What is kept of a clean set-up; None of what is none, and where there is more to say than what was not judged, be it on
    another day: waivers have an end."""
    if report is None:
        return None
    said = (*report.findings, *report.waived, *report.baselined, *report.remarks)
    if said or report.texts.is_shared_file or "waivers" in report.values:
        return None
    return {
        "states": report.states,
        "rules": report.rules,
        "not-judged": [[note.rule, note.because, note.subject] for note in report.not_judged],
        "edition": report.edition,
        "pinned": report.pinned,
        "config": report.config,
        "left-out": report.left_out,
    }


def parsed_report(name: str, entry: dict[str, Any]) -> Report:
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
        left_out=entry["left-out"],
    )
