"""The files that are open in the editor: their texts as they are typed, and what lies beside them."""

from __future__ import annotations

import os
import threading
from time import monotonic
from urllib.parse import unquote, urlparse

from pygls.uris import from_fs_path, to_fs_path

from setuplint.book.choices import Choices
from setuplint.club.nearest import NAME
from setuplint.findings import Finding
from setuplint.server.analysis import Analysis, Buffers, Reading
from setuplint.server.positions import Lines
from setuplint.setup.file_sources import LARGEST, extending_files, file_content
from setuplint.source import Document

FRESH = 2.0  # seconds for which what was read beside a file is taken for current


class File:
    """A text that is open: as it stands, and what was told of it last. `edits` counts its changes: versions are the editor's
    own, and may do what they like."""

    def __init__(self, uri: str, text: str, version: int | None) -> None:
        self.uri, self.text, self.version = uri, text, version
        self.path = to_fs_path(uri)
        self.edits = 0
        self.analysis: Analysis | None = None
        self.wrong = ""  # what is wrong with its setuplint.toml
        self.elsewhere: tuple[Finding, ...] = ()  # what is told of its neighbours
        self.lock = threading.Lock()
        self.read: tuple[int, Reading] | None = None

    @property
    def name(self) -> str:
        """What it is called in messages."""
        return os.path.basename(self.path or unquote(urlparse(self.uri).path)) or "text"

    @property
    def chooses(self) -> bool:
        """Whether it is a setuplint.toml, and no set-up."""
        return self.path is not None and os.path.basename(self.path) == NAME

    def stale(self) -> None:
        """What is beside it has changed: it has to be read again."""
        self.edits += 1


class Files:
    """All that is open, by uri. `encoding` is what positions count by, as agreed with the editor."""

    def __init__(self) -> None:
        self.open: dict[str, File] = {}
        self.encoding = "utf-16"
        self._extended: dict[str, bool] = {}
        self._choices: dict[str, tuple[float, Choices | None, str]] = {}

    def texts(self) -> dict[str, str]:
        """What is open by its real path."""
        return {os.path.realpath(file.path): file.text for file in list(self.open.values()) if file.path}

    def changed_beside(self) -> None:
        """Files may have changed on the disk: nothing that was read beside them is taken for current."""
        self._extended.clear()
        self._choices.clear()
        for file in self.open.values():
            file.stale()

    def reading(self, file: File) -> Reading:
        """The text as it stands, read; once for every change. Safe to be called by any thread."""
        with file.lock:
            edits = file.edits
            if file.read is None or file.read[0] != edits:
                file.read = edits, Reading(file.text, file.name, file.version, self.beside(file.path, file.name))
            return file.read[1]

    def beside(self, path: str | None, name: str) -> Buffers | None:
        return Buffers(path, self.texts(), name, self._extended) if path else None

    def choices(self, file: File) -> tuple[Choices | None, str]:
        """What the file is judged by, as its setuplint.toml has it, and why that cannot be used, if so."""
        folder = os.path.dirname(file.path or "")
        known = self._choices.get(folder)
        if known is None or monotonic() - known[0] > FRESH:
            known = monotonic(), *_chosen(file.path)
            self._choices[folder] = known
        return known[1], known[2]

    def extends(self, file: File, other: File) -> bool:
        """Whether the last reading of a file came from another's text too."""
        if file.read is None or not other.path or file is other or not file.path:
            return False
        real = os.path.realpath(other.path)
        beside = file.read[1].beside
        return beside is not None and any(
            os.path.realpath(self.path_of(file, document)) == real for document in file.read[1].texts.shared
        )

    # -- places

    def lines(self, file: File, reading: Reading, document: Document) -> Lines:
        """How the editor counts one of the texts of a reading."""
        own = document is reading.own
        return Lines(reading.text if own else document.text, self.encoding)

    def path_of(self, file: File, document: Document) -> str:
        """A shared part lies where its name says, from the file's folder."""
        return os.path.normpath(os.path.join(os.path.dirname(file.path or ""), document.name))

    def uri_of(self, path: str) -> str:
        """As the editor calls it, where it is open there."""
        real = os.path.realpath(path)
        for file in self.open.values():
            if file.path and os.path.realpath(file.path) == real:
                return file.uri
        return from_fs_path(path) or path

    # -- all files that a name goes through

    def together(self, file: File, part: str | None) -> list[Reading]:
        """A file read under its whole path, and with it every file that extends `part`, the path of a shared part."""
        path = os.path.abspath(file.path or file.name)
        found = [Reading(file.text, path, file.version, self.beside(path, path))]
        texts = self.texts()
        own = os.path.realpath(path)
        for other in extending_files(part) if part else ():
            if other == own:
                continue
            text = texts.get(other)
            if text is None:
                text = _on_disk(other)
            if text is not None:
                found.append(Reading(text, other, None, self.beside(other, other)))
        return found


def _on_disk(path: str) -> str | None:
    try:
        data = file_content(path, LARGEST)
        return None if data is None else data.decode("utf-8-sig")
    except (OSError, UnicodeDecodeError):
        return None


def _chosen(path: str | None) -> tuple[Choices | None, str]:
    from setuplint.club import nearest

    found = nearest.of(path) if path else None
    if found is None:
        return None, ""
    from setuplint.book.rule_file import BookError
    from setuplint.club.choosing import choices
    from setuplint.club.config import ConfigError, load

    try:
        return choices(load(found)), ""
    except (OSError, ConfigError, BookError) as error:
        return None, str(error)
