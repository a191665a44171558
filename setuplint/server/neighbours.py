"""The other set-ups of a repository, as far as those of one radio are compared: in the background, after a pause.

A lint in the editor knows nothing of them. Once a text was judged and nothing is typed for a while, they are looked at by a
process of their own (`recorder`), each once until it changes, and what is called otherwise than is usual on the radio is added
to what was told. While one types it stays at its places.
"""

from __future__ import annotations

import asyncio
import os
import re
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import date
from typing import NamedTuple

from setuplint.book import radios, run, waivers
from setuplint.book.choices import Choices
from setuplint.book.radios import Record
from setuplint.findings import Finding, Place
from setuplint.server.analysis import Analysis
from setuplint.server.files import File, Files
from setuplint.server.names import value
from setuplint.server.recorder import Recorded, Recorder
from setuplint.setup.file_sources import LARGEST, ROOTS, file_content, repository_root
from setuplint.setup.texts import MAY_BE_SHARED

PAUSE = 0.5  # seconds without a change after which the others are looked at
MOST_FILES = 300  # TOML files of a repository
MOST_SEEN = 5_000  # files and folders
MOST_BYTES = 20_000_000
ELSEWHERE = "rescue-elsewhere"  # the rule that compares the setups of one radio
UNNEEDED = "waiver-unneeded"

HEADINGS = re.compile(rb"^[ \t]*\[+[ \t]*([A-Za-z0-9_-]+)", re.MULTILINE)

Stamp = tuple[int, ...] | None


class Kept(NamedTuple):
    """What is known of a file while it and the parts that it extends are as they were."""

    recorded: Recorded
    stamps: tuple[Stamp, ...]


class Found(NamedTuple):
    """What a set-up calls otherwise than is usual on its radio, waivers counted; and whether it calls things otherwise than it
    did before, so that there may be news for others."""

    of_it: tuple[Finding, ...] = ()
    changed: bool = False


class Neighbours:
    """`show` is called by the loop with a file of which there is something else to tell."""

    def __init__(self, files: Files, show: Callable[[File], None]) -> None:
        self.files, self.show = files, show
        self.recorder = Recorder()
        self.thread = ThreadPoolExecutor(max_workers=1)
        self.tasks: dict[str, asyncio.Task[None]] = {}
        self.kept: dict[str, Kept] = {}
        self.last: dict[str, Record | None] = {}

    def judged(self, file: File) -> None:
        """A text was judged: its neighbours are looked at unless it changes soon."""
        self.closed(file)
        if file.path is not None and file.analysis is not None:
            self.tasks[file.uri] = asyncio.ensure_future(self.follow(file))

    def closed(self, file: File) -> None:
        task = self.tasks.pop(file.uri, None)
        if task is not None:
            task.cancel()

    async def follow(self, file: File) -> None:
        await asyncio.sleep(PAUSE)
        try:
            await self.look_at(file)
        finally:
            if self.tasks.get(file.uri) is asyncio.current_task():
                del self.tasks[file.uri]

    async def look_at(self, file: File) -> None:
        analysis, edits = file.analysis, file.edits
        if analysis is None or not analysis.reading.whole:
            return
        texts, choices = self.files.texts(), analysis.choices or Choices()
        loop = asyncio.get_running_loop()
        found = await loop.run_in_executor(self.thread, self.look, file, analysis, texts, choices)
        if file.edits != edits or self.files.open.get(file.uri) is not file:
            return
        if found.of_it != file.elsewhere:
            file.elsewhere = found.of_it
            self.show(file)
        for other in list(self.files.open.values()) if found.changed else ():
            if other is not file and other.analysis is not None and other.uri not in self.tasks:
                self.judged(other)

    # -- by the thread

    def look(self, file: File, analysis: Analysis, texts: Mapping[str, str], choices: Choices) -> Found:
        setup = analysis.reading.setup
        radio = setup.craft.radio
        if radio is None or not file.path or ELSEWHERE in choices.left_out:
            return Found()
        own = os.path.realpath(file.path)
        paths = list(toml_files(own))
        if len(paths) < 2:
            return Found()
        self.recorder.open(texts)
        records = [record for path in paths if (record := self.record(path, texts)) is not None]
        mine = next((record for record in records if record.file == own), None)
        changed = mine != self.last.get(own)
        self.last[own] = mine
        if mine is None or mine.radio != radio:
            return Found((), changed)
        folder = os.path.dirname(own)
        named = [replace(each, file=os.path.relpath(each.file, folder).replace(os.sep, "/")) for each in records]
        usual = radios.habits(named).get(radio, {})
        rule = choices.rules[ELSEWHERE]
        found = [
            Finding(rule.name, rule.signal, each.message, each.subject, Place(each.path), each.related,
                    why=rule.why, remedy=rule.remedy)
            for each in radios.otherwise(mine.calls, radio, usual)
        ]  # fmt: skip
        asked = [waiver for waiver in setup.waivers if waiver.rule == ELSEWHERE]
        applied = waivers.apply(asked, found, choices.rules, date.today(), (), choices.never_waive)
        return Found(tuple(x for x in applied.findings if x.rule in (ELSEWHERE, UNNEEDED)), changed)

    def record(self, path: str, texts: Mapping[str, str]) -> Record | None:
        """Of a file, from before if nothing has changed."""
        kept = self.kept.get(path)
        if kept is None or kept.stamps != stamps(path, kept.recorded.parts, texts):
            before = stamps(path, (), texts)
            recorded = self.recorder.record(path)
            kept = Kept(recorded, stamps(path, recorded.parts, texts))
            if kept.stamps[:1] != before:
                return recorded.record  # it is being written
            self.kept[path] = kept
        return kept.recorded.record


def merged(analysis: Analysis, found: tuple[Finding, ...]) -> Analysis:
    """An analysis with what is told of its neighbours, as far as the parts that this is about are there."""
    if not found and not any(map(_of_neighbours, analysis.findings)):
        return analysis
    values = analysis.texts.values
    own = [each for each in analysis.findings if not _of_neighbours(each)]
    others = [each for each in found if value(values, each.primary.path) is not None]
    report = run.in_order(replace(analysis.report, findings=(*own, *others)))
    return replace(analysis, report=report, findings=report.findings)


def _of_neighbours(finding: Finding) -> bool:
    return finding.rule == ELSEWHERE or (finding.rule == UNNEEDED and finding.subject.partition(" ")[0] == ELSEWHERE)


def stamps(path: str, parts: tuple[str, ...], texts: Mapping[str, str]) -> tuple[Stamp, ...]:
    return tuple(_stamp(each, texts) for each in (path, *parts))


def _stamp(path: str, texts: Mapping[str, str]) -> Stamp:
    """Another one where a text is another, be it open in the editor or on the disk."""
    if path in texts:
        return (hash(texts[path]),)
    try:
        there = os.stat(path)
    except OSError:
        return None
    return there.st_mtime_ns, there.st_size, there.st_ino


def parts(path: str | None) -> Iterator[str]:
    """The TOML files that a set-up could extend, as it would write them: those that hold nothing but what may be shared."""
    own = os.path.realpath(path) if path else ""
    for each in toml_files(own) if own else ():
        try:
            data = file_content(each, LARGEST) or b""
        except OSError:
            continue
        tables = {found.decode() for found in HEADINGS.findall(data)}
        if each != own and tables and tables <= {*MAY_BE_SHARED}:
            yield os.path.relpath(each, os.path.dirname(own)).replace(os.sep, "/")


def toml_files(path: str) -> Iterator[str]:
    """The real paths of the TOML files in a set-up's repository, its own among them, in the order in which `lint` takes a
    folder's; without a repository those of its folder. No link is followed, and nothing hidden is looked at."""
    root = repository_root(os.path.dirname(path))
    deep = any(os.path.lexists(os.path.join(root, mark)) for mark in ROOTS)
    folders, count, seen, size = [root], 0, 0, 0
    while folders:
        inner = []
        try:
            with os.scandir(folders.pop()) as entries:
                here = sorted(entries, key=lambda entry: entry.name)
        except OSError:
            continue
        for entry in here:
            seen += 1
            if seen > MOST_SEEN:
                return
            if entry.name.startswith(".") or entry.is_symlink():
                continue
            if entry.is_dir(follow_symlinks=False):
                inner.append(entry.path)
            elif entry.name.endswith(".toml") and entry.is_file(follow_symlinks=False):
                count, size = count + 1, size + entry.stat(follow_symlinks=False).st_size
                if count > MOST_FILES or size > MOST_BYTES:
                    return
                yield entry.path
        folders += reversed(inner if deep else [])
