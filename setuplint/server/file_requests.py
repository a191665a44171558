"""Requests about files: links to those that a text names, their move, and the parts of all setups of the workspace."""

from __future__ import annotations

import os
from collections.abc import Iterator

from lsprotocol import types as lsp

from setuplint.server.file_links import linked_files, moved_names
from setuplint.server.open_files import OpenFiles, file_path
from setuplint.server.outline import outline
from setuplint.server.positions import Lines
from setuplint.server.session import Session
from setuplint.server.snapshot import Snapshot
from setuplint.server.text_requests import symbol_kind
from setuplint.server.toml_walk import toml_files
from setuplint.setup.file_sources import LARGEST, file_content
from setuplint.setup.setup_texts import holds_setup, may_be_setup
from setuplint.source import Span, parsed_document

MOST_SYMBOLS = 500  # told for one question
RENAMED = lsp.FileOperationRegistrationOptions(
    [lsp.FileOperationFilter(lsp.FileOperationPattern("**/*.toml", lsp.FileOperationPatternKind.File), scheme="file")]
)


async def document_links(session: Session, params: lsp.DocumentLinkParams) -> list[lsp.DocumentLink]:
    """Links to single files: an editor opens no folder."""
    snapshot = await session.requests.snapshot(params.text_document.uri)
    if snapshot is None:
        return []
    found = await session.requests.result(_links, snapshot)
    return [
        lsp.DocumentLink(snapshot.range(span), target=session.files.uri_of(files[0]))
        for span, files in found
        if len(files) == 1
    ]


async def files_at(session: Session, snapshot: Snapshot, position: lsp.Position) -> list[lsp.Location]:
    """The beginnings of the files that the name at a place stands for."""
    offset, start = snapshot.offset(position), lsp.Range(lsp.Position(0, 0), lsp.Position(0, 0))
    for span, files in await session.requests.result(_links, snapshot):
        if span.start <= offset <= span.end:
            return [lsp.Location(session.files.uri_of(each), start) for each in files]
    return []


def _links(snapshot: Snapshot) -> list[tuple[Span, list[str]]]:
    path, is_config = snapshot.file.path, snapshot.file.is_config
    if path is None or not (is_config or snapshot.is_setup):
        return []
    return list(linked_files(snapshot.parsed.own, path, is_config=is_config))


async def will_rename_files(session: Session, params: lsp.RenameFilesParams) -> lsp.WorkspaceEdit | None:
    """What setups say of a file that moves, and it of others."""
    edits = await session.edit_requests.result(_move_edits, session.files, params.files)
    return lsp.WorkspaceEdit(changes=edits) if edits else None


def _move_edits(files: OpenFiles, moves: list[lsp.FileRename]) -> dict[str, list[lsp.TextEdit]]:
    paths = ((file_path(move.old_uri), file_path(move.new_uri)) for move in moves)
    names = moved_names({old: new for old, new in paths if old and new}, files.texts())
    return {
        files.uri_of(path): [lsp.TextEdit(Lines(text, files.encoding).range(span), name)]
        for path, text, span, name in names
    }


async def workspace_symbols(session: Session, params: lsp.WorkspaceSymbolParams) -> list[lsp.SymbolInformation]:
    """The parts whose names have the letters of a query, in the setups of the workspace and in those that are open."""
    return await session.requests.result(_symbols, session, params.query.lower())


def _symbols(session: Session, query: str) -> list[lsp.SymbolInformation]:
    texts = session.files.texts()
    paths = [path for root in session.unopened.roots() for path in toml_files(os.path.join(root, ""))]
    found: list[lsp.SymbolInformation] = []
    for path in dict.fromkeys((*texts, *paths)):
        for symbol, kind, place in _outline_of(session, path, texts.get(path)):
            if query in symbol.lower():
                container = os.path.basename(path)
                where = lsp.Location(session.files.uri_of(path), place)
                found.append(lsp.SymbolInformation(where, symbol, kind, container_name=container))
                if len(found) == MOST_SYMBOLS:
                    return found
    return found


Entry = tuple[str, lsp.SymbolKind, lsp.Range]


def _outline_of(session: Session, path: str, text: str | None) -> list[Entry]:
    """The parts of a file, kept until it changes."""
    try:
        status = os.stat(path) if text is None else None
        stamp = hash(text) if status is None else hash((status.st_mtime_ns, status.st_size))
        kept = session.outlines.get(path)
        if kept is None or kept[0] != stamp:
            data = (file_content(path, LARGEST) or b"") if text is None else text.encode(errors="replace")
            kept = session.outlines[path] = stamp, list(_entries(data, session.files.encoding))
        return kept[1]
    except OSError:
        return []


def _entries(data: bytes, encoding: str) -> Iterator[Entry]:
    if not may_be_setup(data):
        return
    document = parsed_document(data)
    if holds_setup(document):
        lines = Lines(document.text, encoding)
        for top in outline(document):
            for each in top.children or (top,):
                yield each.name, symbol_kind(each), lines.range(each.heading)
