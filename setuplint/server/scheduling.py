"""When texts are judged: the newest change first, older work is given up, one text at a time, and the event loop goes on."""

from __future__ import annotations

import asyncio
import gc
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from time import monotonic
from typing import TypeVar

from setuplint.server.analysis import Analysis, carried_analysis, full_analysis, quick_analysis
from setuplint.server.club_choices import ClubChoices
from setuplint.server.neighbours import Neighbours, with_neighbours
from setuplint.server.open_files import OpenFile, OpenFiles

PAUSE = 0.3  # seconds without a change, then a broken text is judged too
MOMENT = 0.1  # seconds for which requests that nobody waits for come behind the list of problems
PATIENCE = 1.0  # seconds of typing on and on with nothing shown, then work is finished though it is not the newest
Result = TypeVar("Result")


class Superseded(Exception):
    """There is a newer change."""


class FileState:
    """The work on one open file. `shown` is set while the analysis of its newest text is shown; `late_since` is when work was
    overtaken by a change for the first time since, in seconds; None where none was."""

    def __init__(self) -> None:
        self.changed, self.shown = asyncio.Event(), asyncio.Event()
        self.late_since: float | None = None
        self.task: asyncio.Task[None] | None = None

    def is_late(self) -> bool:
        return self.late_since is not None and monotonic() - self.late_since > PATIENCE


class Scheduler:
    """Judges every open file, each in a task of the event loop; one thread does the work itself."""

    def __init__(
        self,
        files: OpenFiles,
        show: Callable[[OpenFile, Analysis], None],
        report_fault: Callable[[OpenFile, Exception], None],
    ) -> None:
        """`show` is called with every new analysis of the newest text."""
        self.files, self.show, self.report_fault = files, show, report_fault
        self.neighbours = Neighbours(files, self.show_neighbours)
        self.worker = ThreadPoolExecutor(max_workers=1)
        self.states: dict[str, FileState] = {}

    def changed(self, file: OpenFile) -> None:
        """A file is new, or it or something that it depends on has changed."""
        state = self.states.setdefault(file.uri, FileState())
        state.shown.clear()
        state.changed.set()
        if state.task is None or state.task.done():
            state.task = asyncio.ensure_future(self.judge(file, state))

    def closed(self, file: OpenFile) -> None:
        self.neighbours.cancel(file)
        state = self.states.pop(file.uri, None)
        if state is not None:
            if state.task is not None:
                state.task.cancel()
            state.shown.set()

    async def newest_analysis(self, file: OpenFile) -> Analysis | None:
        """The analysis of the newest text, once it is shown."""
        state = self.states.get(file.uri)
        if state is not None:
            await state.shown.wait()
        return file.analysis

    def is_idle(self) -> bool:
        """Whether all that is open is judged."""
        return all(state.shown.is_set() for state in self.states.values())

    async def shown_soon(self, file: OpenFile) -> None:
        """Until the analysis of the newest text is shown, but a moment at most."""
        state = self.states.get(file.uri)
        if state is not None and not state.shown.is_set():
            with suppress(TimeoutError):
                await asyncio.wait_for(state.shown.wait(), MOMENT)

    async def judge(self, file: OpenFile, state: FileState) -> None:
        """Judge a file until its newest text is judged."""
        while self.is_open(file):
            edits = file.edits
            state.changed.clear()
            try:
                await self.judge_once(file, state, edits)
            except Superseded:
                pass
            except Exception as error:  # the editor goes on, and what was shown last stays
                if self.is_open(file):
                    self.report_fault(file, error)
                    state.shown.set()
            if file.edits == edits:
                return
            state.late_since = state.late_since or monotonic()

    def is_open(self, file: OpenFile) -> bool:
        return self.files.by_uri.get(file.uri) is file

    async def judge_once(self, file: OpenFile, state: FileState, edits: int) -> None:
        quick, club, found = await self.work(self._first, file, state, edits)
        if found is not None:
            self.accept(file, state, edits, found, club)
            return
        if quick is not None:
            self.accept(file, state, edits, quick, club)
            if file.is_rule and not quick.findings and not await self.changes_soon(state):
                self.accept(file, state, edits, await self.work(self._tested, file, state, edits), club)
            is_final = file.is_config or quick.parsed.is_readable or quick.last_readable is None
            if is_final or await self.changes_soon(state):
                return
        elif file.analysis is not None and state.is_late():
            file.club = club
            self.show(file, await self.work(self._interim, file))
        found = await self.work(self._full, file, state, edits)
        self.accept(file, state, edits, found, club)

    async def changes_soon(self, state: FileState) -> bool:
        try:
            await asyncio.wait_for(state.changed.wait(), PAUSE)
        except TimeoutError:
            return False
        return True

    def accept(self, file: OpenFile, state: FileState, edits: int, analysis: Analysis, club: ClubChoices) -> None:
        """Keep an analysis, and show it if it is of the newest text."""
        if not self.is_open(file):
            return
        file.analysis = analysis if file.is_config else with_neighbours(analysis, file.neighbour_findings)
        if file.edits == edits:
            state.late_since = None
            file.club = club
            self.show(file, file.analysis)
            state.shown.set()
            if not file.is_config:
                self.neighbours.schedule(file)

    def show_neighbours(self, file: OpenFile) -> None:
        """Show a file again, with the findings of its comparison."""
        if file.analysis is not None:
            file.analysis = with_neighbours(file.analysis, file.neighbour_findings)
            self.show(file, file.analysis)

    async def work(self, call: Callable[..., Result], *given: object) -> Result:
        return await asyncio.get_running_loop().run_in_executor(self.worker, _uncollected, call, *given)

    # -- called in the thread

    def _first(
        self, file: OpenFile, state: FileState, edits: int
    ) -> tuple[Analysis | None, ClubChoices, Analysis | None]:
        """What can be shown of the newest text without judging it, or else, unless something has to be shown before, a lint of
        it; in one go, as each way between threads takes as long as reading a small text."""
        quick, club = self._quick(file)
        waits = quick is not None or (file.analysis is not None and state.is_late())
        return quick, club, None if waits else self._full(file, state, edits)

    def _quick(self, file: OpenFile) -> tuple[Analysis | None, ClubChoices]:
        """What can be shown of the newest text without judging it, and what its club has chosen."""
        if file.is_config:
            from setuplint.server import club_file

            return club_file.analysis(self.files.parsed(file), file.path or ""), ClubChoices()
        file.is_rule = not self.files.parsed(file).is_setup and self.files.is_rule(file)
        if file.is_rule:
            from setuplint.server import club_rule

            return club_rule.mistakes(self.files.parsed(file), file.path or ""), ClubChoices()
        club = self.files.club(file)
        return quick_analysis(self.files.parsed(file), file.analysis, club.choices), club

    def _tested(self, file: OpenFile, state: FileState, edits: int) -> Analysis:
        """What the examples of a club's rule show."""
        from setuplint.server import club_rule

        return club_rule.tested(
            self.files.parsed(file), file.path or "", lambda: self._check_newest(file, state, edits)
        )

    def _interim(self, file: OpenFile) -> Analysis:
        """While somebody types on and on: the earlier findings at their new places."""
        assert file.analysis is not None
        return carried_analysis(self.files.parsed(file), file.analysis)

    def _full(self, file: OpenFile, state: FileState, edits: int) -> Analysis:
        """A lint of the newest text."""
        choices = self.files.choices(file)
        return full_analysis(
            self.files.parsed(file), file.analysis, choices, lambda: self._check_newest(file, state, edits)
        )

    def _check_newest(self, file: OpenFile, state: FileState, edits: int) -> None:
        """Work is given up when there is a newer text, unless nothing was shown for long."""
        if file.edits != edits and not state.is_late():
            raise Superseded


def _uncollected(call: Callable[..., Result], *given: object) -> Result:
    """Without looking for cycles: reading a text and judging it make many objects that live as long as that does."""
    was = gc.isenabled()
    gc.disable()
    try:
        return call(*given)
    finally:
        if was:
            gc.enable()
