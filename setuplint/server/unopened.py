"""The setups that are not open: those of the workspace's folders, and those that extend an open shared part.

A process of its own judges them, one after the other, as they are on the disk, with what is open beside them; each again only
when it or something that it rests on is another. What is in no folder of the workspace, hidden or behind a link is not read,
but where a part is open that lies outside itself: then those of its repository that extend it.
"""

from __future__ import annotations

import asyncio
import os
from collections.abc import Awaitable, Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from hashlib import sha256
from json import dumps
from typing import Any

from setuplint.book.radios import record_written
from setuplint.club.config_sources import is_inside
from setuplint.club.nearest import NAME
from setuplint.named_tuple import NamedTuple
from setuplint.server.helper_process import HelperProcess
from setuplint.server.neighbours import Neighbours, Stamp, stamps
from setuplint.server.open_files import OpenFiles
from setuplint.server.toml_walk import MOST_FILES, MOST_SEEN, walk
from setuplint.setup.file_sources import extending_files

MOST_USERS = 50  # setups that extend a part outside the workspace


class Judged(NamedTuple):
    """What was found in a file; `diagnostics` are JSON as the protocol has it, None where it is no setup. It holds as long as the
    stamps of all files that it rests on. `id` is the same for what is the same."""

    path: str
    diagnostics: list[Any] | None
    files: tuple[str, ...]
    stamps: tuple[Stamp, ...]
    id: str
    group: str  # that of the setups of its radio that it was compared with, in their present state
    is_failure: bool = False  # the process died of it: it is not tried again until it changes


class Radios(NamedTuple):
    """The group of each setup that has a radio, and the records of each group, by file."""

    group_of: dict[str, str]
    records: dict[str, list[tuple[str, dict[str, Any]]]]


Tell = Callable[[Sequence[Judged], int, int], Awaitable[None]]


class Unopened:
    """`neighbours` knows what setups of one radio need to know of each other; `roots` gives the workspace's folders; `tell` logs
    what is left out."""

    def __init__(
        self, files: OpenFiles, neighbours: Neighbours, roots: Callable[[], list[str]], tell: Callable[[str], None]
    ) -> None:
        self.files, self.neighbours, self.roots, self.tell = files, neighbours, roots, tell
        self.judge_process = HelperProcess("unopened_judge")
        self.thread = ThreadPoolExecutor(max_workers=1)
        self.lock = asyncio.Lock()
        self.known: dict[str, Judged] = {}
        self.told_of: set[str] = set()

    async def judge(self, shows_related: bool, tell: Tell) -> None:
        """Judge them all. `tell` is awaited with what is new, how many files are done, and how many there are; those that were
        known first."""
        async with self.lock:
            texts = self.files.texts()
            found, left_out = await self._work(self._paths)
            paths = [path for path in found if path not in texts]
            for words in left_out:
                self._tell_once(words)
            radios = await self._work(self._radios, paths, texts)
            fresh = await self._work(self._still_known, paths, texts, radios.group_of)
            open_texts = {file.uri: file.text for file in self.files.by_uri.values()}
            opened = {
                "texts": open_texts,
                "encoding": self.files.encoding,
                "related": shows_related,
                **radios._asdict(),
            }
            await self._work(self.judge_process.open, opened)
            self.known = {path: self.known[path] for path in paths if path in self.known}
            left = [path for path in paths if path not in fresh]
            await tell([fresh[path] for path in paths if path in fresh], len(fresh), len(paths))
            for number, path in enumerate(left, start=len(fresh) + 1):
                self.known[path] = one = await self._work(self._judged, path, texts, radios.group_of.get(path, ""))
                if one.is_failure:
                    self._tell_once(f"{path} could not be judged: open it to see why")
                if self.judge_process.is_given_up:
                    self._tell_once("setups that are not open are no longer judged: lint the folder")
                    break
                await tell([one], number, len(paths))

    async def _work(self, call: Callable[..., Any], *given: object) -> Any:
        return await asyncio.get_running_loop().run_in_executor(self.thread, call, *given)

    def _tell_once(self, words: str) -> None:
        if words not in self.told_of:
            self.told_of.add(words)
            self.tell(f"setuplint: {words}")

    # -- called in the thread

    def _paths(self) -> tuple[list[str], list[str]]:
        """Those that extend an open part first, as somebody is at work on it; and what is left out."""
        roots = self.roots()
        found: list[str] = []
        left_out = []
        for part in self.files.shared_parts():
            users = extending_files(part)
            if _is_within(part, roots):
                users = [each for each in users if _is_within(each, roots)]
            elif len(users) > MOST_USERS:
                more = f"{len(users) - MOST_USERS} more setups extend {os.path.basename(part)}"
                left_out.append(f"{more}: open one to have it judged, or lint the folder")
                users = users[:MOST_USERS]
            found += users
        for root in roots:
            within = walk(root)
            found += (path for path in within.paths if os.path.basename(path) != NAME)
            if not within.is_whole:
                bounds = f"{MOST_FILES} TOML files, or {MOST_SEEN:,} of any kind"
                left_out.append(
                    f"{root} has more than {bounds}: of the others, what is not open is not judged; lint them"
                )
        return list(dict.fromkeys(found)), left_out

    def _radios(self, paths: Sequence[str], texts: Mapping[str, str]) -> Radios:
        group_of: dict[str, str] = {}
        records: dict[str, Any] = {}
        for members, group in self.neighbours.groups(paths, texts):
            written = [(one.file, record_written(one)) for one in group]
            name = _digest(written)
            group_of |= dict.fromkeys(members, name)
            records[name] = written
        return Radios(group_of, records)

    def _still_known(
        self, paths: Sequence[str], texts: Mapping[str, str], group_of: Mapping[str, str]
    ) -> dict[str, Judged]:
        found = {path: self.known[path] for path in paths if path in self.known}
        same = {path: one for path, one in found.items() if one.group == group_of.get(path, "")}
        return {path: one for path, one in same.items() if one.stamps == stamps(path, one.files, texts)}

    def _judged(self, path: str, texts: Mapping[str, str], group: str) -> Judged:
        before = stamps(path, (), texts)
        answer = self.judge_process.answer(path)
        if answer is None:
            return Judged(path, None, (), before, "", group, is_failure=True)
        files = tuple(answer["files"])
        holds = stamps(path, files, texts)
        return Judged(
            path, answer["found"], files, holds if holds[:1] == before else (), _digest(answer["found"]), group
        )


def _digest(data: Any) -> str:
    return sha256(dumps(data).encode()).hexdigest()[:16]


def _is_within(path: str, roots: Sequence[str]) -> bool:
    return any(is_inside(path, root) for root in roots)
