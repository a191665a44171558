"""One set-up that a command is given, and the one text that it writes."""

from __future__ import annotations

import sys
from pathlib import Path

from setuplint import library
from setuplint.cli import Trouble, files
from setuplint.formats.html import MADE_HERE


def named(path: str) -> files.Candidate:
    """The file of that path; - is standard input."""
    return files.Candidate("stdin" if path == "-" else files.printable(path), "" if path == "-" else path, True)


def read(path: str) -> tuple[str, bytes]:
    """What it is called, and its bytes. Trouble where it cannot be read, or is too large."""
    candidate = named(path)
    try:
        data = files.read(candidate)
    except OSError as error:
        raise Trouble(files.cannot_read(candidate.name, error)) from None
    return candidate.name, bounded(candidate.name, data)


def bounded(name: str, data: bytes) -> bytes:
    if len(data) > files.LARGEST:
        raise Trouble(f"{name} has more than {files.LARGEST:,} bytes: it is no setup")
    return data


def load(path: str) -> library.Setup:
    """The set-up, its shared parts read from beside it."""
    name, data = read(path)
    return library.load_text(data, name, files.beside(named(path)))


def write(out: str | None, text: str) -> None:
    """To a file, or to standard output. Only a page of ours is written over: any other file may hold what somebody wrote, a
    set-up or what was read back at the bench. Trouble where it cannot be written."""
    if out is None:
        sys.stdout.write(text)
        return
    path = Path(out)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        try:
            with path.open("x", encoding="utf-8", newline="\n") as file:
                file.write(text)
        except FileExistsError:
            if not path.is_file() or not _ours(path, text):
                raise Trouble(f"{files.printable(out)} is there already: move it away, or give another name") from None
            path.write_text(text, encoding="utf-8", newline="\n")
    except OSError as error:
        raise Trouble(f"cannot write {files.printable(out)}: {error.strerror or error}") from None


def _ours(path: Path, text: str) -> bool:
    with path.open("rb") as file:
        there = file.read(max(len(text.encode()) + 1, 4096))
    return there == text.encode() or (MADE_HERE in text and MADE_HERE.encode() in there[:4096])
