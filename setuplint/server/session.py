"""A session with an editor: its open files, the work on them, and what is sent to the editor unasked."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Awaitable, Coroutine
from contextlib import suppress
from importlib import import_module
from typing import Any

from lsprotocol import types as lsp
from pygls.exceptions import FeatureNotificationError, JsonRpcException
from pygls.lsp.server import LanguageServer

from setuplint.formats.summary import summary_of
from setuplint.server.analysis import Analysis
from setuplint.server.diagnostics import SOURCE, Diagnostics, fault_diagnostic
from setuplint.server.open_files import OpenFile, OpenFiles
from setuplint.server.parsed import Content
from setuplint.server.protocol import Protocol
from setuplint.server.scheduling import Scheduler
from setuplint.server.snapshot import RequestWorker
from setuplint.server.workspace_diagnostics import WorkspaceDiagnostics

STATUS = "$/setuplint/status"  # what was found, not judged and not decided; editors are free to ignore what begins so

UNFINISHED = "unfinished, judged as it was before: "  # counts, of a text with broken lines


class Session(LanguageServer):
    """`requests` works on requests, `edit_requests` on those that try remedies or rename: hovers do not wait for these."""

    def __init__(self, version: str) -> None:
        super().__init__(
            SOURCE, version, text_document_sync_kind=lsp.TextDocumentSyncKind.Incremental, protocol_cls=Protocol
        )
        self.files = OpenFiles()
        self.scheduler = Scheduler(self.files, self.show, self.report_fault)
        self.unopened = WorkspaceDiagnostics(self, self.files, self.scheduler.neighbours, lambda: self.shows_related)
        self.requests = RequestWorker(self.files)
        self.edit_requests = RequestWorker(self.files)
        self.outlines: dict[str, tuple[int, list[tuple[str, lsp.SymbolKind, lsp.Range]]]] = {}  # of files, by path
        self.has_shut_down = False
        self.is_warm = False  # whether what the first requests need is imported, or about to be
        self.tasks: set[asyncio.Task[None]] = set()

    def show(self, file: OpenFile, analysis: Analysis) -> None:
        shown = Diagnostics(self.files, file, analysis, related=self.shows_related)
        found = shown.diagnostics()
        counts = analysis.parsed.is_setup
        if counts or file.has_status:  # what is none any more is told once
            tally = summary_of(shown.sifted).tally
            text = f"{UNFINISHED if analysis.is_carried else ''}{tally.text()}" if counts or found else "no setup"
            status = {"uri": file.uri, "version": analysis.parsed.version, "text": text, **tally.values(),
                      "unfinished": analysis.is_carried}  # fmt: skip
            self.protocol.tell(STATUS, status)  # type: ignore[attr-defined]
            file.has_status = counts or bool(found)
        self.publish(file, found, analysis.parsed.version)
        if analysis.parsed.texts.is_shared_file and file.part_told != analysis.parsed.content:
            file.part_told = analysis.parsed.content
            self.unopened.changed()
        elif file.is_rule and file.part_told != _rule_state(analysis):
            file.part_told = _rule_state(analysis)
            self.judge_by(file)
        self.refresh_where_needed(file, analysis)
        if analysis.parsed.is_setup and not self.is_warm:
            self.is_warm = True
            self.keep(warm_up(self.scheduler, self.requests))

    def keep(self, work: Coroutine[Any, Any, None]) -> None:
        """Do some work beside all others: the event loop itself keeps no task alive."""
        task = asyncio.ensure_future(work)
        self.tasks.add(task)
        task.add_done_callback(self.tasks.discard)

    def judge_by(self, changed: OpenFile) -> None:
        """Judge by what a setuplint.toml or a club's rule says now: the open files below it, or all that may be."""
        self.files.config_changed()
        self.unopened.changed()
        for other in list(self.files.by_uri.values()):
            if other.is_below(changed) if changed.is_config else not (other.is_config or other.is_rule):
                other.expire()
                self.scheduler.changed(other)

    def refresh_where_needed(self, file: OpenFile, analysis: Analysis) -> None:
        """Editors ask again for what stands beside a text when the text changes, not when something that it rests on does."""
        before, file.shown = file.shown, (analysis.parsed.version, analysis.parsed.content, analysis.findings)
        if before is None or file.uri not in self.files.by_uri or before[0] != file.shown[0] or before == file.shown:
            return
        asks = self.client_capabilities.workspace
        for can, ask in (
            (asks and asks.code_lens, self.workspace_code_lens_refresh_async),
            (asks and asks.inlay_hint, self.workspace_inlay_hint_refresh_async),
            (asks and asks.semantic_tokens, self.workspace_semantic_tokens_refresh_async),
        ):
            if can and can.refresh_support:
                self.keep(_unanswered(ask(None)))

    def report_fault(self, file: OpenFile, error: Exception) -> None:
        """A fault of ours, shown where the pilot sees it."""
        logging.getLogger(SOURCE).error("%s", error, exc_info=error)
        self.publish(file, [fault_diagnostic(error)], file.version)

    def publish(self, file: OpenFile, found: list[lsp.Diagnostic], version: int | None) -> None:
        self.text_document_publish_diagnostics(lsp.PublishDiagnosticsParams(file.uri, found, version))

    def report_server_error(self, error: Exception, source: Any) -> None:
        """A fault of ours is shown; messages of an editor that are not of the protocol are ignored."""
        if source == FeatureNotificationError:
            message = f"setuplint: this is a fault of setuplint, please report it: {error}"
            self.window_show_message(lsp.ShowMessageParams(lsp.MessageType.Error, message))

    @property
    def shows_related(self) -> bool:
        """Whether the editor shows related information of diagnostics."""
        document = self.client_capabilities.text_document
        published = document.publish_diagnostics if document is not None else None
        return bool(published is not None and published.related_information)

    @property
    def shows_choices(self) -> bool:
        """Whether the editor shows choices with a message."""
        window = self.client_capabilities.window
        return window is not None and window.show_message is not None

    @property
    def shows_markdown(self) -> bool:
        """Whether the editor shows Markdown in hovers."""
        document = self.client_capabilities.text_document
        hover = document.hover if document is not None else None
        return hover is not None and lsp.MarkupKind.Markdown in (hover.content_format or ())

    @property
    def shows_symbol_trees(self) -> bool:
        """Whether the editor shows symbols inside of others."""
        document = self.client_capabilities.text_document
        symbol = document.document_symbol if document is not None else None
        return bool(symbol is not None and symbol.hierarchical_document_symbol_support)


def _rule_state(analysis: Analysis) -> tuple[int, Content]:
    """The same while a rule's text says the same."""
    return analysis.parsed.problem_count, analysis.parsed.content


async def _unanswered(asked: Awaitable[None]) -> None:
    """A request whose answer says nothing; editors may refuse it."""
    with suppress(JsonRpcException):
        await asked


PAUSE = 0.5  # seconds after a text was judged
WANTED_SOON = ("setuplint.pages.softening", "setuplint.comparison.samples", "setuplint.comparison.safety")


async def warm_up(scheduler: Scheduler, worker: RequestWorker) -> None:
    """Once in a session; it waits while a text is judged."""
    for module in WANTED_SOON:
        await asyncio.sleep(PAUSE)
        while not scheduler.is_idle():
            await asyncio.sleep(PAUSE)
        await worker.result(import_module, module)
