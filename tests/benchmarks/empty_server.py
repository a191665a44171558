"""A language server that does nothing: it takes every change in, and answers with one fixed diagnostic. The floor."""

from __future__ import annotations

from lsprotocol import types as lsp
from pygls.lsp.server import LanguageServer

server = LanguageServer("empty", "0")


def publish(uri: str, version: int | None) -> None:
    place = lsp.Range(lsp.Position(0, 0), lsp.Position(0, 1))
    server.text_document_publish_diagnostics(
        lsp.PublishDiagnosticsParams(uri, [lsp.Diagnostic(place, "nothing")], version)
    )


@server.feature(lsp.TEXT_DOCUMENT_DID_OPEN)
def opened(params: lsp.DidOpenTextDocumentParams) -> None:
    publish(params.text_document.uri, params.text_document.version)


@server.feature(lsp.TEXT_DOCUMENT_DID_CHANGE)
def changed(params: lsp.DidChangeTextDocumentParams) -> None:
    publish(params.text_document.uri, params.text_document.version)


if __name__ == "__main__":
    server.start_io()
