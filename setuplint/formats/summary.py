"""The sum of a run: the counts of every file, added up."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import NamedTuple

from setuplint.book.rule_file import Rule
from setuplint.findings import SIGNALS, Finding, Place, Remark, Report

CAUTION = (
    "Check on the bench with the motor disconnected or the blades off, and restrain the craft before a pack is "
    "connected. National rules, the club's field rules and the makers' manuals come first. A clean result is not a "
    "clearance to fly: it is true of the transmitter only once it has been checked there, on the bench."
)
ADVICE = "a rule of thumb, or worked out from estimates: not a proof."


class OpenRule(NamedTuple):
    """A rule that was not judged in a file, and what would let it be."""

    file: str
    rule: str
    because: str
    subject: str


class WaivedFinding(NamedTuple):
    """A finding that a waiver covers, with the place of the waiver (line and column from 1) and its words."""

    file: str
    line: int
    column: int
    rule: str
    subject: str
    signal: str
    message: str
    reason: str
    until: str  # the last day, as 2027-04-01; empty without an end


class WaiverRemark(NamedTuple):
    """A remark about a waiver, which fails nothing. `kind`: ends-soon, or refused."""

    file: str
    line: int
    column: int
    kind: str
    message: str


class BaselineFinding(NamedTuple):
    """A finding that a baseline holds, or held while it still occurred."""

    file: str
    rule: str
    subject: str
    signal: str
    message: str


class RuleSet(NamedTuple):
    """What files were judged by. `pinned`: the edition is the one that setuplint.toml asks for, not merely the newest."""

    edition: int
    pinned: bool
    config: str  # the setuplint.toml, or empty


class Cause(NamedTuple):
    """The rules that are not judged for one cause, and the files in which that is so."""

    rules: dict[str, None]
    files: set[str]


@dataclass(slots=True)
class Summary:
    """Counts over files. `rules` is the most rules that were decided for one file, `states` the sum."""

    fail_on: str = "caution"  # the strictest, where files differ
    mixed: bool = False
    files: int = 0
    found: dict[str, int] = field(default_factory=lambda: dict.fromkeys(SIGNALS, 0))
    failing: int = 0  # findings at or above the threshold of their file
    waived: dict[str, int] = field(default_factory=dict)  # by rule
    covered: list[WaivedFinding] = field(default_factory=list)  # the waived findings
    audit: bool = False  # waivers hide nothing in this run
    audited: int = 0  # findings that a waiver covers, reported all the same in an audit
    remarks: list[WaiverRemark] = field(default_factory=list)
    baselined: dict[str, int] = field(default_factory=lambda: dict.fromkeys(SIGNALS, 0))
    dangers: list[BaselineFinding] = field(default_factory=list)  # dangers in the baseline
    gone: list[BaselineFinding] = field(default_factory=list)  # in the baseline, and no longer found
    dropped: list[BaselineFinding] = field(
        default_factory=list
    )  # no longer found, and left out of the baseline in this run
    added: int = 0  # findings that were put into the baseline in this run
    baseline: str = ""  # the baseline's file, where it was written
    clubs: dict[str, Rule] = field(default_factory=dict)  # rules that are not of the book, by name
    rule_sets: dict[RuleSet, int] = field(default_factory=dict)  # how many files were judged by each
    open: list[OpenRule] = field(default_factory=list)
    states: int = 0
    rules: int = 0
    parts: int = 0  # shared parts: read for their own mistakes
    extending: int = 0  # of `files`, those that were not given, but extend a shared part that was
    passed_over: int = 0  # TOML files in a folder that are not setups
    links: int = 0  # links that lead out of a folder, not followed
    troubles: list[str] = field(default_factory=list)  # what could not be read at all, and why

    @property
    def below(self) -> int:
        """Findings under the threshold: they are shown, and fail nothing."""
        return sum(self.found.values()) - self.failing

    @property
    def status(self) -> int:
        """The exit status: 0 nothing at or above the threshold, 1 findings, 2 not everything could be looked at."""
        if self.troubles or not self.files:
            return 2
        return 1 if self.failing else 0

    def add(self, other: Summary) -> None:
        if other.files:
            self.mixed |= bool(self.files) and self.fail_on != other.fail_on
            self.fail_on = max(self.fail_on, other.fail_on, key=SIGNALS.index) if self.files else other.fail_on
        self.files += other.files
        for mine, more in ((self.found, other.found), (self.waived, other.waived), (self.baselined, other.baselined)):
            for key, count in more.items():
                mine[key] = mine.get(key, 0) + count
        self.clubs |= other.clubs
        for one, count in other.rule_sets.items():
            self.rule_sets[one] = self.rule_sets.get(one, 0) + count
        self.failing += other.failing
        self.covered += other.covered
        self.audited += other.audited
        self.remarks += other.remarks
        self.dangers += other.dangers
        self.gone += other.gone
        self.dropped += other.dropped
        self.added += other.added
        self.open += other.open
        self.states += other.states
        self.rules = max(self.rules, other.rules)
        self.parts += other.parts
        self.extending += other.extending
        self.passed_over += other.passed_over
        self.links += other.links
        self.troubles += other.troubles


def summary_of(report: Report, fail_on: str = "caution", troubles: Iterable[str] = ()) -> Summary:
    """The counts of one file; `troubles` are what could not be done with it."""
    part = int(report.texts.is_shared_file)
    one = Summary(
        fail_on, files=1 - part, parts=part, states=report.states, rules=report.rules, troubles=list(troubles)
    )
    for finding in report.findings:
        one.found[finding.signal] += 1
        one.audited += finding.waiver is not None
    one.failing = len(report.at_least(fail_on))
    for finding in report.waived:
        one.waived[finding.rule] = one.waived.get(finding.rule, 0) + 1
    one.covered = [waived_finding(report, finding) for finding in report.waived]
    one.remarks = [waiver_remark(report, remark) for remark in report.remarks]
    for finding in report.baselined:
        one.baselined[finding.signal] += 1
    one.dangers = [baseline_finding(report, finding) for finding in report.baselined if finding.signal == "danger"]
    one.rule_sets = {RuleSet(report.edition, report.pinned, report.config): 1}
    one.open = [OpenRule(report.name, item.rule, item.because, item.subject) for item in report.not_judged]
    return one


def open_by_cause(items: Iterable[OpenRule]) -> dict[str, Cause]:
    """What was not judged, by its cause."""
    causes: dict[str, Cause] = {}
    for item in items:
        rules, where = causes.setdefault(item.because, Cause({}, set()))
        rules[item.rule] = None
        where.add(item.file)
    return causes


def of_subject(subject: str) -> str:
    return f" of {subject}" if subject else ""


def waived_finding(report: Report, finding: Finding) -> WaivedFinding:
    waiver = finding.waiver
    where = report.where(Place(("waivers", waiver.index)) if waiver else finding.primary)
    reason, until = (waiver.reason, waiver.until) if waiver else ("", None)
    return WaivedFinding(
        where.name, *where.start, finding.rule, finding.subject, finding.signal, finding.message, reason,
        until.isoformat() if until else "",
    )  # fmt: skip


def waiver_remark(report: Report, remark: Remark) -> WaiverRemark:
    where = report.where(remark.primary)
    return WaiverRemark(where.name, *where.start, remark.kind, remark.message)


def baseline_finding(report: Report, finding: Finding) -> BaselineFinding:
    return BaselineFinding(report.name, finding.rule, finding.subject, finding.signal, finding.message)
