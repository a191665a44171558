"""What an editor asks about a place or a text, and the answers in LSP's terms. Each handler reads the newest text first."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING, TypeVar

from lsprotocol import types as lsp
from pygls.exceptions import JsonRpcInvalidParams

from setuplint.findings import Report
from setuplint.formats.look import FIXED_SPACE
from setuplint.server import actions, completion, hints, hover, marks, rename, symbols
from setuplint.server.analysis import Analysis, Reading, judge
from setuplint.server.files import File, Files
from setuplint.server.names import PLURALS, RULE, Name, Use
from setuplint.server.positions import Lines
from setuplint.server.shown import Shown
from setuplint.source import Document, Span

if TYPE_CHECKING:
    from setuplint.server.wire import Server

Result = TypeVar("Result")
CHOICE_KINDS = {
    "key": lsp.CompletionItemKind.Property,
    "table": lsp.CompletionItemKind.Module,
    "word": lsp.CompletionItemKind.EnumMember,
    "position": lsp.CompletionItemKind.EnumMember,
    "keyword": lsp.CompletionItemKind.Keyword,
    "operator": lsp.CompletionItemKind.Operator,
    "predicate": lsp.CompletionItemKind.Function,
    "example": lsp.CompletionItemKind.Value,
    "rule": lsp.CompletionItemKind.Reference,
}
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


class Asked:
    """A file that is asked about, as it stands."""

    def __init__(self, files: Files, file: File, reading: Reading) -> None:
        self.files, self.file, self.reading = files, file, reading
        self.lines = files.lines(file, reading, reading.own)

    def offset(self, position: lsp.Position) -> int:
        return self.lines.offset(position.line, position.character)

    def range(self, span: Span) -> lsp.Range:
        return lsp.Range(lsp.Position(*self.lines.at(span.start)), lsp.Position(*self.lines.at(span.end)))

    def span(self, range: lsp.Range) -> Span:
        start, end = self.offset(range.start), self.offset(range.end)
        return Span(min(start, end), max(start, end))


class Asking:
    """Where requests are worked on: not by the thread that judges."""

    def __init__(self, server: Server) -> None:
        self.server = server
        self.thread = ThreadPoolExecutor(max_workers=1)

    async def file(self, uri: str) -> Asked | None:
        """A set-up that is open; None for any other text, of which nothing is told."""
        files = self.server.files
        file = files.open.get(uri)
        if file is None:
            return None
        reading = await self.work(files.reading, file)
        return Asked(files, file, reading) if reading.is_setup else None

    async def work(self, call: Callable[..., Result], *given: object) -> Result:
        return await asyncio.get_running_loop().run_in_executor(self.thread, call, *given)


def lines_of(file: File, encoding: str) -> Lines:
    return Lines(file.text, encoding)


def watch(server: Server) -> None:
    """Ask the editor to tell of files that change on the disk, if it can be asked."""
    workspace = server.client_capabilities.workspace
    watched = workspace.did_change_watched_files if workspace is not None else None
    if watched is None or not watched.dynamic_registration:
        return
    options = lsp.DidChangeWatchedFilesRegistrationOptions([lsp.FileSystemWatcher("**/*.toml")])
    registration = lsp.Registration("setuplint-files", lsp.WORKSPACE_DID_CHANGE_WATCHED_FILES, options)
    server.client_register_capability(lsp.RegistrationParams([registration]))


def register(server: Server) -> None:
    asking = Asking(server)
    _places(server, asking)
    _text(server, asking)
    _changes(server, asking)


def _places(server: Server, asking: Asking) -> None:
    @server.feature(lsp.TEXT_DOCUMENT_HOVER)
    async def hovered(params: lsp.HoverParams) -> lsp.Hover | None:
        asked = await asking.file(params.text_document.uri)
        if asked is None:
            return None
        offset = asked.offset(params.position)
        analysis = asked.file.analysis
        here = []
        if analysis is not None and analysis.reading is asked.reading:
            here = [f for f in analysis.findings if actions.touches(analysis, f.primary, Span(offset, offset))]
        found = await asking.work(hover.hover, asked.reading, here, offset)
        if found is None:
            return None
        return lsp.Hover(lsp.MarkupContent(lsp.MarkupKind.Markdown, found[0]), asked.range(found[1]))

    @server.feature(
        lsp.TEXT_DOCUMENT_COMPLETION, lsp.CompletionOptions(trigger_characters=['"', "[", ".", " ", "{", ","])
    )
    async def completed(params: lsp.CompletionParams) -> lsp.CompletionList | None:
        """Of the text as it is; the names are those that can be read in it, and of the last whole text those that cannot."""
        file = server.files.open.get(params.text_document.uri)
        if file is None:
            return None
        reading = await asking.work(server.files.reading, file)
        asked = Asked(server.files, file, reading)
        whole = file.analysis.last_whole if file.analysis is not None else None
        values = known(reading, whole.reading if whole is not None else None)
        text = reading.text[asked.lines.mark :]
        found = await asking.work(completion.complete, values, text, asked.offset(params.position))
        place = asked.range(found.replaces)
        items = [_item(choice, place, number) for number, choice in enumerate(found.found)]
        return lsp.CompletionList(is_incomplete=False, items=items)

    @server.feature(lsp.TEXT_DOCUMENT_DEFINITION)
    async def defined(params: lsp.DefinitionParams) -> list[lsp.Location]:
        return await _uses(params.text_document.uri, params.position, True, lambda use: use.declares)

    @server.feature(lsp.TEXT_DOCUMENT_REFERENCES)
    async def referred(params: lsp.ReferenceParams) -> list[lsp.Location]:
        with_it = params.context.include_declaration
        return await _uses(params.text_document.uri, params.position, False, lambda use: with_it or not use.declares)

    async def _uses(uri: str, at: lsp.Position, near: bool, wanted: Callable[[Use], bool]) -> list[lsp.Location]:
        asked = await asking.file(uri)
        use = asked.reading.name_at(asked.offset(at)) if asked is not None else None
        if asked is None or use is None:
            return []
        readings = await asking.work(everywhere, asked, use.name, near)
        found: dict[tuple[str, Span], lsp.Location] = {}
        for reading in readings:
            for each in reading.uses:
                if each.name == use.name and wanted(each):
                    found.setdefault(
                        (each.document.name, each.span), _location(asked, reading, each.document, each.span)
                    )
        if near and use.name.kind == "position" and not found:  # the usual positions of its kind stand nowhere
            return await _declared(asked, readings, Name("switch", use.name.of))
        return list(found.values())

    async def _declared(asked: Asked, readings: list[Reading], name: Name) -> list[lsp.Location]:
        return [
            _location(asked, reading, use.document, use.span)
            for reading in readings
            for use in reading.uses
            if use.name == name and use.declares
        ]

    @server.feature(lsp.TEXT_DOCUMENT_DOCUMENT_HIGHLIGHT)
    async def highlighted(params: lsp.DocumentHighlightParams) -> list[lsp.DocumentHighlight]:
        asked = await asking.file(params.text_document.uri)
        use = asked.reading.name_at(asked.offset(params.position)) if asked is not None else None
        if asked is None or use is None:
            return []
        own = asked.reading.own
        return [
            lsp.DocumentHighlight(
                asked.range(each.span),
                lsp.DocumentHighlightKind.Write if each.declares else lsp.DocumentHighlightKind.Read,
            )
            for each in asked.reading.uses
            if each.name == use.name and each.document is own
        ]


def known(reading: Reading, whole: Reading | None) -> dict[str, object]:
    """The values of a text, with the named parts of the last whole one that are not in it now."""
    values = dict(reading.texts.values)
    if whole is None or reading.whole:
        return values
    for table in PLURALS.values():
        before, now = whole.texts.values.get(table), values.get(table)
        if isinstance(before, dict):
            values[table] = {**before, **now} if isinstance(now, dict) else before
    return values


def everywhere(asked: Asked, name: Name, near: bool = False) -> list[Reading]:
    """The readings in which a name may stand: where it is in a shared part, those of all that extend it too."""
    reading = asked.reading
    if name.kind == RULE or near:
        return [reading]
    part = _part(asked, name)
    return asked.files.together(asked.file, part) if part is not None else [reading]


def _part(asked: Asked, name: Name) -> str | None:
    """The path of the shared part that declares a name; of the file itself, where others extend it."""
    reading, path = asked.reading, asked.file.path
    table = "switches" if name.kind == "position" else PLURALS[name.kind]
    word = name.of if name.kind == "position" else name.word
    holder = reading.texts.holder((table, word))
    if path is None:
        return None
    if holder is not reading.own:
        return asked.files.path_of(asked.file, holder)
    shared = name.kind in ("stick", "knob", "switch", "sensor", "mode", "position")
    return path if shared and reading.beside is not None and reading.beside.is_extended() else None


def _location(asked: Asked, reading: Reading, document: Document, span: Span) -> lsp.Location:
    """A place in any text of any reading."""
    files = asked.files
    if reading is asked.reading and document is reading.own:
        return lsp.Location(asked.file.uri, asked.range(span))
    path = files.path_of(asked.file, document)
    text = reading.text if document is reading.own else document.text
    lines = Lines(text, files.encoding)
    return lsp.Location(
        files.uri_of(path), lsp.Range(lsp.Position(*lines.at(span.start)), lsp.Position(*lines.at(span.end)))
    )


def _item(choice: completion.Choice, place: lsp.Range, number: int) -> lsp.CompletionItem:
    text = choice.text or choice.label
    return lsp.CompletionItem(
        choice.label,
        kind=CHOICE_KINDS.get(choice.kind, lsp.CompletionItemKind.Variable),
        detail=choice.kind,
        documentation=choice.about or None,
        sort_text=f"{'0' if choice.first else '1'}{number:04}",
        text_edit=lsp.TextEdit(place, text),
    )


def _text(server: Server, asking: Asking) -> None:
    @server.feature(lsp.TEXT_DOCUMENT_DOCUMENT_SYMBOL)
    async def outlined(params: lsp.DocumentSymbolParams) -> list[lsp.DocumentSymbol]:
        asked = await asking.file(params.text_document.uri)
        return [] if asked is None else [_symbol(asked, each) for each in symbols.outline(asked.reading.own)]

    @server.feature(lsp.TEXT_DOCUMENT_FOLDING_RANGE)
    async def folded(params: lsp.FoldingRangeParams) -> list[lsp.FoldingRange]:
        asked = await asking.file(params.text_document.uri)
        if asked is None:
            return []
        found = {(r.start.line, r.end.line) for r in map(asked.range, symbols.folds(asked.reading.own))}
        return [lsp.FoldingRange(start, end) for start, end in sorted(found) if end > start]

    legend = lsp.SemanticTokensLegend(token_types=list(marks.TYPES), token_modifiers=list(marks.MODIFIERS))

    @server.feature(lsp.TEXT_DOCUMENT_SEMANTIC_TOKENS_FULL, legend)
    async def marked(params: lsp.SemanticTokensParams) -> lsp.SemanticTokens:
        asked = await asking.file(params.text_document.uri)
        data = await asking.work(marks.marks, asked.reading, asked.lines) if asked is not None else []
        return lsp.SemanticTokens(data=data)

    @server.feature(lsp.TEXT_DOCUMENT_SEMANTIC_TOKENS_RANGE, legend)
    async def marked_range(params: lsp.SemanticTokensRangeParams) -> lsp.SemanticTokens:
        asked = await asking.file(params.text_document.uri)
        if asked is None:
            return lsp.SemanticTokens(data=[])
        span = asked.span(params.range)
        return lsp.SemanticTokens(data=await asking.work(marks.marks, asked.reading, asked.lines, span.start, span.end))

    @server.feature(lsp.TEXT_DOCUMENT_INLAY_HINT)
    async def hinted(params: lsp.InlayHintParams) -> list[lsp.InlayHint]:
        asked = await asking.file(params.text_document.uri)
        if asked is None:
            return []
        span = asked.span(params.range)
        found: list[hints.Hint] = await asking.work(list, hints.hints(asked.reading))
        return [
            lsp.InlayHint(
                lsp.Position(*asked.lines.at(each.offset)),
                each.text.replace(FIXED_SPACE, " "),
                tooltip=each.about or None,
                padding_left=True,
            )
            for each in found
            if span.start <= each.offset <= span.end
        ]


def _symbol(asked: Asked, each: symbols.Symbol) -> lsp.DocumentSymbol:
    return lsp.DocumentSymbol(
        each.name,
        SYMBOL_KINDS.get(each.kind, lsp.SymbolKind.Object),
        asked.range(each.span),
        asked.range(each.head),
        detail=each.about or None,
        children=[_symbol(asked, part) for part in each.under],
    )


def _changes(server: Server, asking: Asking) -> None:
    @server.feature(lsp.TEXT_DOCUMENT_PREPARE_RENAME)
    async def may_rename(params: lsp.PrepareRenameParams) -> lsp.PrepareRenamePlaceholder | None:
        asked = await asking.file(params.text_document.uri)
        use = asked.reading.name_at(asked.offset(params.position)) if asked is not None else None
        if asked is None or use is None:
            return None
        try:
            rename.can_rename(asked.reading, use.name)
        except rename.Refused as refused:
            raise _refused(refused) from None
        return lsp.PrepareRenamePlaceholder(asked.range(use.span), use.name.word)

    @server.feature(lsp.TEXT_DOCUMENT_RENAME, lsp.RenameOptions(prepare_provider=True))
    async def renamed(params: lsp.RenameParams) -> lsp.WorkspaceEdit | None:
        asked = await asking.file(params.text_document.uri)
        use = asked.reading.name_at(asked.offset(params.position)) if asked is not None else None
        if asked is None or use is None:
            return None
        readings = await asking.work(everywhere, asked, use.name)
        try:
            changes = await asking.work(rename.renamed, readings, use.name, params.new_name)
        except rename.Refused as refused:
            raise _refused(refused) from None
        edits: dict[str, list[lsp.TextEdit]] = {}
        for change in changes:
            reading = next(r for r in readings if any(d is change.document for d in r.texts))
            where = _location(asked, reading, change.document, change.span)
            edits.setdefault(where.uri, []).append(lsp.TextEdit(where.range, change.text))
        return lsp.WorkspaceEdit(changes=edits)

    @server.feature(
        lsp.TEXT_DOCUMENT_CODE_ACTION,
        lsp.CodeActionOptions(code_action_kinds=[lsp.CodeActionKind.QuickFix, lsp.CodeActionKind.RefactorRewrite]),
    )
    async def offered(params: lsp.CodeActionParams) -> list[lsp.CodeAction]:
        asked = await asking.file(params.text_document.uri)
        if asked is None:
            return []
        analysis = await server.judging.analysis(asked.file)
        if analysis is None:
            return []
        asked = Asked(server.files, asked.file, analysis.reading)
        only = params.context.only
        found = await asking.work(_actions, asked, analysis, asked.span(params.range))
        shown = Shown(server.files, asked.file, analysis, related=False)
        made = [_action(asked, shown, each) for each in found]
        return [each for each in made if not only or any(_within(_text_of(each.kind), kind) for kind in only)]


def _actions(asked: Asked, analysis: Analysis, span: Span) -> list[actions.Action]:
    file, files = asked.file, asked.files
    choices = files.choices(file)[0]

    def lint(text: str) -> Report:
        return judge(Reading(text, file.name, None, asked.reading.beside), None, choices).report

    return actions.actions(analysis, span, choices.never_waive if choices is not None else (), lint)


def _text_of(kind: str | lsp.CodeActionKind | None) -> str:
    return str(getattr(kind, "value", kind) or "")


def _within(kind: str, asked: str | lsp.CodeActionKind) -> bool:
    """Whether a kind of action is one of those that are asked for: `refactor` takes `refactor.rewrite` in."""
    wanted = _text_of(asked)
    return not wanted or kind == wanted or kind.startswith(f"{wanted}.")


def _action(asked: Asked, shown: Shown, each: actions.Action) -> lsp.CodeAction:
    change = each.change
    edit = lsp.TextEdit(asked.range(change.span), change.text)
    kind = lsp.CodeActionKind.RefactorRewrite if each.finding is None else lsp.CodeActionKind.QuickFix
    return lsp.CodeAction(
        each.title,
        kind,
        [shown.diagnostic(each.finding)] if each.finding is not None else None,
        is_preferred=each.preferred or None,
        edit=lsp.WorkspaceEdit(changes={asked.file.uri: [edit]}),
    )


def _refused(refused: rename.Refused) -> JsonRpcInvalidParams:
    return JsonRpcInvalidParams(message=str(refused))
