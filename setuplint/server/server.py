"""The server as LSP has it: what an editor asks, answered from what the other modules know. Nothing is decided here."""

from __future__ import annotations

import asyncio
import logging
import os
import sys
from typing import Any

from lsprotocol import types as lsp
from pygls.exceptions import FeatureNotificationError, JsonRpcException, JsonRpcInvalidRequest
from pygls.lsp.server import LanguageServer
from pygls.protocol import LanguageServerProtocol, lsp_method

from setuplint.server import action_requests, lens_commands, place_requests
from setuplint.server.analysis import Analysis
from setuplint.server.diagnostics import SOURCE, Shown, trouble
from setuplint.server.open_files import File, Files
from setuplint.server.scheduling import Judging

SWITCHING = 0.0005  # seconds: the thread that judges lets the loop in that often


class Protocol(LanguageServerProtocol):
    """Texts are kept by `Files`: pygls parts lines where LSP has none, as at a line separator in a comment. And a request that
    is none, or that comes after the end, gets an answer."""

    def structure_message(self, data: dict[str, Any]) -> Any:
        try:
            return super().structure_message(data)
        except JsonRpcException as error:
            if "id" in data and "method" in data:
                self._send_response(data["id"], error=error.to_response_error())
            raise

    def handle_message(self, message: Any) -> None:
        if self._shutdown and hasattr(message, "id") and hasattr(message, "method"):
            error = JsonRpcInvalidRequest("the server was told to shut down")
            self._send_response(message.id, error=error.to_response_error())
            return
        super().handle_message(message)

    @lsp_method(lsp.TEXT_DOCUMENT_DID_OPEN)
    def lsp_text_document__did_open(self, params: lsp.DidOpenTextDocumentParams) -> Any:
        yield self.fm.features[lsp.TEXT_DOCUMENT_DID_OPEN], (params,), None

    @lsp_method(lsp.TEXT_DOCUMENT_DID_CHANGE)
    def lsp_text_document__did_change(self, params: lsp.DidChangeTextDocumentParams) -> Any:
        yield self.fm.features[lsp.TEXT_DOCUMENT_DID_CHANGE], (params,), None

    @lsp_method(lsp.TEXT_DOCUMENT_DID_CLOSE)
    def lsp_text_document__did_close(self, params: lsp.DidCloseTextDocumentParams) -> Any:
        yield self.fm.features[lsp.TEXT_DOCUMENT_DID_CLOSE], (params,), None


class Server(LanguageServer):
    """Files as they are typed, and what is told of them."""

    def __init__(self, version: str) -> None:
        super().__init__(
            SOURCE, version, text_document_sync_kind=lsp.TextDocumentSyncKind.Incremental, protocol_cls=Protocol
        )
        self.files = Files()
        self.judging = Judging(self.files, self.show, self.fault)
        self.asking = place_requests.Asking(self)
        self.ended_well = False
        self.steps: set[asyncio.Task[None]] = set()  # a task that nobody holds may be lost

    def show(self, file: File, analysis: Analysis, wrong: str) -> None:
        found = Shown(self.files, file, analysis, related=self.shows_related).diagnostics()
        if wrong and analysis.reading.is_setup:
            found.insert(0, trouble(wrong))
        self.publish(file, found, analysis.reading.version)

    def fault(self, file: File, error: Exception) -> None:
        """What must not happen, said where the pilot sees it; findings of before stay, at their places of then."""
        logging.getLogger(SOURCE).error("%s", error, exc_info=error)
        said = f"this is a fault of setuplint, please report it: {type(error).__name__}: {error}"
        self.publish(file, [trouble(said)], file.version)

    def publish(self, file: File, found: list[lsp.Diagnostic], version: int | None) -> None:
        self.text_document_publish_diagnostics(lsp.PublishDiagnosticsParams(file.uri, found, version))

    def report_server_error(self, error: Exception, source: Any) -> None:
        """A fault of ours is said; what an editor sends that is no message of the protocol is passed over."""
        if source == FeatureNotificationError:
            said = f"setuplint: this is a fault of setuplint, please report it: {error}"
            self.window_show_message(lsp.ShowMessageParams(lsp.MessageType.Error, said))

    @property
    def shows_related(self) -> bool:
        document = self.client_capabilities.text_document
        told = document.publish_diagnostics if document is not None else None
        return bool(told is not None and told.related_information)

    # -- what the editor tells

    def opened(self, params: lsp.DidOpenTextDocumentParams) -> None:
        item = params.text_document
        before = self.files.open.get(item.uri)
        if before is not None:
            self.judging.closed(before)
        file = File(item.uri, item.text, item.version)
        self.files.open[item.uri] = file
        self.changed_text(file)

    def changed(self, params: lsp.DidChangeTextDocumentParams) -> None:
        """Whatever its version says, a change counts after those before it."""
        file = self.files.open.get(params.text_document.uri)
        if file is None:
            return
        for change in params.content_changes:
            if isinstance(change, lsp.TextDocumentContentChangePartial):
                start, end = change.range.start, change.range.end
                lines = place_requests.lines_of(file, self.files.encoding)
                file.text = lines.replaced((start.line, start.character), (end.line, end.character), change.text)
            else:
                file.text = change.text
        file.version = params.text_document.version
        file.edits += 1
        self.changed_text(file)

    def changed_text(self, file: File) -> None:
        self.judging.changed(file)
        self.changed_beside(file)

    def changed_beside(self, file: File) -> None:
        """What rests on a file is judged anew."""
        for other in list(self.files.open.values()):
            if self.files.extends(other, file):
                other.stale()
                self.judging.changed(other)

    def saved(self, params: Any) -> None:
        """Something is on the disk now that was not: shared parts, a setuplint.toml, a club's rules."""
        self.files.changed_beside()
        for file in self.files.open.values():
            self.judging.changed(file)

    def closed(self, params: lsp.DidCloseTextDocumentParams) -> None:
        file = self.files.open.pop(params.text_document.uri, None)
        if file is not None:
            self.judging.closed(file)
            self.publish(file, [], None)
            self.changed_beside(file)


def serve() -> int:
    """Answer on standard input and output until the editor ends; the exit status is as LSP has it. Nothing is written to
    standard error, and to standard output only what belongs to the protocol."""
    from importlib.metadata import PackageNotFoundError, version

    logging.getLogger().addHandler(logging.NullHandler())
    logging.raiseExceptions = False
    sys.setswitchinterval(SWITCHING)
    out = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    try:
        number = version(SOURCE)
    except PackageNotFoundError:
        number = "from a folder"
    server = make(number)
    server.start_io(sys.stdin.buffer, out)
    return 0 if server.ended_well else 1


def make(version: str = "0") -> Server:
    """A server with all its features."""
    server = Server(version)
    for name, handler in (
        (lsp.TEXT_DOCUMENT_DID_OPEN, server.opened),
        (lsp.TEXT_DOCUMENT_DID_CHANGE, server.changed),
        (lsp.TEXT_DOCUMENT_DID_CLOSE, server.closed),
        (lsp.TEXT_DOCUMENT_DID_SAVE, server.saved),
        (lsp.WORKSPACE_DID_CHANGE_WATCHED_FILES, server.saved),
    ):
        server.feature(name)(_function(handler))

    @server.feature(lsp.INITIALIZE)
    def initialized(params: lsp.InitializeParams) -> None:
        encoding = server.workspace.position_encoding
        server.files.encoding = str(getattr(encoding, "value", encoding))

    @server.feature(lsp.INITIALIZED)
    def ready(params: lsp.InitializedParams) -> None:
        place_requests.watch(server)

    @server.feature(lsp.SHUTDOWN)
    def ending(params: Any = None) -> None:
        server.ended_well = True

    @server.feature(lsp.EXIT)
    def ended(params: Any = None) -> None:
        os._exit(0 if server.ended_well else 1)  # threads that read or judge are waited for by nobody

    place_requests.register(server)
    action_requests.register(server)
    lens_commands.register(server)
    return server


def _function(method: Any) -> Any:
    """pygls takes a method's first parameter for the server."""

    def handler(params: Any) -> None:
        method(params)

    return handler
