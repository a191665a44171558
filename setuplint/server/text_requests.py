"""Requests about a whole text: its outline, folds, semantic tokens and inlay hints."""

from __future__ import annotations

from collections.abc import Iterator

from lsprotocol import types as lsp

from setuplint.formats.terminal import FIXED_SPACE
from setuplint.server.diagnostics import Diagnostics
from setuplint.server.inlay_hints import Hint, inlay_hints
from setuplint.server.outline import Symbol, folds, outline
from setuplint.server.parsed import ParsedText
from setuplint.server.semantic_tokens import encoded_tokens
from setuplint.server.session import Session
from setuplint.server.snapshot import Snapshot

SYMBOL_KINDS = {
    "table": lsp.SymbolKind.Namespace,
    "switch": lsp.SymbolKind.Enum,
    "condition": lsp.SymbolKind.Boolean,
    "mode": lsp.SymbolKind.Class,
    "curve": lsp.SymbolKind.Array,
    "channel": lsp.SymbolKind.Interface,
    "override": lsp.SymbolKind.Method,
    "alarm": lsp.SymbolKind.Event,
}


async def document_symbols(
    session: Session, params: lsp.DocumentSymbolParams
) -> list[lsp.DocumentSymbol] | list[lsp.SymbolInformation]:
    snapshot = await session.requests.setup(params.text_document.uri)
    if snapshot is None:
        return []
    found: list[lsp.DocumentSymbol] | list[lsp.SymbolInformation]
    found = await session.requests.result(_tree if session.shows_symbol_trees else _list, snapshot)
    return found


def _tree(snapshot: Snapshot) -> list[lsp.DocumentSymbol]:
    return [_document_symbol(snapshot, each) for each in snapshot.parsed.kept(_outline)]


def _list(snapshot: Snapshot) -> list[lsp.SymbolInformation]:
    return [flat for each in snapshot.parsed.kept(_outline) for flat in _flat_symbols(snapshot, each)]


def _outline(parsed: ParsedText) -> list[Symbol]:
    return outline(parsed.own)


def _folded_lines(snapshot: Snapshot) -> list[tuple[int, int]]:
    """The first and last line of each, counted from 0."""
    line = snapshot.lines.line
    spans = folds(snapshot.parsed.own, snapshot.parsed.kept(_outline))
    return sorted({lines for lines in ((line(start), line(end)) for start, end in spans) if lines[0] < lines[1]})


def _hints(parsed: ParsedText) -> list[Hint]:
    return list(inlay_hints(parsed))


def _flat_symbols(snapshot: Snapshot, symbol: Symbol, of: str = "") -> Iterator[lsp.SymbolInformation]:
    """For editors that show no trees."""
    place = lsp.Location(snapshot.file.uri, snapshot.range(symbol.span))
    yield lsp.SymbolInformation(place, symbol.name, symbol_kind(symbol), container_name=of or None)
    for child in symbol.children:
        yield from _flat_symbols(snapshot, child, symbol.name)


def symbol_kind(symbol: Symbol) -> lsp.SymbolKind:
    return SYMBOL_KINDS.get(symbol.kind, lsp.SymbolKind.Object)


def _document_symbol(snapshot: Snapshot, symbol: Symbol) -> lsp.DocumentSymbol:
    return lsp.DocumentSymbol(
        symbol.name,
        symbol_kind(symbol),
        snapshot.range(symbol.span),
        snapshot.range(symbol.heading),
        detail=symbol.detail or None,
        children=[_document_symbol(snapshot, child) for child in symbol.children],
    )


async def folding_ranges(session: Session, params: lsp.FoldingRangeParams) -> list[lsp.FoldingRange]:
    snapshot = await session.requests.setup(params.text_document.uri)
    if snapshot is None:
        return []
    return [lsp.FoldingRange(*lines) for lines in await session.requests.result(_folded_lines, snapshot)]


async def tokens(
    session: Session, params: lsp.SemanticTokensParams | lsp.SemanticTokensRangeParams
) -> lsp.SemanticTokens:
    """All of them, or those of a range."""
    snapshot = await session.requests.setup(params.text_document.uri)
    if snapshot is None:
        return lsp.SemanticTokens(data=[])
    ends = snapshot.span(params.range) if isinstance(params, lsp.SemanticTokensRangeParams) else ()
    return lsp.SemanticTokens(await session.requests.result(encoded_tokens, snapshot.parsed, snapshot.lines, *ends))


async def hints_in_range(session: Session, params: lsp.InlayHintParams) -> list[lsp.InlayHint]:
    worker = session.requests
    snapshot = await worker.setup(params.text_document.uri)
    if snapshot is None:
        return []
    span = snapshot.span(params.range)
    found = await worker.result(snapshot.parsed.kept, _hints)
    return [_inlay_hint(snapshot, hint) for hint in found if span.start <= hint.offset <= span.end]


def _inlay_hint(snapshot: Snapshot, hint: Hint) -> lsp.InlayHint:
    position = lsp.Position(*snapshot.lines.position(hint.offset))
    label = hint.label.replace(FIXED_SPACE, " ")
    return lsp.InlayHint(position, label, tooltip=hint.tooltip or None, padding_left=True)


async def document_diagnostics(
    session: Session, params: lsp.DocumentDiagnosticParams
) -> lsp.RelatedFullDocumentDiagnosticReport:
    """What is told of an open file unasked, too."""
    file = session.files.by_uri.get(params.text_document.uri)
    analysis = await session.scheduler.newest_analysis(file) if file is not None else None
    if file is None or analysis is None:
        return lsp.RelatedFullDocumentDiagnosticReport([])
    found = Diagnostics(session.files, file, analysis, related=session.shows_related).diagnostics()
    return lsp.RelatedFullDocumentDiagnosticReport(found)


async def workspace_diagnostics(
    session: Session, params: lsp.WorkspaceDiagnosticParams
) -> lsp.WorkspaceDiagnosticReport:
    return await session.unopened.pull(params)
