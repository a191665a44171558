"""The request for code actions."""

from __future__ import annotations

from lsprotocol import types as lsp

from setuplint.server.analysis import Analysis
from setuplint.server.code_actions import Action, ActionContext, actions, correction_actions
from setuplint.server.diagnostics import Diagnostics
from setuplint.server.parsed import ParsedText
from setuplint.server.session import Session
from setuplint.server.snapshot import Snapshot
from setuplint.source import Span


async def code_actions(session: Session, params: lsp.CodeActionParams) -> list[lsp.CodeAction]:
    worker = session.edit_requests
    asked = await worker.snapshot(params.text_document.uri)
    if asked is None or not (asked.is_setup or asked.file.is_config):
        return []
    analysis = await session.scheduler.newest_analysis(asked.file)
    if analysis is None:
        return []
    snapshot = Snapshot(session.files, asked.file, analysis.parsed)
    found = await worker.result(_actions, snapshot, analysis, snapshot.span(params.range))
    shown = Diagnostics(session.files, snapshot.file, analysis, related=False)
    made = [_code_action(snapshot, shown, each) for each in found]
    only = params.context.only
    return [each for each in made if not only or any(_is_of_kind(each, kind) for kind in only)]


def _actions(snapshot: Snapshot, analysis: Analysis, span: Span) -> list[Action]:
    file, folder = snapshot.file, snapshot.parsed.folder
    if file.is_config:
        from setuplint.server import club_file

        return list(
            correction_actions(analysis, span, lambda text: len(club_file.text_mistakes(text, file.path or "")))
        )

    def parsed(text: str) -> ParsedText:
        return ParsedText(text, file.name, None, folder)

    return actions(ActionContext(analysis, span, parsed, snapshot.files.choices(file)[0]))


def _code_action(snapshot: Snapshot, shown: Diagnostics, each: Action) -> lsp.CodeAction:
    edit = lsp.TextEdit(snapshot.range(each.change.span), each.change.text)
    kind = lsp.CodeActionKind.RefactorRewrite if each.finding is None else lsp.CodeActionKind.QuickFix
    return lsp.CodeAction(
        each.title,
        kind,
        [shown.diagnostic(each.finding)] if each.finding is not None else None,
        is_preferred=each.preferred or None,
        edit=lsp.WorkspaceEdit(changes={snapshot.file.uri: [edit]}),
    )


def _is_of_kind(action: lsp.CodeAction, asked: str | lsp.CodeActionKind) -> bool:
    """Whether an action is of a kind: `refactor` includes `refactor.rewrite`."""
    own, kind = _kind_text(action.kind), _kind_text(asked)
    return not kind or own == kind or own.startswith(f"{kind}.")


def _kind_text(kind: str | lsp.CodeActionKind | None) -> str:
    return str(getattr(kind, "value", kind) or "")
