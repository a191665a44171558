"""The language server: which LSP method and command is handled by which function. Nothing is decided here."""

from __future__ import annotations

import logging
import sys
from collections.abc import Awaitable, Callable
from functools import wraps
from typing import Any

from lsprotocol import types as lsp

from setuplint.server import (
    action_requests,
    commands,
    file_requests,
    name_requests,
    place_requests,
    semantic_tokens,
    standard_io,
    synchronization,
    text_requests,
)
from setuplint.server.diagnostics import SOURCE
from setuplint.server.protocol import AT_ONCE, IN_TURN
from setuplint.server.session import Session
from setuplint.server.snapshot import ASKED

SWITCH_INTERVAL = 0.0005  # seconds after which the thread that judges lets the event loop run
LEGEND = lsp.SemanticTokensLegend(list(semantic_tokens.TYPES), list(semantic_tokens.MODIFIERS))
ACTION_KINDS = [lsp.CodeActionKind.QuickFix, lsp.CodeActionKind.RefactorRewrite, action_requests.FIX_ALL]

Handler = Callable[..., Any]
HANDLERS: dict[str, Handler] = {
    lsp.INITIALIZE: synchronization.initialize,
    lsp.INITIALIZED: synchronization.initialized,
    lsp.SHUTDOWN: synchronization.shutdown,
    lsp.EXIT: synchronization.exit_process,
    lsp.TEXT_DOCUMENT_DID_OPEN: synchronization.did_open,
    lsp.TEXT_DOCUMENT_DID_CHANGE: synchronization.did_change,
    lsp.TEXT_DOCUMENT_DID_CLOSE: synchronization.did_close,
    lsp.TEXT_DOCUMENT_DID_SAVE: synchronization.did_save,
    lsp.WORKSPACE_DID_CHANGE_WATCHED_FILES: synchronization.did_save,
    lsp.WORKSPACE_DID_CHANGE_WORKSPACE_FOLDERS: synchronization.folders_changed,
    lsp.TEXT_DOCUMENT_DIAGNOSTIC: text_requests.document_diagnostics,
    lsp.WORKSPACE_DIAGNOSTIC: text_requests.workspace_diagnostics,
    lsp.TEXT_DOCUMENT_HOVER: place_requests.hover_response,
    lsp.TEXT_DOCUMENT_COMPLETION: place_requests.completion_list,
    lsp.TEXT_DOCUMENT_DEFINITION: name_requests.definitions,
    lsp.TEXT_DOCUMENT_REFERENCES: name_requests.references,
    lsp.TEXT_DOCUMENT_DOCUMENT_HIGHLIGHT: name_requests.highlights,
    lsp.TEXT_DOCUMENT_PREPARE_RENAME: name_requests.rename_placeholder,
    lsp.TEXT_DOCUMENT_RENAME: name_requests.rename_edit,
    lsp.TEXT_DOCUMENT_DOCUMENT_SYMBOL: text_requests.document_symbols,
    lsp.TEXT_DOCUMENT_FOLDING_RANGE: text_requests.folding_ranges,
    lsp.TEXT_DOCUMENT_SEMANTIC_TOKENS_FULL: text_requests.tokens,
    lsp.TEXT_DOCUMENT_SEMANTIC_TOKENS_RANGE: text_requests.tokens,
    lsp.TEXT_DOCUMENT_INLAY_HINT: text_requests.hints_in_range,
    lsp.TEXT_DOCUMENT_CODE_ACTION: action_requests.code_actions,
    lsp.TEXT_DOCUMENT_CODE_LENS: commands.code_lenses,
    lsp.TEXT_DOCUMENT_DOCUMENT_LINK: file_requests.document_links,
    lsp.WORKSPACE_WILL_RENAME_FILES: file_requests.will_rename_files,
    lsp.WORKSPACE_SYMBOL: file_requests.workspace_symbols,
}
OPTIONS: dict[str, object] = {
    lsp.TEXT_DOCUMENT_COMPLETION: lsp.CompletionOptions(trigger_characters=['"', "[", ".", " ", "{", ","]),
    lsp.TEXT_DOCUMENT_RENAME: lsp.RenameOptions(prepare_provider=True),
    lsp.TEXT_DOCUMENT_SEMANTIC_TOKENS_FULL: LEGEND,
    lsp.TEXT_DOCUMENT_SEMANTIC_TOKENS_RANGE: LEGEND,
    lsp.WORKSPACE_WILL_RENAME_FILES: file_requests.RENAMED,
    lsp.TEXT_DOCUMENT_CODE_ACTION: lsp.CodeActionOptions(code_action_kinds=ACTION_KINDS),
}
COMMANDS: dict[str, Handler] = {
    commands.TRY: commands.try_command,
    commands.SUMMARY: commands.summary_command,
    commands.PAGE: commands.page_command,
}


def serve(failed: Callable[[OSError], None]) -> int:
    """Answer on standard input and output until the editor ends; the exit status is as LSP has it. Nothing is written to
    standard error, and to standard output only what belongs to the protocol. Where that cannot be written, `failed` is called:
    it ends the process."""
    from importlib.metadata import PackageNotFoundError, version

    logging.getLogger().addHandler(logging.NullHandler())
    logging.raiseExceptions = False
    sys.setswitchinterval(SWITCH_INTERVAL)
    out = standard_io.output(failed)
    try:
        number = version(SOURCE)
    except PackageNotFoundError:
        number = "from a folder"
    session = new_session(number)
    standard_io.talk(session, out)
    return 0 if session.has_shut_down else 1


def new_session(version: str = "0") -> Session:
    """A session with all handlers. pygls passes it to them, as their first parameter is a `Session`."""
    session = Session(version)
    for method, handler in HANDLERS.items():
        if method in IN_TURN or method in AT_ONCE:
            handler = in_turn(handler, behind=method in IN_TURN)
        session.feature(method, OPTIONS.get(method))(handler)
    for command, handler in COMMANDS.items():
        session.command(command)(handler)
    return session


Asked = Callable[..., Awaitable[Any]]


def in_turn(handler: Asked, *, behind: bool) -> Asked:
    """A handler of requests about a text, which answers ContentModified where the text is another by now: an editor asks again.
    `behind`: it comes after the list of problems, if that takes no longer than a moment."""

    @wraps(handler)
    async def answer(session: Session, params: Any) -> Any:
        asked = ASKED.get()
        if asked is None:
            return await handler(session, params)
        asked.check()
        if behind:
            await session.scheduler.shown_soon(asked.file)
            asked.check()
        found = await handler(session, params)
        asked.check()
        return found

    return answer
