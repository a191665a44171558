"""Requests about a whole text: its outline, folds, semantic tokens and inlay hints."""

from __future__ import annotations

from collections.abc import Iterator

from lsprotocol import types as lsp

from setuplint.formats.terminal import FIXED_SPACE
from setuplint.server.inlay_hints import Hint, inlay_hints
from setuplint.server.outline import Symbol, folds, outline
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
    found = outline(snapshot.parsed.own)
    if session.shows_symbol_trees:
        return [_document_symbol(snapshot, each) for each in found]
    return [flat for each in found for flat in _flat_symbols(snapshot, each)]


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
    found = {(each.start.line, each.end.line) for each in map(snapshot.range, folds(snapshot.parsed.own))}
    return [lsp.FoldingRange(start, end) for start, end in sorted(found) if end > start]


async def all_tokens(session: Session, params: lsp.SemanticTokensParams) -> lsp.SemanticTokens:
    worker = session.requests
    snapshot = await worker.setup(params.text_document.uri)
    if snapshot is None:
        return lsp.SemanticTokens(data=[])
    return lsp.SemanticTokens(data=await worker.result(encoded_tokens, snapshot.parsed, snapshot.lines))


async def tokens_in_range(session: Session, params: lsp.SemanticTokensRangeParams) -> lsp.SemanticTokens:
    worker = session.requests
    snapshot = await worker.setup(params.text_document.uri)
    if snapshot is None:
        return lsp.SemanticTokens(data=[])
    span = snapshot.span(params.range)
    data = await worker.result(encoded_tokens, snapshot.parsed, snapshot.lines, span.start, span.end)
    return lsp.SemanticTokens(data=data)


async def hints_in_range(session: Session, params: lsp.InlayHintParams) -> list[lsp.InlayHint]:
    worker = session.requests
    snapshot = await worker.setup(params.text_document.uri)
    if snapshot is None:
        return []
    span = snapshot.span(params.range)
    found: list[Hint] = await worker.result(list, inlay_hints(snapshot.parsed))
    return [_inlay_hint(snapshot, hint) for hint in found if span.start <= hint.offset <= span.end]


def _inlay_hint(snapshot: Snapshot, hint: Hint) -> lsp.InlayHint:
    position = lsp.Position(*snapshot.lines.position(hint.offset))
    label = hint.label.replace(FIXED_SPACE, " ")
    return lsp.InlayHint(position, label, tooltip=hint.tooltip or None, padding_left=True)
