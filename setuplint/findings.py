"""What a lint says: findings, what was not judged, and the report that holds both."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from fractions import Fraction

from setuplint.dataclass import dataclass, field
from setuplint.hints import TYPE_CHECKING, Any
from setuplint.named_tuple import NamedTuple
from setuplint.setup.formulas import Formula
from setuplint.setup.model import Waiver
from setuplint.setup.texts import Texts
from setuplint.source import Document, Path, Span

if TYPE_CHECKING:
    from setuplint.engine.answers import Timing

SIGNALS = ("danger", "caution", "notice")  # gravest first
FAIL_ON = "caution"  # the least that fails, where neither a command nor a setuplint.toml says
NEWEST = 2026  # the newest edition of the rule set
LINK_GONE = "then switch the transmitter off"  # what a case ends with whose outputs are the receiver's own
IN_FULL = 200  # findings of one rule in one file that are shown; more are counted

RENDERERS: dict[str, Callable[[Any], str]] = {}
"""HTML of a finding, of a report, and a report's whole page. `setuplint.library` fills it: pages are far above findings."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where something stands: a symbolic path, or, for text that is no setup, a span. `caption` says what it has to do
    with the finding. A path leads to the file that declares it, be it a shared part; `file` names one all the same."""

    path: Path = ()
    caption: str = ""
    key: bool = False  # point at the key, not at its value
    within: tuple[int, int] | None = None  # a part of the string value at `path`: offsets in the decoded string
    span: Span | None = None  # overrides all of the above
    file: str = ""  # the name of the text that is meant, where that is not the one that declares `path`


class Where(NamedTuple):
    """A place in a text: the name of its file, its document, and a span of that document's text."""

    name: str
    document: Document
    span: Span

    @property
    def start(self) -> tuple[int, int]:
        """Line and column, from 1."""
        return self.document.position(self.span.start)

    @property
    def end(self) -> tuple[int, int]:
        """Line and first column past the span."""
        return self.document.position(self.span.end)


@dataclass(frozen=True, slots=True)
class Edit:
    """A mechanical remedy: give the key at `path` this TOML text as its value (it is added where it is absent)."""

    path: Path
    value: str


Value = str | int | float


@dataclass(frozen=True, slots=True)
class Finding:
    """One cause of one hazard.

    `witness` names the controls that matter in the final state (switch: position, stick: percent, sensor: its unit, "lost"
    or "unheard"); `steps` the states before it from power-up, where memory matters, each as the controls moved in it
    (the first: off rest), the final state last; `outputs` the channels' outputs there in percent. With a `timing` the steps are
    taken at its seconds, and the hazard is there for a while.
    """

    rule: str
    signal: str
    message: str
    subject: str
    primary: Place
    related: tuple[Place, ...] = ()
    witness: Mapping[str, Value] = field(default_factory=dict)
    steps: tuple[Mapping[str, Value], ...] = ()
    outputs: Mapping[str, Fraction] = field(default_factory=dict)
    assumed: tuple[str, ...] = ()  # which of several possible meanings: a tie's winner, a curve's smoothing, a lag
    then: str = ""  # for questions about a movement or a time: what happens next, in words
    status: str = "proved"  # proved | advice
    estimate: str = ""  # arithmetic on estimates that goes with it, whatever its status: heights, times
    why: str = ""
    remedy: str = ""
    edit: Edit | None = None
    hazard: Formula | None = None  # with an edit: the states in which the hazard is, where a formula says it
    motors: frozenset[str] = frozenset()  # which of `outputs` drive a motor: printed on both scales
    waiver: Waiver | None = None  # the one that covers it: its reason and last day
    leaves_open: tuple[NotJudged, ...] = ()  # the rules about danger that wait for the key which it asks for
    timing: Timing | None = None
    pack: str = (
        ""  # the one that it is about, where that has other cells than the battery: its case shows that one's voltages
    )

    @property
    def named_by(self) -> frozenset[str]:
        """What a club may list it by: its rule, its signal word, and the rules that were not decided or not judged, where it
        stands for some."""
        stands_for = self.subject.partition(" ")[:1] if self.rule == "not-decided" else ()
        left = (word for note in self.leaves_open for word in (note.rule, note.signal))
        return frozenset((self.rule, self.signal, *stands_for, *left))

    def fingerprint(self, file: str) -> str:
        """The same while rule, file and subject are: moved lines and reformatting do not change it."""
        return _digest(self.rule, file, self.subject)

    def __str__(self) -> str:
        """What is wrong, where in the set-up, with which case, and what to do: a line each."""
        place = ".".join(map(str, self.primary.path))
        case = RENDERERS["case"](self) if RENDERERS else ""
        lines = [f"{self.signal}: {self.message} [{self.rule}]"]
        lines += [
            f"  {label}: {words}" for label, words in (("in", place), ("case", case), ("remedy", self.remedy)) if words
        ]
        return "\n".join(lines)

    def _repr_html_(self) -> str | None:
        """How a notebook shows it; None, so as text, where the library was never imported."""
        return RENDERERS["finding"](self) if RENDERERS else None


def _digest(rule: str, file: str, *words: str) -> str:
    """The same whichever system names the file."""
    import hashlib  # costs a lint that finds nothing too much

    written = "\0".join((rule, file.replace(os.sep, "/"), *words))
    return hashlib.sha256(written.encode(errors="surrogatepass")).hexdigest()[:16]  # a file's name may be no UTF-8


@dataclass(frozen=True, slots=True)
class NotJudged:
    """A rule that could not be decided, and the key or part that would let it be."""

    rule: str
    because: str
    subject: str = ""
    signal: str = field(default="", compare=False)  # the rule's
    is_absent: bool = field(default=False, compare=False)  # the craft has none of what a club's rule speaks of

    def fingerprint(self, file: str) -> str:
        """Never that of a finding: to be found and not to be judged are two things."""
        return _digest(self.rule, file, self.subject, "not judged", self.because)


@dataclass(frozen=True, slots=True)
class Remark:
    """What there is to say of a waiver, a claim or the start, and fails nothing. `kind` is "ends-soon" or "refused", of a waiver;
    "changed", of a danger in the baseline; "ramps", of a claim about a channel that takes its time; "start-warns", of a check
    at power-up that enforces nothing; "partly-proved", of a record that leaves boxes open; "supply-unknown" or "power-guessed",
    of what the file leaves open."""

    kind: str
    message: str
    primary: Place


class Shortened(NamedTuple):
    """Findings with no more than IN_FULL of a rule; `more` counts the others, by rule and signal word."""

    findings: tuple[Finding, ...]
    more: Mapping[tuple[str, str], int]


def shortened(findings: Iterable[Finding]) -> Shortened:
    """The first findings of each rule."""
    kept: list[Finding] = []
    seen, more = Counter[str](), Counter[tuple[str, str]]()
    for finding in findings:
        seen[finding.rule] += 1
        if seen[finding.rule] <= IN_FULL:
            kept.append(finding)
        else:
            more[finding.rule, finding.signal] += 1
    return Shortened(tuple(kept), more)


@dataclass(frozen=True, slots=True)
class Report:
    """All that a lint of one file says. `findings` are the gravest first, then in the order of the file, those in shared parts
    after its own; those that a waiver covers (each has its `waiver`) or a baseline holds are kept apart."""

    name: str
    texts: Texts
    findings: tuple[Finding, ...] = ()
    not_judged: tuple[NotJudged, ...] = ()
    waived: tuple[Finding, ...] = ()
    baselined: tuple[Finding, ...] = ()
    remarks: tuple[Remark, ...] = ()
    states: int = 0  # states of the controls (cells of them) that the verdicts cover
    rules: int = 0  # rules that were decided
    work: int = 0  # what that took, in units of the budget
    edition: int = NEWEST  # of the rule set
    pinned: bool = False  # whether setuplint.toml asks for that edition; else it is the newest
    config: str = ""  # the setuplint.toml that holds for it, if any
    left_out: int = 0  # rules of the book that this edition does not have

    @property
    def document(self) -> Document:
        """The setup's own text, without shared parts."""
        return self.texts.own

    @property
    def values(self) -> Mapping[str, Any]:
        """What the setup and its shared parts say together, as read."""
        return self.texts.values

    def where(self, place: Place) -> Where:
        """The file and the span that a place stands for."""
        document = self.texts.holder(() if place.span else place.path, place.file)
        return Where(document.name, document, _span(document, place))

    @property
    def open_dangers(self) -> tuple[NotJudged, ...]:
        """The rules about danger that are not judged, and of which no `dangers-not-judged` tells the key that is not given: that
        is a caution, as RULES.md has it. None in a file without channels: that is at its beginning."""
        if "channels" not in self.values and not any(path[:1] == ("channels",) for path in self.document.broken):
            return ()
        told = {note for finding in (*self.findings, *self.waived, *self.baselined) for note in finding.leaves_open}
        grave = (note for note in self.not_judged if note.signal == SIGNALS[0] and not note.is_absent)
        return tuple(note for note in grave if note not in told)

    @property
    def is_open(self) -> bool:
        """Whether there may be a danger that nobody looked for: to a gate that is as grave as one. A shared part is judged with
        the setups that extend it."""
        nothing_judged = self.texts.is_unread and bool(self.findings)
        return not self.texts.is_shared_file and (nothing_judged or bool(self.open_dangers))

    def at_least(self, signal: str) -> tuple[Finding, ...]:
        """The findings at or above a signal word."""
        grave = SIGNALS[: SIGNALS.index(signal) + 1]
        return tuple(f for f in self.findings if f.signal in grave)

    def to_html(self) -> str:
        """The page that `setuplint report` writes, all in one: nothing is fetched, and it can be read without a script. The
        floor that it draws for the battery is the rule book's, also where a club's is stricter. KeyError where
        `setuplint.library` was never imported."""
        return RENDERERS["page"](self)

    def __str__(self) -> str:
        """As `setuplint lint` prints it; as a record where the library was never imported."""
        return RENDERERS["text"](self) if RENDERERS else repr(self)

    def _repr_html_(self) -> str | None:
        """How a notebook shows it; None, so as text, where the library was never imported."""
        return RENDERERS["report"](self) if RENDERERS else None


def _span(document: Document, place: Place) -> Span:
    if place.span is not None:
        return place.span
    if place.within is not None:
        start, end = (document.string_offset(place.path, at) for at in place.within)
        return Span(start, end)
    if place.key:
        return document.key_span(place.path) or document.span(place.path)
    return document.span(place.path)
