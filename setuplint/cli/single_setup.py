"""One set-up that a command is given, and the one text that it writes."""

from __future__ import annotations

import os
from datetime import date
from pathlib import Path

from setuplint import library
from setuplint.budget import Spent
from setuplint.cli import files, whole_files
from setuplint.cli.console import expect_document, write_out
from setuplint.cli.options import PAPERS
from setuplint.cli.trouble import TooLarge, Trouble
from setuplint.findings import Report
from setuplint.formats.numbers import counted
from setuplint.named_tuple import NamedTuple
from setuplint.pages.html import MADE_HERE
from setuplint.setup.file_sources import FileSource

MARKED_WITHIN = 4096  # bytes from the start of a page


class ReadableSetup(NamedTuple):
    """A set-up of which everything can be read, and what it was read from."""

    setup: library.Setup
    data: bytes
    beside: FileSource | None


def candidate(path: str) -> files.Candidate:
    """The file of that path; - is standard input. Trouble where it is empty."""
    if not path:
        raise Trouble(files.NO_PATH)
    return files.Candidate("stdin" if path == "-" else files.printable(path), "" if path == "-" else path, True)


def name_and_content(path: str) -> tuple[str, bytes]:
    """What it is called, and its bytes. Trouble where it cannot be read, or is too large."""
    found = candidate(path)
    try:
        data = files.content(found)
    except OSError as error:
        raise Trouble(files.cannot_read(found.name, error)) from None
    return found.name, bounded_content(found.name, data)


def bounded_content(name: str, data: bytes) -> bytes:
    if len(data) > files.LARGEST:
        raise TooLarge(f"{name} has more than {files.LARGEST:,} bytes: it is not a setup")
    return data


def loaded_setup(path: str) -> library.Setup:
    """The set-up, its shared parts read from beside it."""
    name, data = name_and_content(path)
    return library.load_text(data, name, files.beside(candidate(path)))


def mistake_count(setup: library.Setup) -> int:
    """How much of it cannot be read."""
    return len(setup.problems) + sum(len(document.problems) for document in setup.texts)


def readable_setup(path: str) -> ReadableSetup:
    """The set-up; Trouble where something of it cannot be read: a sheet or a card with holes is none."""
    name, data = name_and_content(path)
    beside = files.beside(candidate(path))
    setup = library.load_text(data, name, beside)
    wrong = mistake_count(setup)
    if wrong or not setup.document.values:
        raise Trouble(f"{name}: {counted(wrong, 'mistake')} in it, so nothing was written: setuplint lint shows where")
    return ReadableSetup(setup, data, beside)


def linted(given: ReadableSetup, today: date, spent: Spent | None = None) -> Report:
    """What lint says of it, by our rules alone. `spent` is a budget to keep to."""
    return library.lint_loaded(given.setup, given.beside, None, today=today, spent=spent)


def page_form(out: str | None, asked: str | None) -> str:
    """How a sheet or a card is written: as asked for, else by the file's ending. Trouble where that is another's: a table
    in Markdown is no PDF."""
    ending = os.path.splitext(out or "")[1].lower()
    if asked or not ending or ending in PAPERS:
        return asked or PAPERS.get(ending, "markdown")
    if os.path.lexists(out or ""):
        return "markdown"  # which is not written over what is there
    raise Trouble(f"{files.printable(out or '')}: end it in .html, .md or .json, or say which with --format")


def write_page(out: str | None, text: str) -> None:
    """To a file, or to standard output. Only a page of ours is written over: any other file may hold what somebody wrote, a
    set-up or what was read back at the bench. Trouble where it cannot be written."""
    if out is None:
        expect_document()
        write_out(text)
        return
    if not out:
        raise Trouble(files.NO_PATH)
    path, data = Path(out), text.encode()
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        try:
            whole_files.create(str(path), data)
        except FileExistsError:
            if not path.is_file() or not _ours(path, data):
                raise Trouble(f"{files.printable(out)} is there already: move it away, or give another name") from None
            whole_files.replace(str(path), None, data)
    except OSError as error:
        raise Trouble(f"cannot write {files.printable(out)}: {error.strerror or error}") from None


def write_back(path: str, given: ReadableSetup, text: str) -> None:
    """Put another text in place of the set-up's. Trouble where it cannot be written."""
    bom = b"\xef\xbb\xbf" if given.data.startswith(b"\xef\xbb\xbf") else b""
    try:
        whole_files.replace(path, given.data, bom + text.encode())
    except OSError as error:
        raise Trouble(f"cannot write {given.setup.document.name}: {error.strerror or error}") from None


def _ours(path: Path, data: bytes) -> bool:
    """Whether it holds the same, or a page of ours where another such page is to come."""
    mark = MADE_HERE.encode()
    with path.open("rb") as file:
        there = file.read(max(len(data) + 1, MARKED_WITHIN))
    return there == data or (mark in data and mark in there[:MARKED_WITHIN])
