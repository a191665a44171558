"""The files that are open in the editor, with their current texts, and the files beside them."""

from __future__ import annotations

import os
import threading
from time import monotonic
from urllib.parse import unquote, urlparse

from pygls.uris import from_fs_path, to_fs_path

from setuplint.book.choices import Choices
from setuplint.club.nearest import NAME
from setuplint.findings import Finding
from setuplint.server.analysis import Analysis
from setuplint.server.club_choices import ClubChoices, club_choices
from setuplint.server.parsed import Buffers, Content, ParsedText
from setuplint.server.positions import Lines
from setuplint.setup.file_sources import LARGEST, extending_files, file_content
from setuplint.source import Document

FRESH = 2.0  # seconds for which a setuplint.toml is not read again


def file_path(uri: str) -> str | None:
    """The path that a uri is for; None where it is for no file, or for none that the system can have."""
    path = to_fs_path(uri)
    try:
        return None if path is None or b"\0" in os.fsencode(path) else path
    except UnicodeEncodeError:
        return None


class OpenFile:
    """A file that is open: its current text, and its last analysis. `edits` counts its changes; the editor's version numbers are
    not relied on."""

    def __init__(self, uri: str, text: str, version: int | None) -> None:
        self.uri, self.text, self.version = uri, text, version
        self.path = file_path(uri)
        self.edits = self.asked = 0  # `asked`: requests that an older text will do for
        self.analysis: Analysis | None = None
        self.is_rule = False  # whether it is one of a club's rules
        self.club = ClubChoices()  # by which it was judged
        self.has_status = False  # whether its status was told, which what is no setup has not
        # a version, what it says, what was found
        self.shown: tuple[int | None, Content, tuple[Finding, ...]] | None = None
        # with which content of a shared part the setups that extend it are judged
        self.part_told: Content | tuple[int, Content] | None = None
        self.neighbour_findings: tuple[Finding, ...] = ()  # from the comparison with other setups
        self.lock = threading.Lock()
        self.last_parsed: tuple[int, ParsedText] | None = None  # after how many edits, and the text as it was then

    @property
    def name(self) -> str:
        """Its name in messages."""
        return os.path.basename(self.path or unquote(urlparse(self.uri).path)) or "text"

    @property
    def is_config(self) -> bool:
        """Whether it is a setuplint.toml, and not a setup."""
        return self.path is not None and os.path.basename(self.path) == NAME

    def is_below(self, config: OpenFile) -> bool:
        """Whether it lies in or below the folder of a setuplint.toml."""
        if self.is_config or not self.path or not config.path:
            return False
        top = os.path.dirname(os.path.realpath(config.path)).rstrip(os.sep) + os.sep
        return os.path.realpath(self.path).startswith(top)

    def expire(self) -> None:
        """A file beside it has changed: it has to be parsed again."""
        self.edits += 1
        self.part_told = None


class OpenFiles:
    """All open files by uri. `encoding` is the unit of positions that was agreed on with the editor."""

    def __init__(self) -> None:
        self.by_uri: dict[str, OpenFile] = {}
        self.encoding = "utf-16"
        self._extended: dict[str, bool] = {}
        self._rules: dict[str, bool] = {}
        self._clubs: dict[str, tuple[float, ClubChoices]] = {}

    def texts(self) -> dict[str, str]:
        """The open texts by real path."""
        return {os.path.realpath(file.path): file.text for file in list(self.by_uri.values()) if file.path}

    def expire(self) -> None:
        """Files may have changed on the disk: nothing that was read from there is used any longer."""
        self._extended = {}
        self.config_changed()
        for file in self.by_uri.values():
            file.expire()

    def parsed(self, file: OpenFile) -> ParsedText:
        """A file's current text as parsed, once for each edit. Any thread may call it."""
        with file.lock:
            edits = file.edits
            if file.last_parsed is None or file.last_parsed[0] != edits:
                folder = self.buffers(file.path, file.name)
                before = None if file.last_parsed is None else file.last_parsed[1]
                file.last_parsed = edits, ParsedText(file.text, file.name, file.version, folder, before)
            return file.last_parsed[1]

    def buffers(self, path: str | None, name: str) -> Buffers | None:
        return Buffers(path, self.texts(), name, self._extended) if path else None

    def club(self, file: OpenFile) -> ClubChoices:
        """What is chosen by every setuplint.toml of a file."""
        folder = os.path.dirname(file.path or "")
        clubs = self._clubs
        kept = clubs.get(folder)
        if kept is None or monotonic() - kept[0] > FRESH:
            kept = clubs[folder] = monotonic(), club_choices(file.path, self.texts())
        return kept[1]

    def choices(self, file: OpenFile) -> Choices | None:
        return self.club(file).choices

    def is_rule(self, file: OpenFile) -> bool:
        """Whether it is one of a club's rules; looked up once until something changes on the disk."""
        rules = self._rules
        if file.path and file.path not in rules:
            from setuplint.server import club_rule

            rules[file.path] = club_rule.is_rule_file(file.path, self.texts())
        return rules.get(file.path or "", False)

    def config_changed(self) -> None:
        """A setuplint.toml is another in the editor. A thread that has read it before notes that where nobody looks now."""
        self._rules, self._clubs = {}, {}

    def extends(self, file: OpenFile, other: OpenFile) -> bool:
        """Whether a file, as it was parsed last, extends another one."""
        if file.last_parsed is None or not other.path or file is other or not file.path:
            return False
        real, texts = os.path.realpath(other.path), file.last_parsed[1].texts
        named = texts.own.values.get("extends")  # also where there is no such file yet: no text of it is there
        return (
            isinstance(named, str) and os.path.normpath(os.path.join(os.path.realpath(file.path), "..", named)) == real
        ) or any(os.path.realpath(self.path_of(file, document)) == real for document in texts.shared)

    # -- places

    def lines_now(self, file: OpenFile) -> Lines:
        """Those of a file's newest text."""
        kept = file.last_parsed
        if kept is not None and kept[1].text is file.text:
            return kept[1].kept(_lines, self.encoding)
        return Lines(file.text, self.encoding)

    def lines(self, parsed: ParsedText, document: Document) -> Lines:
        """The lines of one of a parsed text's documents, as the editor counts them."""
        return parsed.kept(_lines, self.encoding) if document is parsed.own else Lines(document.text, self.encoding)

    def path_of(self, file: OpenFile, document: Document) -> str:
        """The path of a document that a file is made of; names of shared files start from the file's folder."""
        return os.path.normpath(os.path.join(os.path.dirname(file.path or ""), document.name))

    def uri_of(self, path: str) -> str:
        """The uri of a path, as the editor has it where the file is open."""
        real = os.path.realpath(path)
        for file in self.by_uri.values():
            if file.path and os.path.realpath(file.path) == real:
                return file.uri
        return from_fs_path(path) or path

    # -- all files with a name

    def shared_parts(self) -> list[str]:
        """The real paths of the open files that are shared parts of setups."""
        parsed = ((file.path, file.last_parsed) for file in list(self.by_uri.values()))
        return [os.path.realpath(path) for path, kept in parsed if path and kept and kept[1].texts.is_shared_file]

    def all_with(self, file: OpenFile, shared_file: str) -> list[ParsedText]:
        """A file, and all other files that extend a shared file, each parsed under its whole path."""
        path = os.path.abspath(file.path or file.name)
        found = [ParsedText(file.text, path, file.version, self.buffers(path, path))]
        texts = self.texts()
        own = os.path.realpath(path)
        for other in extending_files(shared_file):
            if other == own:
                continue
            text = texts.get(other)
            if text is None:
                text = _text_on_disk(other)
            if text is not None:
                found.append(ParsedText(text, other, None, self.buffers(other, other)))
        return found


def _lines(parsed: ParsedText, encoding: str) -> Lines:
    return Lines(parsed.text, encoding)


def _text_on_disk(path: str) -> str | None:
    try:
        data = file_content(path, LARGEST)
        return None if data is None else data.decode("utf-8-sig")
    except (OSError, UnicodeDecodeError):
        return None
