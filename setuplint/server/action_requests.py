"""The request for code actions."""

from __future__ import annotations

from collections.abc import Callable

from lsprotocol import types as lsp

from setuplint.findings import Report
from setuplint.fixes import remedies
from setuplint.server.analysis import Analysis, full_analysis
from setuplint.server.code_actions import Action, ActionContext, actions, correction_actions
from setuplint.server.diagnostics import Diagnostics
from setuplint.server.edits import Replacement, smallest_replacement
from setuplint.server.parsed import ParsedText
from setuplint.server.session import Session
from setuplint.server.snapshot import Snapshot
from setuplint.source import Span

FIX_ALL = "source.fixAll.setuplint"


async def code_actions(session: Session, params: lsp.CodeActionParams) -> list[lsp.CodeAction]:
    worker = session.edit_requests
    asked = await worker.snapshot(params.text_document.uri)
    if asked is None or not (asked.is_setup or asked.file.is_config):
        return []
    analysis = await session.scheduler.newest_analysis(asked.file)
    if analysis is None:
        return []
    snapshot = Snapshot(session.files, asked.file, analysis.parsed)
    only = params.context.only
    if only and all(_kind_text(kind).startswith("source") for kind in only):
        fixed = await worker.result(_all_remedies, snapshot, analysis) if any(map(_asks_for_all, only)) else []
        return [_all_fixes(snapshot, change, count) for change, count in fixed]
    found = await worker.result(_actions, snapshot, analysis, snapshot.span(params.range))
    shown = Diagnostics(session.files, snapshot.file, analysis, related=False)
    made = [_code_action(snapshot, shown, each) for each in found]
    return [each for each in made if not only or any(_is_of_kind(each, kind) for kind in only)]


def _actions(snapshot: Snapshot, analysis: Analysis, span: Span) -> list[Action]:
    file = snapshot.file
    if file.is_config:
        from setuplint.server import club_file

        return list(
            correction_actions(analysis, span, lambda text: len(club_file.text_mistakes(text, file.path or "")))
        )

    return actions(ActionContext(analysis, span, _parser(snapshot), snapshot.files.choices(file)))


def _parser(snapshot: Snapshot) -> Callable[[str], ParsedText]:
    """Parses another text in place of the setup's own."""
    return lambda text: ParsedText(text, snapshot.file.name, None, snapshot.parsed.folder, snapshot.parsed)


def _asks_for_all(kind: str | lsp.CodeActionKind) -> bool:
    return f"{FIX_ALL}.".startswith(f"{_kind_text(kind)}.")


def _all_remedies(snapshot: Snapshot, analysis: Analysis) -> list[tuple[Replacement, int]]:
    """What `lint --fix` would make of the text, and how many remedies that takes; none where the text is broken."""
    if snapshot.file.is_config or analysis.basis is not None or not analysis.parsed.is_readable:
        return []
    parsed, choices = _parser(snapshot), snapshot.files.choices(snapshot.file)

    def lint(data: bytes) -> Report:
        return full_analysis(parsed(data.decode()), choices=choices).report

    own = analysis.parsed.own
    found = remedies(own.text.encode(), analysis.report, lint, load=lambda data: parsed(data.decode()).setup)
    return [(smallest_replacement(own, found.data.decode()), len(found.applied))] if found.applied else []


def _all_fixes(snapshot: Snapshot, change: Replacement, count: int) -> lsp.CodeAction:
    edit = lsp.TextEdit(snapshot.range(change.span), change.text)
    title = f"apply {count} {'remedy' if count == 1 else 'remedies'}, each proved to change nothing else"
    return lsp.CodeAction(title, FIX_ALL, edit=lsp.WorkspaceEdit(changes={snapshot.file.uri: [edit]}))


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
