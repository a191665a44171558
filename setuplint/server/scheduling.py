"""When a text is judged: the newest change first, older work given up, one text at a time, while the loop goes on answering."""

from __future__ import annotations

import asyncio
import gc
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from time import monotonic
from typing import TypeVar

from setuplint.server.analysis import Analysis, at_once, carried, judge
from setuplint.server.neighbours import Neighbours, merged
from setuplint.server.open_files import File, Files

PAUSE = 0.3  # seconds without a change after which a broken text is judged too
PATIENCE = 1.0  # seconds after which work that is no longer the newest is finished all the same
Result = TypeVar("Result")


class Superseded(Exception):
    """There is a newer change."""


class Judging:
    """Judges every open file, each by a task of the loop; the work itself is done by one thread."""

    def __init__(
        self, files: Files, show: Callable[[File, Analysis, str], None], fault: Callable[[File, Exception], None]
    ) -> None:
        """`show` is told of every new analysis that is of the newest text, with what is wrong with its setuplint.toml."""
        self.files, self.show, self.fault = files, show, fault
        self.neighbours = Neighbours(files, self.more_to_tell)
        self.worker = ThreadPoolExecutor(max_workers=1)
        self.tasks: dict[str, asyncio.Task[None]] = {}
        self.changes: dict[str, asyncio.Event] = {}
        self.told: dict[str, asyncio.Event] = {}
        self.shown: dict[str, float] = {}

    def changed(self, file: File) -> None:
        """A file is new, has changed, or something that it rests on has."""
        uri = file.uri
        self.told.setdefault(uri, asyncio.Event()).clear()
        self.changes.setdefault(uri, asyncio.Event()).set()
        task = self.tasks.get(uri)
        if task is None or task.done():
            self.tasks[uri] = asyncio.ensure_future(self.follow(file))

    def closed(self, file: File) -> None:
        task = self.tasks.pop(file.uri, None)
        if task is not None:
            task.cancel()
        self.neighbours.closed(file)
        told = self.told.pop(file.uri, None)
        if told is not None:
            told.set()
        self.changes.pop(file.uri, None)

    async def analysis(self, file: File) -> Analysis | None:
        """What is told of the newest text, once it is."""
        told = self.told.get(file.uri)
        if told is not None:
            await told.wait()
        return file.analysis

    async def follow(self, file: File) -> None:
        """Judge a file until it is judged as it stands."""
        while self.current(file):
            edits = file.edits
            self.changes[file.uri].clear()
            try:
                await self.once(file, edits)
            except Superseded:
                continue
            except Exception as error:  # the editor goes on; what was told last stays
                if self.current(file):
                    self.fault(file, error)
                    self.told[file.uri].set()
            if file.edits == edits:
                return

    def current(self, file: File) -> bool:
        return self.files.open.get(file.uri) is file

    async def once(self, file: File, edits: int) -> None:
        told, wrong = await self.work(self.tell, file)
        if told is not None:
            self.tell_editor(file, edits, told, wrong)
            if file.chooses or told.reading.whole or told.last_whole is None or await self.changes_soon(file):
                return
        elif file.analysis is not None and monotonic() - self.shown.get(file.uri, monotonic()) > PATIENCE:
            self.show(file, await self.work(self.meanwhile, file), wrong)
        found = await self.work(self.judged, file, edits)
        self.tell_editor(file, edits, found, wrong)

    async def changes_soon(self, file: File) -> bool:
        try:
            await asyncio.wait_for(self.changes[file.uri].wait(), PAUSE)
        except TimeoutError:
            return False
        return True

    def tell_editor(self, file: File, edits: int, analysis: Analysis, wrong: str) -> None:
        if not self.current(file):
            return
        file.analysis = analysis if file.chooses else merged(analysis, file.elsewhere)
        if file.edits == edits:
            self.shown[file.uri] = monotonic()
            file.wrong = wrong
            self.show(file, file.analysis, wrong)
            self.told[file.uri].set()
            if not file.chooses:
                self.neighbours.judged(file)

    def more_to_tell(self, file: File) -> None:
        """Of its neighbours."""
        if file.analysis is not None:
            file.analysis = merged(file.analysis, file.elsewhere)
            self.show(file, file.analysis, file.wrong)

    async def work(self, call: Callable[..., Result], *given: object) -> Result:
        return await asyncio.get_running_loop().run_in_executor(self.worker, call, *given)

    # -- by the thread

    def tell(self, file: File) -> tuple[Analysis | None, str]:
        """What can be told of the newest text at once, and what is wrong with its setuplint.toml."""
        if file.chooses:
            from setuplint.server import club_file

            return club_file.analysis(self.files.reading(file), file.path or ""), ""
        choices, wrong = self.files.choices(file)
        return at_once(self.files.reading(file), file.analysis, choices), wrong

    def meanwhile(self, file: File) -> Analysis:
        """While somebody types on and on: what was found before, at its places of now."""
        assert file.analysis is not None
        return carried(self.files.reading(file), file.analysis)

    def judged(self, file: File, edits: int) -> Analysis:
        """A lint of the newest text, given up when there is a newer one, unless nothing was told for long."""
        begun = self.shown.get(file.uri, 0.0)

        def newest() -> None:
            if file.edits != edits and monotonic() - begun < PATIENCE:
                raise Superseded

        was = gc.isenabled()
        gc.disable()  # a lint makes many objects that live as long as it does
        try:
            choices = self.files.choices(file)[0]
            return judge(self.files.reading(file), file.analysis, choices, newest)
        finally:
            if was:
                gc.enable()
