"""Requests about a name: where it is declared and used, and its rename."""

from __future__ import annotations

from lsprotocol import types as lsp
from pygls.exceptions import JsonRpcInvalidParams

from setuplint.server.file_requests import files_at
from setuplint.server.occurrences import RULE, TABLE_OF_KIND, Name, Occurrence
from setuplint.server.parsed import ParsedText
from setuplint.server.rename import RenameError, check_renamable, rename_replacements
from setuplint.server.session import Session
from setuplint.server.snapshot import RequestWorker, Snapshot
from setuplint.source import Span

SHARED_KINDS = ("stick", "knob", "switch", "sensor", "mode", "position")


async def definitions(session: Session, params: lsp.DefinitionParams) -> list[lsp.Location]:
    asked = await session.requests.snapshot(params.text_document.uri)
    files = await files_at(session, asked, params.position) if asked is not None else []
    snapshot, here = await _occurrence(session.requests, params.text_document, params.position)
    if files or snapshot is None or here is None:
        return files
    names = [here.name]
    if here.name.kind == "position":
        names.append(Name("switch", here.name.of))  # the usual positions of its kind are declared nowhere else
    for name in names:
        found = _locations(snapshot, [snapshot.parsed], name, declarations=True, uses=False)
        if found:
            return found
    return []


async def references(session: Session, params: lsp.ReferenceParams) -> list[lsp.Location]:
    snapshot, here = await _occurrence(session.requests, params.text_document, params.position)
    if snapshot is None or here is None:
        return []
    texts = await session.requests.result(_texts_with, snapshot, here.name)
    return _locations(snapshot, texts, here.name, declarations=params.context.include_declaration)


async def highlights(session: Session, params: lsp.DocumentHighlightParams) -> list[lsp.DocumentHighlight]:
    snapshot, here = await _occurrence(session.requests, params.text_document, params.position)
    if snapshot is None or here is None:
        return []
    return [
        lsp.DocumentHighlight(
            snapshot.range(each.span),
            lsp.DocumentHighlightKind.Write if each.declares else lsp.DocumentHighlightKind.Read,
        )
        for each in snapshot.parsed.occurrences
        if each.name == here.name and each.document is snapshot.parsed.own
    ]


async def rename_placeholder(session: Session, params: lsp.PrepareRenameParams) -> lsp.PrepareRenamePlaceholder | None:
    snapshot, here = await _occurrence(session.edit_requests, params.text_document, params.position)
    if snapshot is None or here is None:
        return None
    try:
        check_renamable(snapshot.parsed, here.name)
    except RenameError as error:
        raise JsonRpcInvalidParams(message=str(error)) from None
    return lsp.PrepareRenamePlaceholder(snapshot.range(here.span), here.name.word)


async def rename_edit(session: Session, params: lsp.RenameParams) -> lsp.WorkspaceEdit | None:
    worker = session.edit_requests
    snapshot, here = await _occurrence(worker, params.text_document, params.position)
    if snapshot is None or here is None:
        return None
    texts = await worker.result(_texts_with, snapshot, here.name)
    try:
        replacements = await worker.result(rename_replacements, texts, here.name, params.new_name)
    except RenameError as error:
        raise JsonRpcInvalidParams(message=str(error)) from None
    edits: dict[str, list[lsp.TextEdit]] = {}
    for document, span, text in replacements:
        parsed = next(each for each in texts if any(one is document for one in each.texts))
        location = snapshot.location(parsed, document, span)
        edits.setdefault(location.uri, []).append(lsp.TextEdit(location.range, text))
    return lsp.WorkspaceEdit(changes=edits)


async def _occurrence(
    worker: RequestWorker, document: lsp.TextDocumentIdentifier, position: lsp.Position
) -> tuple[Snapshot | None, Occurrence | None]:
    """The setup and the name in it that a request is about."""
    snapshot = await worker.setup(document.uri)
    return snapshot, snapshot.occurrence_at(position) if snapshot is not None else None


def _locations(
    snapshot: Snapshot, texts: list[ParsedText], name: Name, *, declarations: bool, uses: bool = True
) -> list[lsp.Location]:
    """Where a name is in some texts; places in a document that several of them share count once."""
    found: dict[tuple[str, Span], lsp.Location] = {}
    for parsed in texts:
        for each in parsed.occurrences:
            key = (each.document.name, each.span)
            if each.name == name and (declarations if each.declares else uses) and key not in found:
                found[key] = snapshot.location(parsed, each.document, each.span)
    return list(found.values())


def _texts_with(snapshot: Snapshot, name: Name) -> list[ParsedText]:
    """The texts in which a name may be: where it is in a shared file, those of all setups that extend it too."""
    shared_file = _shared_file(snapshot, name) if name.kind != RULE else None
    return [snapshot.parsed] if shared_file is None else snapshot.files.all_with(snapshot.file, shared_file)


def _shared_file(snapshot: Snapshot, name: Name) -> str | None:
    """The path of the shared file that declares a name; of the file itself where others extend it."""
    parsed, path = snapshot.parsed, snapshot.file.path
    key = ("switches", name.of) if name.kind == "position" else (TABLE_OF_KIND[name.kind], name.word)
    document = parsed.texts.holder(key)
    if path is None:
        return None
    if document is not parsed.own:
        return snapshot.files.path_of(snapshot.file, document)
    is_extended = parsed.folder is not None and parsed.folder.is_extended()
    return path if name.kind in SHARED_KINDS and is_extended else None
