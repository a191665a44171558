"""What an editor says about its files: opened, changed, saved, closed, changed on the disk; the start and the end."""

from __future__ import annotations

import os
from typing import Any

from lsprotocol import types as lsp

from setuplint.server.open_files import OpenFile
from setuplint.server.session import Session
from setuplint.server.workspace_diagnostics import START

UNOPENED = lsp.DiagnosticRegistrationOptions(
    inter_file_dependencies=True,
    workspace_diagnostics=True,
    # no document: of what is open it is told unasked
    document_selector=[lsp.TextDocumentFilterScheme(scheme="setuplint")],
    identifier="setuplint-unopened",
)


def initialize(session: Session, params: lsp.InitializeParams) -> None:
    encoding = session.workspace.position_encoding
    session.files.encoding = str(getattr(encoding, "value", encoding))


def initialized(session: Session, params: lsp.InitializedParams) -> None:
    """Ask the editor to report files that change on the disk, and to ask for the diagnostics of those that are not open; where it
    does, and can be told so."""
    found = []
    can = session.client_capabilities
    if can.workspace is not None and _is_dynamic(can.workspace.did_change_watched_files):
        session.unopened.is_watched = True
        options = lsp.DidChangeWatchedFilesRegistrationOptions([lsp.FileSystemWatcher("**/*.{toml,jsonl}")])
        found.append(lsp.Registration("setuplint-files", lsp.WORKSPACE_DID_CHANGE_WATCHED_FILES, options))
    if can.text_document is not None and _is_dynamic(can.text_document.diagnostic):
        found.append(lsp.Registration("setuplint-unopened", lsp.TEXT_DOCUMENT_DIAGNOSTIC, UNOPENED))
    if found:
        session.client_register_capability(lsp.RegistrationParams(found))
    session.unopened.changed(START)


def _is_dynamic(capability: Any) -> bool:
    return bool(capability is not None and capability.dynamic_registration)


def shutdown(session: Session, params: Any = None) -> None:
    session.has_shut_down = True


def exit_process(session: Session, params: Any = None) -> None:
    if session.protocol.writer is not None:
        session.protocol.writer.flush()  # type: ignore[union-attr]
    os._exit(0 if session.has_shut_down else 1)  # without waiting for threads


def did_open(session: Session, params: lsp.DidOpenTextDocumentParams) -> None:
    item = params.text_document
    before = session.files.by_uri.get(item.uri)
    if before is not None:
        session.scheduler.closed(before)
    session.unopened.opened(item.uri)
    file = OpenFile(item.uri, item.text, item.version)
    session.files.by_uri[item.uri] = file
    _text_changed(session, file)


def did_change(session: Session, params: lsp.DidChangeTextDocumentParams) -> None:
    """Changes count in the order in which they come, whatever their version numbers."""
    file = session.files.by_uri.get(params.text_document.uri)
    if file is None:
        return
    for change in params.content_changes:
        if isinstance(change, lsp.TextDocumentContentChangePartial):
            start, end = change.range.start, change.range.end
            lines = session.files.lines_now(file)
            file.text = lines.replaced((start.line, start.character), (end.line, end.character), change.text)
        else:
            file.text = change.text
    file.version = params.text_document.version
    file.edits += 1
    _text_changed(session, file)


def did_save(session: Session, params: Any) -> None:
    """Shared files, a setuplint.toml or a club's rules may have changed on the disk."""
    session.files.expire()
    for file in session.files.by_uri.values():
        session.scheduler.changed(file)
    session.unopened.changed()


def folders_changed(session: Session, params: lsp.DidChangeWorkspaceFoldersParams) -> None:
    session.unopened.changed()


def did_close(session: Session, params: lsp.DidCloseTextDocumentParams) -> None:
    file = session.files.by_uri.pop(params.text_document.uri, None)
    if file is not None:
        session.scheduler.closed(file)
        session.publish(file, [], None)  # what was told of it is taken back
        session.unopened.changed()
        for part in session.files.by_uri.values():
            if session.files.extends(file, part):  # it rests on that, open or not
                part.expire()
                session.scheduler.changed(part)
        _judge_dependents(session, file)
        if file.is_rule:
            session.judge_by(file)


def _text_changed(session: Session, file: OpenFile) -> None:
    session.scheduler.changed(file)
    _judge_dependents(session, file)


def _judge_dependents(session: Session, file: OpenFile) -> None:
    """Judge the open files that extend a file again, or those that a setuplint.toml may choose for."""
    if file.is_config:
        session.judge_by(file)
    for other in list(session.files.by_uri.values()):
        if session.files.extends(other, file):
            other.expire()
            session.scheduler.changed(other)
