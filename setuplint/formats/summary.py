"""The sum of a run: the counts of every file, added up; and what they come to, for every output: what was found, not judged and
not decided, and beside it what is hidden."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from setuplint.book.rule_file import Rule
from setuplint.dataclass import dataclass, field
from setuplint.findings import SIGNALS, Finding, Place, Remark, Report, shortened
from setuplint.formats.document import Phrase
from setuplint.formats.numbers import counted
from setuplint.formats.passed_over import REASONS, PassedOver, passed_over_words
from setuplint.formats.terminal import Look
from setuplint.named_tuple import NamedTuple

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
    """A remark, which fails nothing. Its kinds are told in report.toml."""

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


class Overflow(NamedTuple):
    """How many findings of a rule in a file are only counted: see `shortened`."""

    file: str
    rule: str
    signal: str
    number: int

    @property
    def words(self) -> str:
        return f"and {self.number:,} more of {self.rule}"


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
    found: dict[str, int] = field(default_factory=lambda: dict.fromkeys(SIGNALS, 0))  # without what was not decided
    not_decided: dict[str, int] = field(default_factory=lambda: dict.fromkeys(SIGNALS, 0))
    failing: int = 0  # of both, what is at or above the threshold of its file
    danger_open: int = 0  # of the files without, those in which not all rules about danger are judged: they fail too
    overflow: list[Overflow] = field(default_factory=list)
    left_out: int = 0  # rules that an edition does not have: the most for one file
    waived: dict[str, int] = field(default_factory=dict)  # by rule
    covered: list[WaivedFinding] = field(default_factory=list)  # the waived findings
    audit: bool = False  # waivers hide nothing in this run
    audited: int = 0  # findings that a waiver covers, reported all the same in an audit
    remarks: list[WaiverRemark] = field(default_factory=list)
    baselined: dict[str, int] = field(default_factory=lambda: dict.fromkeys(SIGNALS, 0))
    dangers: list[BaselineFinding] = field(default_factory=list)  # dangers in the baseline
    gone: list[BaselineFinding] = field(default_factory=list)  # in the baseline, and no longer found
    dropped: list[BaselineFinding] = field(default_factory=list)  # no longer found, and left out of it in this run
    added: int = 0  # findings that were put into the baseline in this run
    baseline: str = ""  # the baseline's file, where it was written
    attribute: str = ""  # the line of .gitattributes that it lacks for git to merge it
    clubs: dict[str, Rule] = field(default_factory=dict)  # rules that are not of the book, by name
    rule_sets: dict[RuleSet, int] = field(default_factory=dict)  # how many files were judged by each
    open: list[OpenRule] = field(default_factory=list)
    states: int = 0
    rules: int = 0
    parts: int = 0  # shared parts: read for their own mistakes
    neighbours: int = 0  # beside `files`, those that were not given, and compared with setups of their radio alone
    extending: int = 0  # of `files`, those that were not given, but extend a shared part that was
    passed_over: list[PassedOver] = field(default_factory=list)  # what was not looked at, and why
    verbose: bool = False  # that is listed, not only counted
    troubles: list[str] = field(default_factory=list)  # what could not be read at all, and why

    @property
    def below(self) -> int:
        """Findings under the threshold: they are shown, and fail nothing."""
        return sum((*self.found.values(), *self.not_decided.values())) - self.failing

    @property
    def open_words(self) -> str:
        """Why it fails though no finding may be grave enough; else empty."""
        where = "" if self.files == 1 else f" in {counted(self.danger_open, 'setup')}"
        return f"Not all rules about danger are judged{where}: that fails as a danger does." if self.danger_open else ""

    @property
    def listed(self) -> dict[str, int]:
        """The findings that are listed, by signal word: with what was not decided, without those that are only counted."""
        over = {signal: sum(each.number for each in self.overflow if each.signal == signal) for signal in SIGNALS}
        return {signal: self.found[signal] + self.not_decided[signal] - over[signal] for signal in SIGNALS}

    @property
    def tally(self) -> Tally:
        """What all of it comes to."""
        only_counted = sum(each.number for each in self.overflow)
        counts = (sum(self.waived.values()), sum(self.baselined.values()), self.left_out, only_counted)
        hidden = {what: count for what, count in zip(HIDDEN, counts, strict=True) if count}
        nothing = "nothing found" if self.files else "nothing was checked"
        return Tally(self.found, len(self.open), sum(self.not_decided.values()), hidden, nothing)

    @property
    def beside(self) -> str:
        """What the headline says of those that were not given: `; 1 compared alone`, or nothing."""
        return f"; {self.neighbours:,} compared alone" if self.neighbours else ""

    def compare_alone(self) -> None:
        """Count what was only compared with others as that: it was not judged."""
        self.neighbours, self.files, self.states, self.danger_open, self.rule_sets = self.files, 0, 0, 0, {}

    @property
    def status(self) -> int:
        """The exit status: 0 nothing at or above the threshold, 1 findings, 2 not everything could be looked at."""
        if self.troubles or not self.files:
            return 2
        return 1 if self.failing or self.danger_open else 0

    def add(self, other: Summary) -> None:
        if other.files or other.neighbours:
            self.mixed |= bool(self.files) and self.fail_on != other.fail_on
            self.fail_on = max(self.fail_on, other.fail_on, key=SIGNALS.index) if self.files else other.fail_on
        for name in COUNTS:
            setattr(self, name, getattr(self, name) + getattr(other, name))
        for name in MOST:
            setattr(self, name, max(getattr(self, name), getattr(other, name)))
        for name in LISTS:
            getattr(self, name).extend(getattr(other, name))
        for name in NUMBERS:
            mine = getattr(self, name)
            for key, count in getattr(other, name).items():
                mine[key] = mine.get(key, 0) + count
        self.clubs |= other.clubs


# How the fields of two summaries go together.
COUNTS = ("files", "failing", "danger_open", "audited", "added", "states", "parts", "extending", "neighbours")
MOST = ("rules", "left_out")
LISTS = ("overflow", "covered", "remarks", "dangers", "gone", "dropped", "open", "troubles", "passed_over")
NUMBERS = ("found", "not_decided", "waived", "baselined", "rule_sets")


def summary_of(report: Report, fail_on: str = "caution", troubles: Iterable[str] = ()) -> Summary:
    """The counts of one file; `troubles` are what could not be done with it."""
    part = int(report.texts.is_shared_file)
    one = Summary(
        fail_on, files=1 - part, parts=part, states=report.states, rules=report.rules, left_out=report.left_out,
        overflow=overflow(report), troubles=list(troubles),
    )  # fmt: skip
    for finding in report.findings:
        (one.not_decided if finding.rule == "not-decided" else one.found)[finding.signal] += 1
        one.audited += finding.waiver is not None
    one.failing = len(report.at_least(fail_on))
    one.danger_open = int(report.is_open and not one.failing)
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


def kept_apart(summary: Summary) -> Iterator[tuple[str, list[str]]]:
    """What waivers and a baseline keep from the findings, and what there is to say of them: a title and its items, either of
    which may be empty."""
    if summary.audit:
        are = "is" if summary.audited == 1 else "are"
        yield f"Waivers hide nothing here: {counted(summary.audited, 'finding')} {are} waived.", []
    if summary.waived:
        named = ", ".join(f"{rule} {count}" for rule, count in sorted(summary.waived.items()))
        grave = sorted(summary.covered, key=lambda each: SIGNALS.index(each.signal))
        yield (
            f"Waived: {sum(summary.waived.values())} ({named}).",
            [
                f"{each.file}:{each.line}:{each.column}: {each.signal} {each.rule}{of_subject(each.subject)}, "
                f"{f'until {each.until}' if each.until else 'without an end'}: {each.reason}"
                for each in grave
            ],
        )
    if summary.remarks:
        yield "", [f"{each.file}:{each.line}:{each.column}: {each.message}." for each in summary.remarks]
    kept = [counted(summary.baselined[signal], signal) for signal in SIGNALS if summary.baselined[signal]]
    if kept:
        dangers = [f"{each.file}: {each.message} [{each.rule}]" for each in summary.dangers]
        yield f"In the baseline: {', '.join(kept)}.", dangers
    if summary.baseline:
        out = f", {len(summary.dropped):,} that {'is' if len(summary.dropped) == 1 else 'are'} no longer found left out"
        added = f"Written to {summary.baseline}: {summary.added:,} added{out if summary.dropped else ''}."
        yield added, [f"{each.file}: {each.rule}{of_subject(each.subject)}" for each in summary.dropped]
    if summary.attribute:
        yield f"Two branches that add to it conflict: add `{summary.attribute}` to .gitattributes.", []
    if summary.gone:
        title = f"No longer found, and still in the baseline: {len(summary.gone)}."
        yield title, [f"{each.file}: {each.rule}{of_subject(each.subject)}" for each in summary.gone]


def passed_over_lines(summary: Summary) -> tuple[str, list[str]]:
    """What was not looked at, counted by reason, and with `verbose` each with its reason; empty where there is nothing."""
    words = passed_over_words(summary.passed_over)
    listed = summary.passed_over if summary.verbose else []
    return words and f"Passed over: {words}.", [f"{each.file}: {REASONS[each.because][0]}" for each in listed]


def overflow(report: Report) -> list[Overflow]:
    return [Overflow(report.name, *of, number) for of, number in shortened(report.findings).more.items()]


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


HIDDEN = {
    "waived": "{} waived",
    "baselined": "{} in the baseline",
    "left-out": "rules left out by the edition: {}",
    "only-counted": "{} of the findings only counted",
}


class Tally(NamedTuple):
    """`found` is by signal word, without what was not decided; `hidden` by the keys of HIDDEN, without zeros."""

    found: Mapping[str, int]
    not_judged: int = 0
    not_decided: int = 0
    hidden: Mapping[str, int] = {}
    nothing: str = "nothing found"

    @property
    def is_clean(self) -> bool:
        """Nothing found, with nothing left open and nothing hidden."""
        counts = (*self.found.values(), self.not_judged, self.not_decided, *self.hidden.values())
        return self.nothing == "nothing found" and not any(counts)

    def phrases(self) -> list[Phrase]:
        """`2 dangers`, `8 not judged`, `1 not decided`. That nothing was found is good only where it stands alone."""
        said = [Phrase(counted(self.found[signal], signal), f"signal {signal}", True)
                for signal in SIGNALS if self.found[signal]]  # fmt: skip
        said = said or [Phrase(self.nothing, "signal good" if self.is_clean else "signal", True)]
        still_open = (self.not_judged, "not judged"), (self.not_decided, "not decided")
        return said + [Phrase(f"{count:,} {what}", "open", True) for count, what in still_open if count]

    @property
    def hidden_words(self) -> str:
        """`; hidden: 3 waived, 2 in the baseline`, or nothing."""
        said = [HIDDEN[what].format(f"{count:,}") for what, count in self.hidden.items()]
        return f"; hidden: {', '.join(said)}" if said else ""

    def words(self) -> list[str | Phrase]:
        """All of it, as words of a document."""
        first, *others = self.phrases()
        return [first, *(each for phrase in others for each in (", ", phrase)), self.hidden_words]

    def text(self, look: Look | None = None) -> str:
        look = look or Look()
        return ", ".join(look.paint(each.words, each.role.split()[-1]) for each in self.phrases()) + self.hidden_words

    def values(self) -> dict[str, object]:
        """As keys of JSON."""
        hidden = {what: self.hidden.get(what, 0) for what in HIDDEN}
        return {
            "found": {signal: self.found[signal] for signal in SIGNALS},
            "not-judged": self.not_judged,
            "not-decided": self.not_decided,
            "hidden": hidden,
        }
