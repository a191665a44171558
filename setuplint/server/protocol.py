"""What of the protocol is other than the library has it."""

from __future__ import annotations

import asyncio
from typing import Any

from lsprotocol import types as lsp
from pygls.exceptions import (
    JsonRpcContentModified,
    JsonRpcException,
    JsonRpcInvalidRequest,
    JsonRpcRequestCancelled,
    JsonRpcServerNotInitialized,
)
from pygls.protocol import LanguageServerProtocol, lsp_method

from setuplint.named_tuple import NamedTuple
from setuplint.server.open_files import OpenFile
from setuplint.server.snapshot import ASKED, AskedText

IN_TURN = {
    lsp.TEXT_DOCUMENT_DOCUMENT_SYMBOL,
    lsp.TEXT_DOCUMENT_FOLDING_RANGE,
    lsp.TEXT_DOCUMENT_SEMANTIC_TOKENS_FULL,
    lsp.TEXT_DOCUMENT_SEMANTIC_TOKENS_RANGE,
    lsp.TEXT_DOCUMENT_INLAY_HINT,
    lsp.TEXT_DOCUMENT_DOCUMENT_LINK,
}
"""Requests about a text that nobody waits for: they come behind the list of problems."""
AT_ONCE = {
    lsp.TEXT_DOCUMENT_HOVER,
    lsp.TEXT_DOCUMENT_COMPLETION,
    lsp.TEXT_DOCUMENT_DEFINITION,
    lsp.TEXT_DOCUMENT_REFERENCES,
    lsp.TEXT_DOCUMENT_DOCUMENT_HIGHLIGHT,
    lsp.TEXT_DOCUMENT_PREPARE_RENAME,
    lsp.TEXT_DOCUMENT_RENAME,
    lsp.TEXT_DOCUMENT_CODE_ACTION,
    lsp.TEXT_DOCUMENT_CODE_LENS,
}
"""The others about a text."""
OVERTAKEN = {"code": JsonRpcContentModified.CODE, "message": "the text has changed since"}


class WaitingRequest(NamedTuple):
    """A request about a text as JSON: it is taken up when all is read that has come by now."""

    data: dict[str, Any]
    asked: AskedText


class Protocol(LanguageServerProtocol):
    """Texts are kept in `OpenFiles`, as pygls splits lines where LSP does not: at a line separator in a comment, for example.
    A request that is malformed, or comes after the shutdown, is answered; one that a change of its text follows at once is
    given up, before any work on it."""

    is_begun = False  # whether the editor has asked for the start

    def __init__(self, *given: Any) -> None:
        super().__init__(*given)
        self.waiting: dict[Any, WaitingRequest] = {}  # by their ids

    def structure_message(self, data: dict[str, Any]) -> Any:
        asked = self._asked(data) if "id" in data and "jsonrpc" in data else None
        return self._structured(data) if asked is None else WaitingRequest(data, asked)

    def _structured(self, data: dict[str, Any]) -> Any:
        try:
            return super().structure_message(data)
        except JsonRpcException as error:
            if "id" in data and "method" in data:
                self._send_response(data["id"], error=error.to_response_error())
            raise

    def _asked(self, data: dict[str, Any]) -> AskedText | None:
        """What a request is about, as it is when it comes. An older text will do for completions until they are asked for of a
        newer one: an editor narrows them itself."""
        method, params = data.get("method"), data.get("params")
        if (method not in IN_TURN and method not in AT_ONCE) or not isinstance(params, dict):
            return None
        document = params.get("textDocument")
        uri = document.get("uri") if isinstance(document, dict) else None
        files: dict[str, OpenFile] = self._server.files.by_uri  # type: ignore[attr-defined]
        file = files.get(uri) if isinstance(uri, str) else None
        if file is None:
            return None
        may_age = method == lsp.TEXT_DOCUMENT_COMPLETION
        file.asked += may_age
        return AskedText(file, file.text, file.asked if may_age else None)

    def tell(self, method: str, values: dict[str, Any]) -> None:
        """Send a notification of plain values."""
        self._send_data({"jsonrpc": self.VERSION, "method": method, "params": values})

    def handle_message(self, message: Any) -> None:
        if isinstance(message, WaitingRequest):
            if not self.waiting:
                asyncio.get_running_loop().call_soon(self._take_up)
            self.waiting[message.data["id"]] = message
            return
        if getattr(message, "method", "") == lsp.CANCEL_REQUEST and self.waiting.pop(message.params.id, None):
            error = JsonRpcRequestCancelled("cancelled")
            self._send_response(message.params.id, error=error.to_response_error())
            return
        self._handle(message, None)

    def _take_up(self) -> None:
        """Begin those whose text is still the same."""
        waiting, self.waiting = self.waiting, {}
        for number, (data, asked) in waiting.items():
            if asked.is_overtaken:
                self._send_data({"jsonrpc": self.VERSION, "id": number, "error": OVERTAKEN})
                continue
            try:
                message = self._structured(data)
            except JsonRpcException:
                continue  # it is answered
            self._handle(message, asked)

    def _handle(self, message: Any, asked: AskedText | None) -> None:
        method = getattr(message, "method", "")
        self.is_begun = self.is_begun or method == lsp.INITIALIZE
        if not self.is_begun and method != lsp.EXIT:
            if hasattr(message, "id") and method:
                early = JsonRpcServerNotInitialized("the first request has to be initialize")
                self._send_response(message.id, error=early.to_response_error())
            return
        if self._shutdown and hasattr(message, "id") and hasattr(message, "method"):
            error = JsonRpcInvalidRequest("the server was told to shut down")
            self._send_response(message.id, error=error.to_response_error())
            return
        ASKED.set(asked)
        super().handle_message(message)

    @lsp_method(lsp.INITIALIZE)
    def lsp_initialize(self, params: lsp.InitializeParams) -> Any:
        result = yield from super().lsp_initialize(params)
        result.capabilities.diagnostic_provider = None  # it is registered, for what is not open alone
        return result

    @lsp_method(lsp.TEXT_DOCUMENT_DID_OPEN)
    def lsp_text_document__did_open(self, params: lsp.DidOpenTextDocumentParams) -> Any:
        yield self.fm.features[lsp.TEXT_DOCUMENT_DID_OPEN], (params,), None

    @lsp_method(lsp.TEXT_DOCUMENT_DID_CHANGE)
    def lsp_text_document__did_change(self, params: lsp.DidChangeTextDocumentParams) -> Any:
        yield self.fm.features[lsp.TEXT_DOCUMENT_DID_CHANGE], (params,), None

    @lsp_method(lsp.TEXT_DOCUMENT_DID_CLOSE)
    def lsp_text_document__did_close(self, params: lsp.DidCloseTextDocumentParams) -> Any:
        yield self.fm.features[lsp.TEXT_DOCUMENT_DID_CLOSE], (params,), None
