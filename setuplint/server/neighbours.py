"""The other setups of a repository, as far as setups of one radio are compared: in the background, after a pause.

A lint in the editor knows nothing of them. When a text was judged and nothing is typed for a while, a process of its own
(`recorder`) reads them, each once until it changes. What differs from the habits of the radio is added to what is shown,
and keeps its place while one types.
"""

from __future__ import annotations

import asyncio
import os
import re
import threading
from collections.abc import Callable, Iterable, Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from datetime import date

from setuplint.book import radios, run, waivers
from setuplint.book.choices import Choices
from setuplint.book.radios import RadioRecord
from setuplint.dataclass import replace
from setuplint.findings import Finding, Place
from setuplint.named_tuple import NamedTuple
from setuplint.server.analysis import Analysis
from setuplint.server.open_files import OpenFile, OpenFiles
from setuplint.server.recorder import Recorded, Recorder
from setuplint.server.toml_walk import toml_files
from setuplint.setup.file_sources import LARGEST, file_content, name_from, repository_root
from setuplint.setup.problems import value_at
from setuplint.setup.texts import MAY_BE_SHARED

PAUSE = 0.5  # seconds without a change, then the others are read
ELSEWHERE = "rescue-elsewhere"  # the rule that compares the setups of one radio
UNNEEDED = "waiver-unneeded"

HEADINGS = re.compile(rb"^[ \t]*\[+[ \t]*([A-Za-z0-9_-]+)", re.MULTILINE)

Stamp = tuple[int, ...] | None


class CachedRecord(NamedTuple):
    """A file's record, which holds as long as the stamps of the file and of the shared files that it extends."""

    recorded: Recorded
    stamps: tuple[Stamp, ...]


class RadioComparison(NamedTuple):
    """What a setup does otherwise than is usual on its radio, waivers applied. `changed`: its own habits are new, so that other
    setups have to be compared again."""

    findings: tuple[Finding, ...] = ()
    changed: bool = False


class Neighbours:
    """`show` is called by the event loop with a file whose findings have changed."""

    def __init__(self, files: OpenFiles, show: Callable[[OpenFile], None]) -> None:
        self.files, self.show = files, show
        # called when what an open setup's neighbours need to know of it is another
        self.told: Callable[[], None] = lambda: None
        self.recorder = Recorder()
        self.lock = threading.Lock()  # of the process and what is known from it
        self.thread = ThreadPoolExecutor(max_workers=1)
        self.tasks: dict[str, asyncio.Task[None]] = {}
        self.cache: dict[str, CachedRecord] = {}
        self.last_records: dict[str, RadioRecord | None] = {}

    def schedule(self, file: OpenFile) -> None:
        """A text was judged: it is compared with its neighbours unless it changes soon."""
        self.cancel(file)
        if file.path is not None and file.analysis is not None:
            self.tasks[file.uri] = asyncio.ensure_future(self._compare_after_pause(file))

    def cancel(self, file: OpenFile) -> None:
        task = self.tasks.pop(file.uri, None)
        if task is not None:
            task.cancel()

    async def _compare_after_pause(self, file: OpenFile) -> None:
        await asyncio.sleep(PAUSE)
        try:
            await self._compare(file)
        finally:
            if self.tasks.get(file.uri) is asyncio.current_task():
                del self.tasks[file.uri]

    async def _compare(self, file: OpenFile) -> None:
        analysis, edits = file.analysis, file.edits
        if analysis is None or not analysis.parsed.is_readable:
            return
        texts, choices = self.files.texts(), analysis.choices or Choices()
        loop = asyncio.get_running_loop()
        found = await loop.run_in_executor(self.thread, self.comparison, file, analysis, texts, choices)
        if file.edits != edits or self.files.by_uri.get(file.uri) is not file:
            return
        if found.findings != file.neighbour_findings:
            file.neighbour_findings = found.findings
            self.show(file)
        if found.changed:
            self.told()
        for other in list(self.files.by_uri.values()) if found.changed else ():
            if other is not file and other.analysis is not None and other.uri not in self.tasks:
                self.schedule(other)

    # -- called in the thread

    def comparison(
        self, file: OpenFile, analysis: Analysis, texts: Mapping[str, str], choices: Choices
    ) -> RadioComparison:
        radio = analysis.parsed.setup.craft.radio
        if not file.path:
            return RadioComparison()
        own = os.path.realpath(file.path)
        if radio is None or ELSEWHERE in choices.left_out:
            return RadioComparison((), self.last_records.pop(own, None) is not None)
        paths = toml_files(own)
        if len(paths) < 2:
            return RadioComparison()
        records = [record for path in paths if (record := self.record(path, texts)) is not None]
        mine = next((record for record in records if record.file == own), None)
        changed = mine != self.last_records.get(own)
        self.last_records[own] = mine
        if mine is None or mine.radio != radio:
            return RadioComparison((), changed)
        return RadioComparison(unusual_findings(analysis, mine, records, choices), changed)

    def record(self, path: str, texts: Mapping[str, str]) -> RadioRecord | None:
        """A file's record, from the cache if nothing has changed. Any thread may ask."""
        with self.lock:
            cached = self.cache.get(path)
            if cached is None or cached.stamps != stamps(path, cached.recorded.shared_files, texts):
                if self.recorder.opened is not texts:
                    self.recorder.open(texts)
                before = stamps(path, (), texts)
                recorded = self.recorder.record(path)
                cached = CachedRecord(recorded, stamps(path, recorded.shared_files, texts))
                if cached.stamps[:1] != before:
                    return recorded.record  # the file was written meanwhile
                self.cache[path] = cached
            return cached.recorded.record

    def groups(self, paths: Iterable[str], texts: Mapping[str, str]) -> list[tuple[list[str], list[RadioRecord]]]:
        """Those of the setups that have a radio, by it and their repository; with each group the records of all setups of that
        repository on that radio, in the order of a lint."""
        members: dict[tuple[str, str], list[str]] = {}
        within: dict[str, list[RadioRecord]] = {}  # by repository
        for path in paths:
            mine = self.record(path, texts)
            if mine is None:
                continue
            root = repository_root(os.path.dirname(path))
            if root not in within:
                records = (self.record(each, texts) for each in toml_files(path))
                within[root] = [each for each in records if each is not None]
            members.setdefault((root, mine.radio), []).append(path)
        return [
            (group, [each for each in within[root] if each.radio == radio]) for (root, radio), group in members.items()
        ]


def unusual_findings(
    analysis: Analysis, mine: RadioRecord, records: list[RadioRecord], choices: Choices
) -> tuple[Finding, ...]:
    """What a setup does otherwise than the others of its radio."""
    folder = os.path.dirname(mine.file)
    named = [replace(each, file=name_from(folder, each.file)) for each in records]
    usual = radios.habits(named).get(mine.radio, {})
    rule = choices.rules[ELSEWHERE]
    found = [
        Finding(rule.name, rule.signal, each.message, each.subject, Place(each.path), each.related,
                why=rule.why, remedy=rule.remedy)
        for each in radios.otherwise(mine.calls, mine.radio, usual)
    ]  # fmt: skip
    asked = [waiver for waiver in analysis.parsed.setup.waivers if waiver.rule == ELSEWHERE]
    applied = waivers.applied_waivers(asked, found, choices.rules, date.today(), (), choices.never_waive)
    return tuple(each for each in applied.findings if each.rule in (ELSEWHERE, UNNEEDED))


def with_neighbours(analysis: Analysis, found: tuple[Finding, ...]) -> Analysis:
    """An analysis with the findings of the comparison whose places are still there."""
    if not found and not any(map(_is_of_comparison, analysis.findings)):
        return analysis
    values = analysis.texts.values
    own = [each for each in analysis.findings if not _is_of_comparison(each)]
    others = [each for each in found if value_at(values, each.primary.path) is not None]
    report = run.in_order(replace(analysis.report, findings=(*own, *others)))
    return replace(analysis, report=report, findings=report.findings)


def _is_of_comparison(finding: Finding) -> bool:
    return finding.rule == ELSEWHERE or (finding.rule == UNNEEDED and finding.subject.partition(" ")[0] == ELSEWHERE)


def stamps(path: str, shared_files: tuple[str, ...], texts: Mapping[str, str]) -> tuple[Stamp, ...]:
    """What changes when a file or one of its shared files does, open in the editor or on the disk."""
    return tuple(_stamp(each, texts) for each in (path, *shared_files))


def _stamp(path: str, texts: Mapping[str, str]) -> Stamp:
    if path in texts:
        return (hash(texts[path]),)
    try:
        status = os.stat(path)
    except OSError:
        return None
    return status.st_mtime_ns, status.st_size, status.st_ino


def shareable_files(path: str | None) -> Iterator[str]:
    """The TOML files that a setup could extend, as it would write them: those with nothing but what may be shared."""
    own = os.path.realpath(path) if path else ""
    for each in toml_files(own) if own else ():
        try:
            data = file_content(each, LARGEST) or b""
        except OSError:
            continue
        tables = {found.decode() for found in HEADINGS.findall(data)}
        if each != own and tables and tables <= {*MAY_BE_SHARED}:
            yield name_from(os.path.dirname(own), each)
