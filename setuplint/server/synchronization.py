"""What an editor says about its files: opened, changed, saved, closed, changed on the disk; the start and the end."""

from __future__ import annotations

import os
from typing import Any

from lsprotocol import types as lsp

from setuplint.server.open_files import OpenFile
from setuplint.server.positions import Lines
from setuplint.server.session import Session


def initialize(session: Session, params: lsp.InitializeParams) -> None:
    encoding = session.workspace.position_encoding
    session.files.encoding = str(getattr(encoding, "value", encoding))


def initialized(session: Session, params: lsp.InitializedParams) -> None:
    """Ask the editor to report files that change on the disk, if it can."""
    workspace = session.client_capabilities.workspace
    watched = workspace.did_change_watched_files if workspace is not None else None
    if watched is None or not watched.dynamic_registration:
        return
    options = lsp.DidChangeWatchedFilesRegistrationOptions([lsp.FileSystemWatcher("**/*.{toml,jsonl}")])
    registration = lsp.Registration("setuplint-files", lsp.WORKSPACE_DID_CHANGE_WATCHED_FILES, options)
    session.client_register_capability(lsp.RegistrationParams([registration]))


def shutdown(session: Session, params: Any = None) -> None:
    session.has_shut_down = True


def exit_process(session: Session, params: Any = None) -> None:
    os._exit(0 if session.has_shut_down else 1)  # without waiting for threads


def did_open(session: Session, params: lsp.DidOpenTextDocumentParams) -> None:
    item = params.text_document
    before = session.files.by_uri.get(item.uri)
    if before is not None:
        session.scheduler.closed(before)
    session.files.users.pop(item.uri, None)
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
            lines = Lines(file.text, session.files.encoding)
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


def did_close(session: Session, params: lsp.DidCloseTextDocumentParams) -> None:
    file = session.files.by_uri.pop(params.text_document.uri, None)
    if file is not None:
        session.scheduler.closed(file)
        session.take_back(file)
        session.users.closed(file)
        for part in session.files.by_uri.values():
            if session.files.extends(file, part):  # it rests on that, open or not
                part.expire()
                session.scheduler.changed(part)
        _judge_dependents(session, file)


def _text_changed(session: Session, file: OpenFile) -> None:
    session.scheduler.changed(file)
    _judge_dependents(session, file)


def _judge_dependents(session: Session, file: OpenFile) -> None:
    """Judge the open files that extend a file again, or those that a setuplint.toml may choose for."""
    if file.is_config:
        session.files.config_changed()
    for other in list(session.files.by_uri.values()):
        if session.files.extends(other, file) or (file.is_config and other.is_below(file)):
            other.expire()
            session.scheduler.changed(other)
