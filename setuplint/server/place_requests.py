"""What an editor asks about a place or a text, and the answers in LSP's terms. Each handler reads the newest text first."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING, TypeVar

from lsprotocol import types as lsp

from setuplint.book import rulebook
from setuplint.formats.terminal import FIXED_SPACE
from setuplint.server import code_actions, completion, hover, inlay_hints, neighbours, outline, semantic_tokens
from setuplint.server.analysis import Reading
from setuplint.server.occurrences import PLURALS, RULE, Name, Use
from setuplint.server.open_files import File, Files
from setuplint.server.positions import Lines
from setuplint.source import Document, Span

if TYPE_CHECKING:
    from setuplint.server.server import Server

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
    "file": lsp.CompletionItemKind.File,
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
    """Where requests are worked on: not by the thread that judges. Whatever asks a reading's decider is worked on by one and the
    same: a solver is no thing for two threads."""

    def __init__(self, server: Server) -> None:
        self.server = server
        self.thread = ThreadPoolExecutor(max_workers=1)

    async def file(self, uri: str) -> Asked | None:
        """A set-up that is open; None for any other text, of which nothing is told."""
        files = self.server.files
        file = files.open.get(uri)
        if file is None or file.chooses:
            return None
        reading = await self.work(files.reading, file)
        return Asked(files, file, reading) if reading.is_setup else None

    async def choosing(self, uri: str) -> Asked | None:
        """A setuplint.toml that is open."""
        files = self.server.files
        file = files.open.get(uri)
        return Asked(files, file, await self.work(files.reading, file)) if file is not None and file.chooses else None

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
    asking = server.asking
    _places(server, asking)
    _text(server, asking)


def _places(server: Server, asking: Asking) -> None:
    @server.feature(lsp.TEXT_DOCUMENT_HOVER)
    async def hovered(params: lsp.HoverParams) -> lsp.Hover | None:
        chosen = await asking.choosing(params.text_document.uri)
        if chosen is not None:
            from setuplint.server import club_file

            at = chosen.offset(params.position)
            return _hover(chosen, await asking.work(club_file.told, chosen.reading.own, chosen.file.path, at))
        asked = await asking.file(params.text_document.uri)
        if asked is None:
            return None
        offset = asked.offset(params.position)
        analysis = asked.file.analysis
        here = []
        if analysis is not None and analysis.reading is asked.reading:
            here = [f for f in analysis.findings if code_actions.touches(analysis, f.primary, Span(offset, offset))]
        rules = analysis.choices.rules if analysis is not None and analysis.choices is not None else None
        return _hover(asked, await asking.work(hover.hover, asked.reading, here, offset, rules))

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
        offset = asked.offset(params.position)
        if file.chooses:
            from setuplint.server import club_file

            found = await asking.work(club_file.complete, reading.own, file.path, text, offset)
        else:
            spoken = [(each.rule, each.subject) for each in file.analysis.findings] if file.analysis is not None else []
            choices = file.analysis.choices if file.analysis is not None else None
            rules = choices.rules if choices is not None else rulebook.rules()
            more = completion.Known(lambda: neighbours.parts(file.path), spoken, rules)
            found = await asking.work(completion.complete, values, text, offset, more)
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
                        (each.document.name, each.span), location_of(asked, reading, each.document, each.span)
                    )
        if near and use.name.kind == "position" and not found:  # the usual positions of its kind stand nowhere
            return await _declared(asked, readings, Name("switch", use.name.of))
        return list(found.values())

    async def _declared(asked: Asked, readings: list[Reading], name: Name) -> list[lsp.Location]:
        return [
            location_of(asked, reading, use.document, use.span)
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


def _hover(asked: Asked, found: tuple[str, Span] | None) -> lsp.Hover | None:
    if found is None:
        return None
    return lsp.Hover(lsp.MarkupContent(lsp.MarkupKind.Markdown, found[0]), asked.range(found[1]))


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


def location_of(asked: Asked, reading: Reading, document: Document, span: Span) -> lsp.Location:
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
        return [] if asked is None else [_symbol(asked, each) for each in outline.outline(asked.reading.own)]

    @server.feature(lsp.TEXT_DOCUMENT_FOLDING_RANGE)
    async def folded(params: lsp.FoldingRangeParams) -> list[lsp.FoldingRange]:
        asked = await asking.file(params.text_document.uri)
        if asked is None:
            return []
        found = {(r.start.line, r.end.line) for r in map(asked.range, outline.folds(asked.reading.own))}
        return [lsp.FoldingRange(start, end) for start, end in sorted(found) if end > start]

    legend = lsp.SemanticTokensLegend(
        token_types=list(semantic_tokens.TYPES), token_modifiers=list(semantic_tokens.MODIFIERS)
    )

    @server.feature(lsp.TEXT_DOCUMENT_SEMANTIC_TOKENS_FULL, legend)
    async def marked(params: lsp.SemanticTokensParams) -> lsp.SemanticTokens:
        asked = await asking.file(params.text_document.uri)
        data = await asking.work(semantic_tokens.marks, asked.reading, asked.lines) if asked is not None else []
        return lsp.SemanticTokens(data=data)

    @server.feature(lsp.TEXT_DOCUMENT_SEMANTIC_TOKENS_RANGE, legend)
    async def marked_range(params: lsp.SemanticTokensRangeParams) -> lsp.SemanticTokens:
        asked = await asking.file(params.text_document.uri)
        if asked is None:
            return lsp.SemanticTokens(data=[])
        span = asked.span(params.range)
        return lsp.SemanticTokens(
            data=await asking.work(semantic_tokens.marks, asked.reading, asked.lines, span.start, span.end)
        )

    @server.feature(lsp.TEXT_DOCUMENT_INLAY_HINT)
    async def hinted(params: lsp.InlayHintParams) -> list[lsp.InlayHint]:
        asked = await asking.file(params.text_document.uri)
        if asked is None:
            return []
        span = asked.span(params.range)
        found: list[inlay_hints.Hint] = await asking.work(list, inlay_hints.hints(asked.reading))
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


def _symbol(asked: Asked, each: outline.Symbol) -> lsp.DocumentSymbol:
    return lsp.DocumentSymbol(
        each.name,
        SYMBOL_KINDS.get(each.kind, lsp.SymbolKind.Object),
        asked.range(each.span),
        asked.range(each.head),
        detail=each.about or None,
        children=[_symbol(asked, part) for part in each.under],
    )
