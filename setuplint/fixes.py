"""Mechanical remedies: which edits of findings may be applied without a question.

A remedy is applied only where a lint of the text after it, by every rule, shows its finding gone, no other finding come
(none of another rule or subject, waived ones counted) and nothing that could be judged before left open, and where it is
proved that outputs change in no moment but those of the hazard. All others are offered, with what speaks against them.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection

from setuplint.book.run import RECORD
from setuplint.budget import Spent
from setuplint.findings import Finding, Report
from setuplint.formats.patch import edited_text
from setuplint.formats.summary import of_subject
from setuplint.named_tuple import NamedTuple
from setuplint.setup.model import Setup

BOM = b"\xef\xbb\xbf"
MOST = 100  # lints for one file: texts come from strangers, and each remedy that is tried costs one
READING = 8  # units of work a byte, in each of them

Lint = Callable[[bytes], Report]
Load = Callable[[bytes], Setup]


class Offer(NamedTuple):
    """A remedy that is not applied, and why."""

    finding: Finding
    because: str


class Remedies(NamedTuple):
    """The file after those remedies that were applied, the others, and the report of that file by every rule."""

    data: bytes
    applied: tuple[Finding, ...]
    offered: tuple[Offer, ...]
    report: Report


def remedies(
    data: bytes,
    report: Report,
    lint: Lint,
    only: Collection[str] | None = None,
    load: Load | None = None,
) -> Remedies:
    """What becomes of a file. `report` is of `data` and, as those of `lint`, by every rule; `only` names the rules whose
    remedies are wanted. `load` reads a text for the proof that outputs change only where the hazard was; without it
    every remedy after which the lint is better is applied. Each one is tried after those before it, in the order of the
    file, until none is left that can be applied: what comes out of it, given again, stays as it is."""
    file = _Mending(data, report, lint, load)
    while True:
        before = len(file.applied)
        offered: list[Offer] = []
        for finding in [x for x in file.report.findings if x.edit is not None and (only is None or x.rule in only)]:
            if file.has(finding):  # a remedy before it may have removed or changed it
                because = file.apply(finding)
                offered += [Offer(finding, because)] if because else []
        if len(file.applied) == before or file.is_spent:
            return Remedies(file.data, tuple(file.applied), tuple(offered), file.report)


class _Mending:
    """A file on its way: its text with the remedies that were applied so far, and the report of that."""

    def __init__(self, data: bytes, report: Report, lint: Lint, load: Load | None) -> None:
        self.become(data, report)
        self.applied: list[Finding] = []
        self.tries = 0
        self.spent = Spent(work=report.work)  # the first lint, all that come after it, and the proofs
        self._lint, self._load = lint, load

    def become(self, data: bytes, report: Report) -> None:
        """Go on from a text and its report."""
        self.data, self.report = data, report
        self._by_cause: dict[tuple[str, str], list[Finding]] = {}
        for finding in report.findings:
            self._by_cause.setdefault((finding.rule, finding.subject), []).append(finding)

    def has(self, finding: Finding) -> bool:
        """Whether the report has it just so; in thousands they are not compared with one another."""
        return finding in self._by_cause.get((finding.rule, finding.subject), ())

    @property
    def is_spent(self) -> bool:
        """Whether one more lint might take more than may be spent on one file."""
        one_more = self.report.work + READING * len(self.data)
        return self.tries >= MOST or self.spent.work + one_more > self.spent.most

    def apply(self, finding: Finding) -> str:
        """Apply the remedy of one of its findings, if nothing is against it; the reason where something is, else empty."""
        texts, edit = self.report.texts, finding.edit
        if edit and texts.is_shared(edit.path):
            return f"it is in {texts.holder(edit.path).name}, which other setups may extend: change it there"
        if self.is_spent:
            if not self.tries:
                return "not tried: to judge this file once more would take more than may be spent on one"
            before = "one" if self.tries == 1 else self.tries
            return f"not tried: the {before} before it took all that may be spent on one file"
        text = edited_text(self.report.document, edit) if edit else None
        if text is None:
            return "it does not fit into the text as it is written"
        self.tries += 1
        after = (BOM if self.data.startswith(BOM) else b"") + text.encode()
        then = self._lint(after)
        self.spent.work += then.work + READING * len(after)
        because = objection(finding, self.report, then)
        if not because and self._load:
            because = change_elsewhere(finding, self._load(self.data), self._load(after), self.spent)
        if not because:
            self.become(after, then)
            self.applied.append(finding)
        return because


def change_elsewhere(finding: Finding, old: Setup, new: Setup, spent: Spent | None = None) -> str:
    """What is against a remedy, by the outputs of the set-ups before and after it; empty where they are proved to change
    in no state but those of the hazard."""
    from setuplint.comparison.safety import changes_elsewhere

    return changes_elsewhere(old, new, finding.hazard, spent)


def objection(finding: Finding, before: Report, after: Report) -> str:
    """What is against a remedy, by the lint after it; empty where nothing does."""
    worse = new_finding(before, after)
    if worse:
        return worse
    cause = (finding.rule, finding.subject)
    if _counts(after)[cause] >= _counts(before)[cause]:
        return "the finding stays"
    known = {(note.rule, note.subject) for note in before.not_judged}
    for note in after.not_judged:
        if (note.rule, note.subject) not in known:
            return f"then {note.rule} cannot be judged{of_subject(note.subject)}"
    return ""


def new_finding(before: Report, after: Report) -> str:
    """A finding that is new; empty where there is none."""
    return next(
        (f"then {rule} reports {subject or 'something'}" for rule, subject in _counts(after) - _counts(before)), ""
    )


def _counts(report: Report) -> Counter[tuple[str, str]]:
    """A record is never of a text that is only tried."""
    said = (*report.findings, *report.waived)
    return Counter((finding.rule, finding.subject) for finding in said if finding.rule != RECORD)
