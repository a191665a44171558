"""Requests about a position: hover and completion."""

from __future__ import annotations

from lsprotocol import types as lsp

from setuplint.book import rulebook
from setuplint.findings import Finding
from setuplint.formats.markdown_text import without_markup
from setuplint.server import completion, hover
from setuplint.server.analysis import was_setup
from setuplint.server.code_actions import touches
from setuplint.server.neighbours import shareable_files
from setuplint.server.occurrences import KIND_OF_TABLE
from setuplint.server.open_files import OpenFile
from setuplint.server.parsed import ParsedText
from setuplint.server.session import Session
from setuplint.server.snapshot import Snapshot
from setuplint.setup.setup_texts import is_nobody_elses
from setuplint.source import Span

COMPLETION_KINDS = {
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


async def hover_response(session: Session, params: lsp.HoverParams) -> lsp.Hover | None:
    worker = session.requests
    snapshot = await worker.snapshot(params.text_document.uri)
    if snapshot is None:
        return None
    file, parsed, offset = snapshot.file, snapshot.parsed, snapshot.offset(params.position)
    if file.is_config:
        from setuplint.server import club_file

        found = await worker.result(club_file.markdown_at, parsed.own, file.path, offset)
    elif file.is_rule:
        from setuplint.server import club_rule

        found = await worker.result(club_rule.markdown_at, parsed, offset)
    elif parsed.is_setup:
        rules = file.analysis.choices.rules if file.analysis is not None and file.analysis.choices is not None else None
        found = await worker.result(hover.hover, parsed, _findings_at(snapshot, offset), offset, rules)
    else:
        return None
    if found is None:
        return None
    text, span = found
    kind = lsp.MarkupKind.Markdown if session.shows_markdown else lsp.MarkupKind.PlainText
    shown = text if session.shows_markdown else without_markup(text)
    return lsp.Hover(lsp.MarkupContent(kind, shown), snapshot.range(span))


def _findings_at(snapshot: Snapshot, offset: int) -> list[Finding]:
    """The findings that are shown at an offset, if they are of the current text."""
    analysis = snapshot.file.analysis
    if analysis is None or analysis.parsed is not snapshot.parsed:
        return []
    return [each for each in analysis.findings if touches(analysis, each.primary, Span(offset, offset))]


async def completion_list(session: Session, params: lsp.CompletionParams) -> lsp.CompletionList | None:
    """Completions of the current text, with the names of the last readable text where the current one cannot be read."""
    worker = session.requests
    snapshot = await worker.snapshot(params.text_document.uri)
    if snapshot is None:
        return None
    file, parsed = snapshot.file, snapshot.parsed
    text = parsed.text[snapshot.lines.mark :]
    offset = snapshot.offset(params.position)
    if file.is_config:
        from setuplint.server import club_file

        found = await worker.result(club_file.completions, parsed.own, file.path, text, offset)
    elif file.is_rule:
        from setuplint.server import club_rule

        found = await worker.result(club_rule.completions, text, offset)
    elif not (parsed.is_begun or _is_broken_setup(parsed, file)):
        return None
    else:
        values = _values_with_last_names(parsed, file)
        found = await worker.result(completion.completions, values, text, offset, _context(file))
    items = [
        _completion_item(each, lsp.TextEdit(snapshot.range(span), words), number)
        for number, each in enumerate(found.found)
        for span, words in [completion.placed(found, each, text, offset)]
    ]
    return lsp.CompletionList(is_incomplete=False, items=items)


def _is_broken_setup(parsed: ParsedText, file: OpenFile) -> bool:
    """Whether a broken text was a setup when it could be read last: the same before and after it is judged."""
    if parsed.is_readable or not parsed.own.values or not is_nobody_elses(parsed.own.values, parsed.own.broken):
        return False
    return was_setup(file.analysis)


def _context(file: OpenFile) -> completion.CompletionContext:
    analysis = file.analysis
    findings = [(each.rule, each.subject) for each in analysis.findings] if analysis is not None else []
    choices = analysis.choices if analysis is not None else None
    rules = choices.rules if choices is not None else rulebook.rules()
    return completion.CompletionContext(lambda: shareable_files(file.path), findings, rules)


def _values_with_last_names(parsed: ParsedText, file: OpenFile) -> dict[str, object]:
    """The values of a text; of a broken one, with the named parts of the last readable text that are not in it now."""
    values = dict(parsed.texts.values)
    last = file.analysis.last_readable if file.analysis is not None else None
    if last is None or parsed.is_readable:
        return values
    for table in KIND_OF_TABLE:
        before, now = last.texts.values.get(table), values.get(table)
        if isinstance(before, dict):
            values[table] = {**before, **now} if isinstance(now, dict) else before
    return values


def _completion_item(each: completion.Completion, edit: lsp.TextEdit, number: int) -> lsp.CompletionItem:
    return lsp.CompletionItem(
        each.label,
        kind=COMPLETION_KINDS.get(each.kind, lsp.CompletionItemKind.Variable),
        detail=each.kind,
        documentation=each.about or None,
        sort_text=f"{'0' if each.first else '1'}{number:04}",
        text_edit=edit,
    )
