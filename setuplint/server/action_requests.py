"""What an editor may change: names, and what code actions offer, in LSP's terms."""

from __future__ import annotations

from typing import TYPE_CHECKING

from lsprotocol import types as lsp
from pygls.exceptions import JsonRpcInvalidParams

from setuplint.server import code_actions, rename
from setuplint.server.analysis import Analysis, Reading, judge
from setuplint.server.diagnostics import Shown
from setuplint.server.place_requests import Asked, Asking, everywhere, location_of
from setuplint.source import Span

if TYPE_CHECKING:
    from setuplint.server.server import Server


def register(server: Server) -> None:
    asking = Asking(server)  # its own thread: remedies are tried by lints, and hovers do not wait for them

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
            where = location_of(asked, reading, change.document, change.span)
            edits.setdefault(where.uri, []).append(lsp.TextEdit(where.range, change.text))
        return lsp.WorkspaceEdit(changes=edits)

    @server.feature(
        lsp.TEXT_DOCUMENT_CODE_ACTION,
        lsp.CodeActionOptions(code_action_kinds=[lsp.CodeActionKind.QuickFix, lsp.CodeActionKind.RefactorRewrite]),
    )
    async def offered(params: lsp.CodeActionParams) -> list[lsp.CodeAction]:
        uri = params.text_document.uri
        asked = await asking.file(uri) or await asking.choosing(uri)
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


def _actions(asked: Asked, analysis: Analysis, span: Span) -> list[code_actions.Action]:
    file, files = asked.file, asked.files
    if file.chooses:
        from setuplint.server import club_file

        return list(code_actions.corrected(analysis, span, lambda text: len(club_file.wrong(text, file.path or ""))))
    choices = files.choices(file)[0]

    def judged(text: str) -> Analysis:
        return judge(Reading(text, file.name, None, asked.reading.beside), None, choices)

    def problems(text: str) -> int:
        return Reading(text, file.name, None, asked.reading.beside).wrong

    never = choices.never_waive if choices is not None else ()
    return code_actions.actions(analysis, span, never, judged, problems)


def _text_of(kind: str | lsp.CodeActionKind | None) -> str:
    return str(getattr(kind, "value", kind) or "")


def _within(kind: str, asked: str | lsp.CodeActionKind) -> bool:
    """Whether a kind of action is one of those that are asked for: `refactor` takes `refactor.rewrite` in."""
    wanted = _text_of(asked)
    return not wanted or kind == wanted or kind.startswith(f"{wanted}.")


def _action(asked: Asked, shown: Shown, each: code_actions.Action) -> lsp.CodeAction:
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
