"""The server as LSP has it: what an editor asks, answered from what the other modules know. Nothing is decided here."""

from __future__ import annotations

import asyncio
import logging
import os
import re
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from typing import Any, TypeVar

from lsprotocol import types as lsp
from pygls.lsp.server import LanguageServer
from pygls.uris import from_fs_path, to_fs_path

from setuplint.findings import Finding, Place
from setuplint.formats.look import FIXED_SPACE
from setuplint.server import actions, completion, hints, hover, lenses, marks, names, symbols
from setuplint.server.analysis import Analysis, Buffers, analyse
from setuplint.server.positions import Lines
from setuplint.setup.formulas import RESERVED
from setuplint.setup.kinds import NAME
from setuplint.source import Document, Span

SEVERITY = {
    "danger": lsp.DiagnosticSeverity.Error,
    "caution": lsp.DiagnosticSeverity.Warning,
    "notice": lsp.DiagnosticSeverity.Information,
}
TRY = "setuplint.try"
Result = TypeVar("Result")


class Open:
    """A text that is open: as it stands now, and as it was judged last."""

    def __init__(self, uri: str) -> None:
        self.uri = uri
        self.analysis: Analysis | None = None
        self.whole: Analysis | None = None  # the last that could be read
        self.working: asyncio.Task[None] | None = None


class Server(LanguageServer):
    """One thread judges, the newest text of each file first; the loop goes on answering."""

    def __init__(self) -> None:
        from setuplint import __version__

        super().__init__("setuplint", __version__, text_document_sync_kind=lsp.TextDocumentSyncKind.Incremental)
        self.open: dict[str, Open] = {}
        self.worker = ThreadPoolExecutor(max_workers=1)

    # -- judging

    def changed(self, uri: str) -> None:
        """Judge the newest text of a file, once what is being judged is done."""
        known = self.open.setdefault(uri, Open(uri))
        if known.working is None or known.working.done():
            known.working = asyncio.ensure_future(self.judge(known))

    async def judge(self, known: Open) -> None:
        loop = asyncio.get_running_loop()
        while self.open.get(known.uri) is known:
            document = self.workspace.get_text_document(known.uri)
            text, version = document.source, document.version or 0
            if known.analysis is not None and (known.analysis.version, known.analysis.texts.own.text) == (
                version,
                text,
            ):
                return
            found = await loop.run_in_executor(self.worker, self.analysed, known, text, version)
            if found is None or self.open.get(known.uri) is not known:
                return
            known.analysis = found
            known.whole = found if found.whole else known.whole
            if self.workspace.get_text_document(known.uri).source == text:
                self.publish(known)

    def analysed(self, known: Open, text: str, version: int) -> Analysis | None:
        path = to_fs_path(known.uri)
        name = os.path.basename(path) if path else known.uri
        try:
            return analyse(text, name, version, self.beside(path, name), known.whole)
        except Exception as error:  # the editor goes on; what was told last stays
            logging.getLogger("setuplint").exception("judging %s failed: %s", name, error)
            return None

    def beside(self, path: str | None, name: str) -> Buffers | None:
        if not path:
            return None
        texts = {}
        for uri, document in self.workspace.text_documents.items():
            own = to_fs_path(uri)
            if own and uri in self.open:
                texts[os.path.realpath(own)] = document.source
        return Buffers(path, texts, name)

    def publish(self, known: Open) -> None:
        analysis = known.analysis
        assert analysis is not None
        found = [self.diagnostic(known, analysis, finding) for finding in analysis.findings]
        self.text_document_publish_diagnostics(
            lsp.PublishDiagnosticsParams(known.uri, [each for each in found if each], version=analysis.version)
        )

    async def judged(self, uri: str) -> Analysis | None:
        """The file as it stands now, judged."""
        self.changed(uri)
        known = self.open[uri]
        while known.working is not None and not known.working.done():
            await asyncio.shield(known.working)
        return known.analysis

    # -- places

    def lines(self, document: Document) -> Lines:
        return Lines(
            document.text, str(getattr(self.workspace.position_encoding, "value", self.workspace.position_encoding))
        )

    def range(self, document: Document, span: Span) -> lsp.Range:
        lines = self.lines(document)
        start, end = lines.at(span.start), lines.at(span.end)
        return lsp.Range(lsp.Position(*start), lsp.Position(*end))

    def offset(self, document: Document, position: lsp.Position) -> int:
        return self.lines(document).offset(position.line, position.character)

    def location(self, uri: str, analysis: Analysis, document: Document, span: Span) -> lsp.Location:
        return lsp.Location(self.uri_of(uri, analysis, document), self.range(document, span))

    def uri_of(self, uri: str, analysis: Analysis, document: Document) -> str:
        """A shared part's file lies where its name says, from the set-up's folder."""
        path = to_fs_path(uri)
        if document is analysis.texts.own or not path:
            return uri
        return from_fs_path(os.path.normpath(os.path.join(os.path.dirname(path), document.name))) or uri

    # -- diagnostics

    def diagnostic(self, known: Open, analysis: Analysis, finding: Finding) -> lsp.Diagnostic | None:
        where = analysis.report.where(finding.primary)
        own = where.document is analysis.texts.own
        span = where.span if own else analysis.texts.own.span(("extends",))
        tags = [lsp.DiagnosticTag.Unnecessary] if finding.rule == "part-unused" else None
        related = [self.related(known, analysis, place, place.caption or "see here") for place in finding.related]
        if not own:
            related.insert(0, self.related(known, analysis, finding.primary, "here, in the shared part"))
        return lsp.Diagnostic(
            self.range(analysis.texts.own, span),
            finding.message.replace(FIXED_SPACE, " "),
            SEVERITY[finding.signal],
            code=finding.rule,
            source="setuplint",
            tags=tags,
            related_information=[*related, *self.witness(known, analysis, finding)],
        )

    def related(self, known: Open, analysis: Analysis, place: Place, words: str) -> lsp.DiagnosticRelatedInformation:
        where = analysis.report.where(place)
        return lsp.DiagnosticRelatedInformation(self.location(known.uri, analysis, where.document, where.span), words)

    def witness(self, known: Open, analysis: Analysis, finding: Finding) -> list[lsp.DiagnosticRelatedInformation]:
        """The parts of the case: each control where it is declared, step by step where memory matters."""
        steps = list(finding.steps) or [finding.witness]
        told = []
        for number, step in enumerate(steps, start=1):
            for control, where in step.items():
                path = next(
                    (
                        (t, control)
                        for t in names.CONTROLS
                        if names.value(analysis.texts.values, (t, control)) is not None
                    ),
                    None,
                )
                place = finding.primary if path is None else Place(path)
                head = f"step {number}: " if len(steps) > 1 else ""
                told.append(self.related(known, analysis, place, f"{head}{control} at {where}"))
        return told


def serve() -> None:
    """Answer on standard input and output until the editor ends. Nothing is written to standard error."""
    logging.getLogger().addHandler(logging.NullHandler())
    logging.raiseExceptions = False
    make().start_io()


def make() -> Server:
    """A server with all its features."""
    server = Server()

    def feature(name: str, options: Any = None) -> Callable[[Any], Any]:
        return server.feature(name, options)

    @feature(lsp.TEXT_DOCUMENT_DID_OPEN)
    def opened(params: lsp.DidOpenTextDocumentParams) -> None:
        server.open[params.text_document.uri] = Open(params.text_document.uri)
        server.changed(params.text_document.uri)

    @feature(lsp.TEXT_DOCUMENT_DID_CHANGE)
    def changed(params: lsp.DidChangeTextDocumentParams) -> None:
        server.changed(params.text_document.uri)

    @feature(lsp.TEXT_DOCUMENT_DID_SAVE)
    def saved(params: lsp.DidSaveTextDocumentParams) -> None:
        """What is on the disk now is meant: broken or not, nothing of before is kept. Others may extend it."""
        for known in server.open.values():
            if known.uri == params.text_document.uri:
                known.whole = None
            known.analysis = None
            server.changed(known.uri)

    @feature(lsp.TEXT_DOCUMENT_DID_CLOSE)
    def closed(params: lsp.DidCloseTextDocumentParams) -> None:
        server.open.pop(params.text_document.uri, None)
        server.text_document_publish_diagnostics(lsp.PublishDiagnosticsParams(params.text_document.uri, []))

    @feature(lsp.TEXT_DOCUMENT_HOVER)
    async def hovered(params: lsp.HoverParams) -> lsp.Hover | None:
        analysis = await server.judged(params.text_document.uri)
        if analysis is None:
            return None
        own = analysis.texts.own
        found = hover.hover(analysis, own, server.offset(own, params.position))
        if found is None:
            return None
        return lsp.Hover(lsp.MarkupContent(lsp.MarkupKind.Markdown, found[0]), server.range(own, found[1]))

    @feature(lsp.TEXT_DOCUMENT_COMPLETION, lsp.CompletionOptions(trigger_characters=['"', "[", ".", " "]))
    async def completed(params: lsp.CompletionParams) -> lsp.CompletionList:
        """Of the text as it is now; names are those of the last text that could be read."""
        known = server.open.get(params.text_document.uri)
        analysis = await server.judged(params.text_document.uri)
        text = server.workspace.get_text_document(params.text_document.uri).source
        if analysis is None:
            return lsp.CompletionList(is_incomplete=False, items=[])
        texts = (known.whole or analysis).texts if known is not None else analysis.texts
        at = Lines(text, server.lines(analysis.texts.own).encoding).offset(
            params.position.line, params.position.character
        )
        items = [
            lsp.CompletionItem(each.label, detail=each.about or None, insert_text=each.text or each.label)
            for each in completion.complete(texts, text, at)
        ]
        return lsp.CompletionList(is_incomplete=False, items=items)

    @feature(lsp.TEXT_DOCUMENT_DEFINITION)
    async def defined(params: lsp.DefinitionParams) -> list[lsp.Location]:
        return await _uses(params.text_document.uri, params.position, lambda use: use.declares)

    @feature(lsp.TEXT_DOCUMENT_REFERENCES)
    async def referred(params: lsp.ReferenceParams) -> list[lsp.Location]:
        with_it = params.context.include_declaration
        return await _uses(params.text_document.uri, params.position, lambda use: with_it or not use.declares)

    async def _uses(uri: str, position: lsp.Position, wanted: Callable[[names.Use], bool]) -> list[lsp.Location]:
        analysis = await server.judged(uri)
        if analysis is None:
            return []
        own = analysis.texts.own
        here = names.at(analysis.texts, own, server.offset(own, position))
        found = names.of(analysis.texts, here.name) if here is not None else []
        return [server.location(uri, analysis, use.document, use.span) for use in found if wanted(use)]

    @feature(lsp.TEXT_DOCUMENT_PREPARE_RENAME)
    async def may_rename(params: lsp.PrepareRenameParams) -> lsp.Range | None:
        analysis = await server.judged(params.text_document.uri)
        if analysis is None:
            return None
        own = analysis.texts.own
        here = names.at(analysis.texts, own, server.offset(own, params.position))
        fixed = here is None or (here.name.kind == "stick" and here.name.word in names.STICKS)
        return None if fixed or here is None else server.range(own, here.span)

    @feature(lsp.TEXT_DOCUMENT_RENAME, lsp.RenameOptions(prepare_provider=True))
    async def renamed(params: lsp.RenameParams) -> lsp.WorkspaceEdit | None:
        """In all texts of the set-up. A name that is none, or that is taken, changes nothing."""
        uri = params.text_document.uri
        analysis = await server.judged(uri)
        if analysis is None or not re.fullmatch(NAME, params.new_name) or params.new_name in RESERVED:
            return None
        own = analysis.texts.own
        here = names.at(analysis.texts, own, server.offset(own, params.position))
        if here is None or names.of(analysis.texts, here.name._replace(word=params.new_name)):
            return None
        edits: dict[str, list[lsp.TextEdit]] = {}
        for use in names.of(analysis.texts, here.name):
            where = server.uri_of(uri, analysis, use.document)
            edits.setdefault(where, []).append(lsp.TextEdit(server.range(use.document, use.span), params.new_name))
        return lsp.WorkspaceEdit(changes=edits)

    @feature(lsp.TEXT_DOCUMENT_DOCUMENT_SYMBOL)
    async def outlined(params: lsp.DocumentSymbolParams) -> list[lsp.DocumentSymbol]:
        analysis = await server.judged(params.text_document.uri)
        own = analysis.texts.own if analysis is not None else None
        return [] if own is None else [_symbol(own, each) for each in symbols.outline(own)]

    def _symbol(own: Document, each: symbols.Symbol) -> lsp.DocumentSymbol:
        kind = lsp.SymbolKind.Namespace if each.kind == "table" else lsp.SymbolKind.Object
        inner = [_symbol(own, part) for part in each.under]
        return lsp.DocumentSymbol(
            each.name,
            kind,
            server.range(own, each.span),
            server.range(own, each.head),
            detail=each.kind,
            children=inner,
        )

    @feature(lsp.TEXT_DOCUMENT_FOLDING_RANGE)
    async def folded(params: lsp.FoldingRangeParams) -> list[lsp.FoldingRange]:
        analysis = await server.judged(params.text_document.uri)
        if analysis is None:
            return []
        own = analysis.texts.own
        ranges = {(r.start.line, r.end.line) for r in (server.range(own, span) for span in symbols.folds(own))}
        return [lsp.FoldingRange(start, end) for start, end in sorted(ranges) if end > start]

    @feature(
        lsp.TEXT_DOCUMENT_SEMANTIC_TOKENS_FULL,
        lsp.SemanticTokensLegend(token_types=list(marks.TYPES), token_modifiers=[]),
    )
    async def marked(params: lsp.SemanticTokensParams) -> lsp.SemanticTokens:
        analysis = await server.judged(params.text_document.uri)
        if analysis is None:
            return lsp.SemanticTokens(data=[])
        own = analysis.texts.own
        return lsp.SemanticTokens(data=marks.marks(analysis.texts, own, server.lines(own)))

    @feature(lsp.TEXT_DOCUMENT_INLAY_HINT)
    async def hinted(params: lsp.InlayHintParams) -> list[lsp.InlayHint]:
        analysis = await server.judged(params.text_document.uri)
        if analysis is None:
            return []
        own = analysis.texts.own
        lines = server.lines(own)
        first = lines.offset(params.range.start.line, params.range.start.character)
        last = lines.offset(params.range.end.line, params.range.end.character)
        return [
            lsp.InlayHint(lsp.Position(*lines.at(each.offset)), each.text.replace(FIXED_SPACE, " "), padding_left=True)
            for each in hints.hints(analysis, own)
            if first <= each.offset <= last
        ]

    @feature(
        lsp.TEXT_DOCUMENT_CODE_ACTION,
        lsp.CodeActionOptions(code_action_kinds=[lsp.CodeActionKind.QuickFix, lsp.CodeActionKind.Refactor]),
    )
    async def offered(params: lsp.CodeActionParams) -> list[lsp.CodeAction]:
        uri = params.text_document.uri
        analysis = await server.judged(uri)
        if analysis is None:
            return []
        own = analysis.texts.own
        span = Span(server.offset(own, params.range.start), server.offset(own, params.range.end))
        return [_action(uri, analysis, each) for each in actions.actions(analysis, own, span)]

    def _action(uri: str, analysis: Analysis, each: actions.Action) -> lsp.CodeAction:
        edits: dict[str, list[lsp.TextEdit]] = {}
        for change in each.changes:
            where = server.uri_of(uri, analysis, change.document)
            edits.setdefault(where, []).append(lsp.TextEdit(server.range(change.document, change.span), change.text))
        answers = None
        if each.finding is not None:
            found = server.diagnostic(server.open[uri], analysis, each.finding)
            answers = [found] if found is not None else None
        kind = lsp.CodeActionKind.Refactor if each.finding is None else lsp.CodeActionKind.QuickFix
        return lsp.CodeAction(
            each.title, kind, answers, is_preferred=each.preferred or None, edit=lsp.WorkspaceEdit(changes=edits)
        )

    @feature(lsp.TEXT_DOCUMENT_CODE_LENS)
    async def lensed(params: lsp.CodeLensParams) -> list[lsp.CodeLens]:
        uri = params.text_document.uri
        analysis = await server.judged(uri)
        if analysis is None:
            return []
        own = analysis.texts.own
        return [
            lsp.CodeLens(
                server.range(own, each.span),
                lsp.Command(
                    f"try {each.kind} {each.name} here",
                    TRY,
                    arguments=[{"uri": uri, "kind": each.kind, "name": each.name}],
                ),
            )
            for each in lenses.lenses(analysis)
        ]

    @server.command(TRY)
    async def tried(arguments: Any) -> dict[str, Any]:
        """`{uri, kind, name, moves}`: what the channels put out in that state, with some controls moved from there."""
        asked: Mapping[str, Any] = arguments if isinstance(arguments, Mapping) else dict(vars(arguments))
        uri = str(asked.get("uri", ""))
        analysis = await server.judged(uri) if uri in server.open else None
        if analysis is None:
            return {"error": f"{uri} is not open"}
        moves = asked.get("moves")
        moved = moves if isinstance(moves, Mapping) or moves is None else dict(vars(moves))
        found = lenses.tried(analysis, str(asked.get("kind")), str(asked.get("name")), moved)
        if not asked.get("quietly"):
            server.window_show_message(lsp.ShowMessageParams(lsp.MessageType.Info, lenses.told(found)))
        return found

    return server
