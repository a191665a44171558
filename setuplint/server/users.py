"""The setups that extend an open shared part and are not open themselves: they are judged with it as it is typed."""

from __future__ import annotations

import asyncio
from collections.abc import Callable

from setuplint.server.open_files import OpenFile, OpenFiles
from setuplint.server.scheduling import FileState, Scheduler, Superseded

PAUSE = 0.5  # seconds without a change of the shared part
MOST = 50  # setups of one shared part


class Users:
    """`files.users` are those that are judged now, by uri. They are judged in turn, so that no key waits for more than one."""

    def __init__(
        self,
        files: OpenFiles,
        scheduler: Scheduler,
        tell: Callable[[str], None],
        take_back: Callable[[OpenFile], None],
    ) -> None:
        """`tell` logs what is left out, `take_back` takes back what was told of one."""
        self.files, self.scheduler, self.tell, self.take_back = files, scheduler, tell, take_back
        self.tasks: dict[str, asyncio.Task[None]] = {}

    def part_shown(self, part: OpenFile, content: str) -> None:
        """A shared part was judged, which says this."""
        if part.users_told != content and self.scheduler.is_open(part):
            part.users_told = content
            self.cancel(part)
            self.tasks[part.uri] = asyncio.ensure_future(self._judge(part))

    def cancel(self, part: OpenFile) -> None:
        task = self.tasks.pop(part.uri, None)
        if task is not None:
            task.cancel()

    def closed(self, file: OpenFile) -> None:
        """Those that rest on no open part any longer are given up."""
        self.cancel(file)
        resting = {user.uri for part in self.files.by_uri.values() for user in self.resting_on(part)}
        self._give_up([user for uri, user in self.files.users.items() if uri not in resting])

    def resting_on(self, part: OpenFile) -> list[OpenFile]:
        """Those that extend a file, as they were read last."""
        return [user for user in self.files.users.values() if self.files.extends(user, part)]

    def _give_up(self, left: list[OpenFile]) -> None:
        for user in left:
            del self.files.users[user.uri]
            self.take_back(user)

    async def _judge(self, part: OpenFile) -> None:
        await asyncio.sleep(PAUSE)
        texts, left = await asyncio.to_thread(self.files.texts_of_users, part, MOST)  # a walk through the repository
        if left:
            self.tell(
                f"setuplint: {left} more setups extend {part.name}: open one to have it judged, or lint the folder"
            )
        found = {self.files.uri_of(path): text for path, text in texts.items()}
        self._give_up([user for user in self.resting_on(part) if user.uri not in found])  # gone, or others by now
        for uri, text in found.items():
            if uri in self.files.by_uri:
                continue
            user = self.files.users.setdefault(uri, OpenFile(uri, text, None))
            user.text = text
            user.expire()
            try:
                await self.scheduler.judge_once(user, FileState(), user.edits)
            except Superseded:
                pass  # by the work of another shared part that it rests on
            except Exception as error:  # as of an open file
                if self.scheduler.is_open(user):
                    self.scheduler.report_fault(user, error)
