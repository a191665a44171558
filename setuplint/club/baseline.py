"""A baseline: the findings that a repository had when it began to look, so that only what is new speaks.

One file of JSON lines: a head, then one finding a line, sorted, so that two branches that change it can be merged line by
line; a line that stands there twice, as merges may leave it, counts once. A finding is known again by its rule, its setup's path
from the folder of the baseline, and its subject: lines may move, and texts be reformatted.
"""

from __future__ import annotations

import json
import os
import re
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping
from functools import lru_cache
from typing import Any

from setuplint.book import rulebook
from setuplint.book.choices import Choices
from setuplint.book.run import LOADING, RADIO
from setuplint.club.config_sources import DISK, GitSource
from setuplint.club.git_files import GitFiles
from setuplint.dataclass import replace
from setuplint.findings import SIGNALS, Finding, Place, Remark, Report
from setuplint.named_tuple import NamedTuple
from setuplint.setup.file_sources import name_from

VERSION = 1
HEAD = "setuplint-baseline"
KEYS = ("file", "rule", "subject", "signal", "message", "fingerprint")
TIMES = "times"  # how many findings an entry stands for, where they are alike in all of that
LARGEST = 50_000_000  # bytes
MOST = 400_000  # findings that all entries stand for: about as many as there is room for lines
LONGEST = 20_000  # characters of a line
UNREAD = "not-toml"  # of what cannot be read it is not known what is in it: that is never an old habit
NOWHERE = Place()
NUMBER = re.compile(r"[-+]?\d+(?:\.\d+)?")


class BaselineError(ValueError):
    """Why a file is no baseline: `path:line:column: what is wrong`, in one line."""


class Entry(NamedTuple):
    """A finding that is known. `file` is the setup's path from the folder of the baseline, with / between its steps."""

    file: str
    rule: str
    subject: str
    signal: str
    message: str

    @property
    def fingerprint(self) -> str:
        return Finding(self.rule, self.signal, self.message, self.subject, NOWHERE).fingerprint(self.file)


class Sifted(NamedTuple):
    """A report in which what is known is kept apart, the entries that are no longer found, and those that are new."""

    report: Report
    gone: tuple[Entry, ...] = ()
    new: tuple[Entry, ...] = ()


class Baseline:
    """The entries of one file, the folder that their paths start from, and what was read, where it was read."""

    def __init__(self, path: str, entries: Iterable[Entry] = (), data: bytes = b"") -> None:
        self.data = data
        self.folder = os.path.realpath(os.path.dirname(path))
        self.entries = tuple(sorted(entries))
        self._by_file: dict[str, list[Entry]] = {}
        for entry in self.entries:
            self._by_file.setdefault(entry.file, []).append(entry)

    def key(self, path: str) -> str:
        """A file's path as entries have it."""
        real = os.path.join(os.path.realpath(os.path.dirname(path)), os.path.basename(path))
        return name_from(self.folder, real)

    def of(self, file: str) -> list[Entry]:
        return list(self._by_file.get(file, ()))

    def lost(self, seen: Collection[str]) -> Iterator[Entry]:
        """Entries of files that are there no more; `seen` are those that a run has looked at."""
        for file in self._by_file.keys() - seen:
            if not os.path.lexists(os.path.join(self.folder, file)):
                yield from self._by_file[file]

    def sift(
        self,
        report: Report,
        path: str,
        by: Choices,
        doubtful: Collection[str] = (),
        only: Collection[str] | None = None,
        *,
        grow: bool = False,
    ) -> Sifted:
        """What is known, new and gone of one report, of the setup at `path`. What may never be waived is not hidden here
        either, and where nothing could be judged nothing is. `doubtful_rules` are further rules of which it cannot be told
        whether they would have spoken, as of those that are not in `only`; with `grow`, what is new counts as known."""
        if not (report.states or report.texts.is_shared_file):
            return Sifted(report)
        file = self.key(path)
        left = self.of(file)
        known, new, remarks = self._matched(report, left, by)
        taken = {id(finding) for finding in (known + new if grow else known)}
        sifted = replace(
            report,
            findings=tuple(x for x in report.findings if id(x) not in taken),
            baselined=tuple(x for x in report.findings if id(x) in taken),
            remarks=(*report.remarks, *remarks),
        )
        open_rules = _open(report) | set(doubtful) | by.left_out
        unread = any(finding.rule == UNREAD for finding in report.findings)
        judged = [e for e in left if e.rule not in open_rules and (only is None or e.rule in only)]
        gone = () if unread else tuple(judged)
        return Sifted(sifted, gone, tuple(self.entry(file, x) for x in new) if grow else ())

    def _matched(
        self, report: Report, left: list[Entry], by: Choices
    ) -> tuple[list[Finding], list[Finding], list[Remark]]:
        """The findings that are known, those that are new, and what there is to say of those that may not be hidden, or are not
        what they were. Entries that are found are taken out of `left`; those with the same message first."""
        known: list[Finding] = []
        new: list[Finding] = []
        remarks: list[Remark] = []
        for finding in sorted(report.findings, key=lambda one: not any(one.message == e.message for e in left)):
            may = finding.rule != UNREAD and by.never_waive.isdisjoint(finding.named_by)
            entry = _match(finding, left)
            if entry is not None:
                left.remove(entry)
            if entry is not None and may and _is_another_danger(finding, entry):
                remarks.append(_another(finding, entry))
            if may:
                (known if entry is not None or self._of_part(finding, report) else new).append(finding)
            elif entry is not None:
                remarks.append(_refused(finding, by))
        return known, new, remarks

    def _of_part(self, finding: Finding, report: Report) -> bool:
        """Whether it is a mistake of a shared part, and known of that."""
        name = report.where(finding.primary).name
        return (
            name != report.name
            and finding.rule in rulebook.names_asked(LOADING)
            and bool(_match(finding, self.of(self.key(name))))
        )

    @staticmethod
    def entry(file: str, finding: Finding) -> Entry:
        return Entry(file, finding.rule, finding.subject, finding.signal, finding.message)

    def text(self) -> str:
        """The file's text."""
        lines = [json.dumps({HEAD: VERSION})]
        for entry, times in sorted(Counter(self.entries).items()):
            several = {TIMES: times} if times > 1 else {}
            lines.append(json.dumps({**entry._asdict(), "fingerprint": entry.fingerprint, **several}))
        return "\n".join(lines) + "\n"

    def changed(self, path: str, new: Iterable[Entry], gone: Iterable[Entry]) -> Baseline:
        """The same without some entries, and with others."""
        count = Counter(self.entries)
        count.subtract(Counter(gone))
        return Baseline(path, (*(+count).elements(), *new))


@lru_cache(maxsize=4)
def read_baseline(path: str, files: GitFiles | None = None) -> Baseline:
    """Read one, once in a process: from the disk, or from git's objects. FileNotFoundError where there is none, BaselineError
    where it is none."""
    source = DISK if files is None else GitSource(files)
    name = path if files is None else source.shown(os.path.abspath(path))
    try:
        data = source.content(os.path.abspath(path), os.sep, LARGEST)
    except FileNotFoundError:
        raise
    except OSError as error:
        why = f"cannot be read: {error.strerror}" if error.strerror else str(error).removeprefix("it is ")
        raise BaselineError(f"{name}: {why}") from None
    if len(data) > LARGEST:
        raise BaselineError(f"{name}: more than {LARGEST:,} bytes")
    return Baseline(path, _entries(data, name), data)


def _entries(data: bytes, name: str) -> Iterator[Entry]:
    try:
        lines = data.decode("utf-8-sig").split("\n")
    except UnicodeDecodeError as error:
        at = data.count(b"\n", 0, error.start) + 1
        raise BaselineError(f"{name}:{at}:1: not UTF-8") from None
    head, *rest = lines
    _check_head(head, f"{name}:1:1")
    found: Counter[Entry] = Counter()
    for n, line in enumerate(rest, start=2):
        if line.strip():
            entry, times = _entry(line, f"{name}:{n}")
            found[entry] = max(found[entry], times)
    if found.total() > MOST:
        raise BaselineError(f"{name}: its entries stand for more than {MOST:,} findings")
    return found.elements()


def _check_head(line: str, where: str) -> None:
    values = _object(line, where.removesuffix(":1"))
    if HEAD not in values or set(values) != {HEAD}:
        raise BaselineError(f'{where}: no baseline: its first line is {{"{HEAD}": {VERSION}}}')
    if values[HEAD] != VERSION or type(values[HEAD]) is not int:
        raise BaselineError(f"{where}: a baseline of another version; this setuplint knows version {VERSION}")


def _entry(line: str, where: str) -> tuple[Entry, int]:
    """An entry, and for how many findings it stands."""
    values = _object(line, where)
    times = values.pop(TIMES, 1)
    if type(times) is not int or not 1 <= times <= MOST:
        raise BaselineError(f"{where}:1: {TIMES} is a whole number from 1 to {MOST:,}")
    if set(values) != set(KEYS) or not all(isinstance(value, str) for value in values.values()):
        raise BaselineError(f"{where}:1: no entry: it has {', '.join(KEYS)}, each a text")
    fingerprint = values.pop("fingerprint")
    entry = Entry(**values)
    if entry.signal not in SIGNALS:
        raise BaselineError(f"{where}:1: signal is one of {', '.join(SIGNALS)}")
    if os.path.isabs(entry.file) or "\0" in entry.file or not entry.file:
        raise BaselineError(f"{where}:1: file is a path from the folder of the baseline")
    if entry.fingerprint != fingerprint:
        raise BaselineError(f"{where}:1: the fingerprint is not that of this rule, file and subject: edited by hand?")
    return entry, times


def _object(line: str, where: str) -> dict[str, Any]:
    if len(line) > LONGEST:
        raise BaselineError(f"{where}:1: a line of more than {LONGEST:,} characters")
    try:
        values = json.loads(line)
    except json.JSONDecodeError as error:
        conflict = "; a merge was left undone" if line.startswith(("<<<<<<<", "=======", ">>>>>>>")) else ""
        raise BaselineError(f"{where}:{error.colno}: not JSON{conflict}") from None
    except (RecursionError, ValueError):
        raise BaselineError(f"{where}:1: not JSON that an entry could be") from None
    if not isinstance(values, dict):
        raise BaselineError(f"{where}:1: not an object")
    return values


def doubtful_rules(setup: Mapping[str, Any], radios: Collection[str]) -> set[str]:
    """The rule that compares the setups of a radio, where a run has not looked at others of it."""
    craft = setup.get("craft")
    radio = craft.get("radio") if isinstance(craft, dict) else None
    if radio is None or radio in radios:
        return set()
    return {rule.name for rule in rulebook.rules().values() if RADIO in rule.needs}


def _match(finding: Finding, entries: list[Entry]) -> Entry | None:
    """The entry that it is known by: of several the one with its message. A graver finding than that is new."""
    same = [e for e in entries if (e.rule, e.subject) == (finding.rule, finding.subject)]
    same = [e for e in same if SIGNALS.index(finding.signal) >= SIGNALS.index(e.signal)]
    return next((e for e in same if e.message == finding.message), same[0] if same else None)


def _open(report: Report) -> set[str]:
    """The rules that were not judged or not decided."""
    undecided = [x.subject.partition(" ")[0] for x in (*report.findings, *report.waived) if x.rule == "not-decided"]
    return {*undecided, *(note.rule for note in report.not_judged)}


def _is_another_danger(finding: Finding, entry: Entry) -> bool:
    """Whether a danger's numbers are not those that it was known with. Its words may be those of another setuplint."""
    return finding.signal == SIGNALS[0] and NUMBER.findall(finding.message) != NUMBER.findall(entry.message)


def _another(finding: Finding, entry: Entry) -> Remark:
    said = f"{finding.rule} is in the baseline, and is another now: {finding.message}; in the baseline: {entry.message}"
    return Remark("changed", said, finding.primary)


def _refused(finding: Finding, by: Choices) -> Remark:
    what = finding.rule if finding.rule in by.never_waive else f"a {finding.signal}"
    of = f" of {finding.subject}" if finding.subject else ""
    return Remark(
        "refused", f"the baseline does not hide {finding.rule}{of}: setuplint.toml has {what} under never-waive",
        finding.primary,
    )  # fmt: skip
