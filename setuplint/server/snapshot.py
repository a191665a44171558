"""An open file as it is when a request comes, and the thread that works on requests."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextvars import ContextVar
from typing import TypeVar

from lsprotocol import types as lsp
from pygls.exceptions import JsonRpcContentModified

from setuplint.named_tuple import NamedTuple
from setuplint.server.occurrences import Occurrence
from setuplint.server.open_files import OpenFile, OpenFiles
from setuplint.server.parsed import ParsedText
from setuplint.source import Document, Span

Result = TypeVar("Result")


class AskedText(NamedTuple):
    """What a request is about: a file, and its text then. `number` counts the requests that an older text will do for."""

    file: OpenFile
    text: str
    number: int | None

    @property
    def is_overtaken(self) -> bool:
        return self.file.text is not self.text and self.number != self.file.asked

    def check(self) -> None:
        """JsonRpcContentModified where the request is overtaken."""
        if self.is_overtaken:
            raise JsonRpcContentModified("the text has changed since")


ASKED: ContextVar[AskedText | None] = ContextVar("ASKED", default=None)


class Snapshot:
    """An open file with its text as parsed, and places in it in LSP's terms."""

    def __init__(self, files: OpenFiles, file: OpenFile, parsed: ParsedText) -> None:
        self.files, self.file, self.parsed = files, file, parsed
        self.lines = files.lines(parsed, parsed.own)

    @property
    def is_setup(self) -> bool:
        return not self.file.is_config and self.parsed.is_setup

    def offset(self, position: lsp.Position) -> int:
        return self.lines.offset(position.line, position.character)

    def range(self, span: Span) -> lsp.Range:
        return self.lines.range(span)

    def span(self, range: lsp.Range) -> Span:
        start, end = self.offset(range.start), self.offset(range.end)
        return Span(min(start, end), max(start, end))

    def occurrence_at(self, position: lsp.Position) -> Occurrence | None:
        return self.parsed.occurrence_at(self.offset(position))

    def location(self, parsed: ParsedText, document: Document, span: Span) -> lsp.Location:
        """A place in any document of any parsed text."""
        if parsed is self.parsed and document is parsed.own:
            return lsp.Location(self.file.uri, self.range(span))
        uri = self.files.uri_of(self.files.path_of(self.file, document))
        return lsp.Location(uri, self.files.lines(parsed, document).range(span))


class RequestWorker:
    """Works on requests in a thread of its own, not in the one that judges. All questions to a parsed text's decider come from
    the same worker: two threads must not use one solver."""

    def __init__(self, files: OpenFiles) -> None:
        self.files = files
        self.thread = ThreadPoolExecutor(max_workers=1)

    async def snapshot(self, uri: str) -> Snapshot | None:
        """Of any open file."""
        file = self.files.by_uri.get(uri)
        return None if file is None else Snapshot(self.files, file, await self.result(self.files.parsed, file))

    async def setup(self, uri: str) -> Snapshot | None:
        """Of an open setup; None for any other text, about which nothing is said."""
        snapshot = await self.snapshot(uri)
        return snapshot if snapshot is not None and snapshot.is_setup else None

    async def result(self, call: Callable[..., Result], *given: object) -> Result:
        asked = ASKED.get()
        return await asyncio.get_running_loop().run_in_executor(self.thread, _unless_overtaken, asked, call, *given)


def _unless_overtaken(asked: AskedText | None, call: Callable[..., Result], *given: object) -> Result:
    if asked is not None:
        asked.check()
    return call(*given)
