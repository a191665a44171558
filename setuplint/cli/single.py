"""One set-up that a command is given, and the one text that it writes."""

from __future__ import annotations

import sys
from pathlib import Path

from setuplint import library
from setuplint.cli import Trouble, files


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
    """To a file, or to standard output."""
    if out is None:
        sys.stdout.write(text)
        return
    try:
        path = Path(out)
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8", newline="\n")
    except OSError as error:
        raise Trouble(f"cannot write {out}: {error.strerror or error}") from None
