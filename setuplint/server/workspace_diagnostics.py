"""What is told of setups that are not open: pushed after a pause, until an editor asks for it (`workspace/diagnostic`)."""

from __future__ import annotations

import asyncio
import os
from collections.abc import Callable, Sequence
from contextlib import suppress
from itertools import count
from time import monotonic

from lsprotocol import types as lsp
from pygls.exceptions import JsonRpcException, JsonRpcRequestCancelled
from pygls.lsp.server import LanguageServer
from pygls.uris import from_fs_path

from setuplint.server.neighbours import Neighbours
from setuplint.server.open_files import OpenFiles, file_path
from setuplint.server.unopened import Judged, Tell, Unopened

PAUSE = 0.5  # seconds without a change of what they rest on
START = 2.0  # seconds after the start
CURRENT = 30.0  # seconds for which what is known holds where an editor reports the changes of files
HOLD = 30.0  # seconds for which an answer waits for the next change
FEW = 3  # files that are judged without a word on progress
PATIENCE = 5.0  # seconds for an editor to show progress

Report = lsp.WorkspaceFullDocumentDiagnosticReport | lsp.WorkspaceUnchangedDocumentDiagnosticReport


class WorkspaceDiagnostics:
    """`server` is the one that the editor talks to; `shows_related` says whether it shows related places."""

    def __init__(
        self, server: LanguageServer, files: OpenFiles, neighbours: Neighbours, shows_related: Callable[[], bool]
    ) -> None:
        self.server, self.files, self.shows_related = server, files, shows_related
        self.unopened = Unopened(files, neighbours, self.roots, self.log)
        neighbours.told = self.changed
        self.pushed: dict[str, str] = {}  # the ids of what was pushed, by uri
        self.is_pulled = self.is_watched = False  # whether the editor asks; whether it reports changes of files
        self.changes, self.current_until = 0, 0.0
        self.task: asyncio.Task[None] | None = None
        self.moved = asyncio.Event()  # something has changed, or was opened
        self.numbers = count(1)

    def roots(self) -> list[str]:
        """The real paths of the workspace's folders."""
        workspace = self.server.workspace
        paths = [file_path(uri) for uri in workspace.folders] or [workspace.root_path]
        return [os.path.realpath(path) for path in paths if path]

    def log(self, words: str) -> None:
        self.server.window_log_message(lsp.LogMessageParams(lsp.MessageType.Info, words))

    def changed(self, pause: float = PAUSE) -> None:
        """Something that they rest on may be another, or one of them itself."""
        self.changes += 1
        self.current_until = 0.0
        if self.task is not None:
            self.task.cancel()
        self.task = asyncio.ensure_future(self._after(pause))

    def opened(self, uri: str) -> None:
        """From now on the file's own diagnostics take the place of what was pushed."""
        self.pushed.pop(uri, None)
        self.moved.set()

    async def _after(self, pause: float) -> None:
        await asyncio.sleep(pause)
        if not self.is_pulled:
            await self.push()
            return
        self.moved.set()
        workspace = self.server.client_capabilities.workspace
        if workspace is not None and workspace.diagnostics is not None and workspace.diagnostics.refresh_support:
            with suppress(JsonRpcException):
                await self.server.workspace_diagnostic_refresh_async(None)

    # -- pushed

    async def push(self) -> None:
        gone = set(self.pushed)
        progress = WorkDoneProgress(self.server)

        async def tell(found: Sequence[Judged], done: int, total: int) -> None:
            for one in found:
                gone.discard(_uri(one))
                self._push(one)
            if total - done >= FEW and not progress.is_offered:
                await progress.offer(f"setuplint-{next(self.numbers)}")
            progress.step(done, total)

        try:
            await self.unopened.judge(self.shows_related(), tell)
        except JsonRpcRequestCancelled:
            return  # until something changes
        finally:
            progress.end()
        self._take_back(gone)

    def _push(self, one: Judged) -> None:
        uri = _uri(one)
        if not one.diagnostics:
            self._take_back({uri} & self.pushed.keys())
        elif uri not in self.files.by_uri and self.pushed.get(uri) != one.id:
            self.pushed[uri] = one.id
            self._publish(uri, self._diagnostics(one))

    def _take_back(self, uris: set[str]) -> None:
        for uri in uris:
            if self.pushed.pop(uri, None) is not None and uri not in self.files.by_uri:
                self._publish(uri, [])

    def _publish(self, uri: str, found: list[lsp.Diagnostic]) -> None:
        self.server.text_document_publish_diagnostics(lsp.PublishDiagnosticsParams(uri, found, None))

    # -- pulled

    async def pull(self, params: lsp.WorkspaceDiagnosticParams) -> lsp.WorkspaceDiagnosticReport:
        """All of them; what an editor has already is only named, and what it has and is no setup or open by now is emptied:
        of what is open it is told without being asked. To one that takes partial results and has some already, the changes of
        the next HOLD seconds are told in the same answer: else what is opened would be listed twice until it asks again."""
        self._begin_pulling()
        known = {each.uri: each.value for each in params.previous_result_ids}
        waits = bool(known) and params.partial_result_token is not None
        progress = WorkDoneProgress(self.server, params.work_done_token)
        reports: list[Report] = []

        def send(new: list[Report]) -> None:
            if params.partial_result_token is None:
                reports.extend(new)
            elif new:
                part = lsp.WorkspaceDiagnosticReportPartialResult(new)
                self.server.protocol.notify(lsp.PROGRESS, lsp.ProgressParams(params.partial_result_token, part))

        until = monotonic() + HOLD
        self.moved.clear()
        try:
            await self._report_all(known, send, progress)
        finally:
            progress.end()
        while waits and await self._moves(until - monotonic()):
            await self._report_all(known, send, WorkDoneProgress(self.server))
        return lsp.WorkspaceDiagnosticReport(reports)

    async def _report_all(
        self, known: dict[str, str], send: Callable[[list[Report]], None], progress: WorkDoneProgress
    ) -> None:
        """Send a report of each; `known` are the ids that the editor has, and has then."""
        gone = set(known)

        async def tell(found: Sequence[Judged], done: int, total: int) -> None:
            told = [one for one in found if one.diagnostics is not None]
            reports = [self._report(one, known.get(_uri(one))) for one in told]
            gone.difference_update(map(_uri, told))
            known.update({_uri(one): one.id for one in told})
            send(reports)
            progress.step(done, total)

        await self._judge(tell)
        for uri in gone:
            del known[uri]
        send([lsp.WorkspaceFullDocumentDiagnosticReport(uri, []) for uri in gone])

    async def _moves(self, seconds: float) -> bool:
        """Whether something changes so soon."""
        try:
            await asyncio.wait_for(self.moved.wait(), seconds)
        except TimeoutError:
            return False
        self.moved.clear()
        return True

    async def _judge(self, tell: Tell) -> None:
        if monotonic() < self.current_until:
            texts = self.files.texts()
            known = [one for path, one in self.unopened.known.items() if path not in texts]
            await tell(known, len(known), len(known))
            return
        changes = self.changes
        await self.unopened.judge(self.shows_related(), tell)
        if self.is_watched and self.changes == changes:
            self.current_until = monotonic() + CURRENT

    def _begin_pulling(self) -> None:
        if not self.is_pulled:
            self.is_pulled = True
            if self.task is not None:
                self.task.cancel()
            self._take_back(set(self.pushed))

    def _report(self, one: Judged, before: str | None) -> Report:
        if before == one.id:
            return lsp.WorkspaceUnchangedDocumentDiagnosticReport(_uri(one), one.id)
        return lsp.WorkspaceFullDocumentDiagnosticReport(_uri(one), self._diagnostics(one), result_id=one.id)

    def _diagnostics(self, one: Judged) -> list[lsp.Diagnostic]:
        converter = self.server.protocol._converter
        found: list[lsp.Diagnostic] = converter.structure(one.diagnostics, list[lsp.Diagnostic])
        return found


class WorkDoneProgress:
    """Work that an editor shows under a token, and may cancel; without one nothing is shown."""

    def __init__(self, server: LanguageServer, token: lsp.ProgressToken | None = None) -> None:
        self.progress, self.capabilities = server.protocol.progress, server.client_capabilities
        self.token, self.is_offered, self.is_begun, self.percentage = token, token is not None, False, -1

    async def offer(self, token: lsp.ProgressToken) -> None:
        """Where the editor shows the progress of what it did not ask for."""
        self.is_offered = True
        window = self.capabilities.window
        if window is not None and window.work_done_progress:
            with suppress(JsonRpcException, TimeoutError):
                await asyncio.wait_for(self.progress.create_async(token), PATIENCE)
                self.token = token

    def step(self, done: int, total: int) -> None:
        """JsonRpcRequestCancelled where it was cancelled."""
        if self.token is None:
            return
        percentage = 100 * done // (total or 1)
        if not self.is_begun:
            self.is_begun = True
            title = "setuplint: judging the setups that are not open"
            self.progress.begin(self.token, lsp.WorkDoneProgressBegin(title, cancellable=True, percentage=percentage))
        elif percentage != self.percentage:
            words = f"{done} of {total} files"
            self.progress.report(self.token, lsp.WorkDoneProgressReport(message=words, percentage=percentage))
        self.percentage = percentage
        if self.progress.tokens[self.token].cancelled():
            raise JsonRpcRequestCancelled("cancelled")

    def end(self) -> None:
        if self.token is not None:
            if self.is_begun:
                self.progress.end(self.token, lsp.WorkDoneProgressEnd())
            self.progress.tokens.pop(self.token, None)


def _uri(one: Judged) -> str:
    return from_fs_path(one.path) or one.path
