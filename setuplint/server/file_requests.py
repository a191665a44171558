"""Requests about files: links to those that a text names, their move, and the parts of all setups of the workspace."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping

from lsprotocol import types as lsp

from setuplint.server.open_files import OpenFiles, file_path
from setuplint.server.outline import outline
from setuplint.server.positions import Lines
from setuplint.server.session import Session
from setuplint.server.snapshot import Snapshot
from setuplint.server.text_requests import symbol_kind
from setuplint.server.toml_walk import toml_files
from setuplint.setup.file_sources import (
    LARGEST,
    Refused,
    extending_pairs,
    file_content,
    name_from,
    relative_path,
    repository_root,
)
from setuplint.setup.problems import value_at
from setuplint.setup.setup_texts import holds_setup, may_be_setup
from setuplint.source import Document, Path, Span, parsed_document

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


EXTENDS: Path = ("extends",)


def inside_quotes(document: Document, path: Path) -> Span | None:
    """The place of a string without its quotes; None where there is none on one line."""
    span = document.value_span(path)
    if span is None or not isinstance(value_at(document.values, path), str) or span.end - span.start < 2:
        return None
    return Span(span.start + 1, span.end - 1)


def extended_file(document: Document, path: str) -> str | None:
    """The path of the file that the text at a path extends, if that is one that may be read; it need not be there."""
    try:
        named = relative_path(document.values.get("extends"), "")
    except Refused:
        return None
    real = os.path.realpath(os.path.join(os.path.dirname(os.path.abspath(path)), named))
    return real if real.startswith(repository_root(os.path.dirname(path)).rstrip(os.sep) + os.sep) else None


def linked_files(document: Document, path: str, *, is_config: bool) -> Iterator[tuple[Span, list[str]]]:
    """The names of files in a text at a path, each with the files that it stands for: one, or those of a folder of rules."""
    if not is_config:
        span, found = inside_quotes(document, EXTENDS), extended_file(document, path)
        if span is not None and found is not None and os.path.isfile(found):
            yield span, [found]
        return
    from setuplint.club import config, nearest

    allowed = set(config.rule_folders(document, nearest.given_config(path)))
    names = document.values.get("rules")
    for number, name in enumerate(names if isinstance(names, list) else ()):
        span = inside_quotes(document, ("rules", number))
        folder = os.path.realpath(os.path.join(os.path.dirname(path), name)) if isinstance(name, str) else ""
        if span is not None and folder in allowed:
            files = sorted(each for each in os.listdir(folder) if each.endswith(".toml"))
            yield span, [os.path.join(folder, each) for each in files]


def moved_names(moves: Mapping[str, str], texts: Mapping[str, str]) -> Iterator[tuple[str, str, Span, str]]:
    """What has to be written where files move, given by their old paths: each time the path of a file, its text, a place in it
    and the new name. `texts` are those that are open, by real path; a name that could not be read afterwards is left."""
    new = {os.path.realpath(old): os.path.abspath(to) for old, to in moves.items()}
    roots = {repository_root(os.path.dirname(old)) for old in new}
    for path, other in {pair for root in roots for pair in extending_pairs(root)}:
        to, folder = new.get(other, other), os.path.dirname(new.get(path, path))
        if (to, folder) != (other, os.path.dirname(path)):
            yield from _renamed(path, texts, to, folder)


def _renamed(path: str, texts: Mapping[str, str], to: str, folder: str) -> Iterator[tuple[str, str, Span, str]]:
    try:
        text = texts[path] if path in texts else (file_content(path, LARGEST) or b"").decode("utf-8-sig")
        name = name_from(folder, to)
        relative_path(name, "")
    except (OSError, ValueError, Refused):
        return
    document = parsed_document(text)
    span = inside_quotes(document, EXTENDS)
    if span is None or document.text[span.start : span.end] == name:
        return
    if '"' not in name and "'" not in name and "\\" not in name:
        yield path, text, span, name
