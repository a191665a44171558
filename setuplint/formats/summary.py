"""What a run comes to: the counts of every file, added up."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import NamedTuple

from setuplint.findings import SIGNALS, Report

CAUTION = (
    "Check on the bench with the motor disconnected or the blades off, and restrain the craft before a pack is "
    "connected. National rules, the club's field rules and the makers' manuals come first. A clean result is not a "
    "clearance to fly: it is true of the transmitter only once it has been checked there, on the bench."
)


class Open(NamedTuple):
    """A rule that was not judged, in which file, and what would let it be."""

    file: str
    rule: str
    because: str
    subject: str


@dataclass(slots=True)
class Summary:
    """Counts over files. `rules` is the most rules that were decided for one file, `states` the sum."""

    fail_on: str = "caution"
    files: int = 0
    found: dict[str, int] = field(default_factory=lambda: dict.fromkeys(SIGNALS, 0))
    waived: dict[str, int] = field(default_factory=dict)  # by rule
    open: list[Open] = field(default_factory=list)
    states: int = 0
    rules: int = 0
    passed_over: int = 0  # TOML files in a folder that are no setups
    links: int = 0  # links that lead out of a folder, not followed
    troubles: list[str] = field(default_factory=list)  # what could not be read at all, and why

    @property
    def failing(self) -> int:
        """Findings at or above the threshold."""
        return sum(self.found[signal] for signal in SIGNALS[: SIGNALS.index(self.fail_on) + 1])

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
        self.files += other.files
        for signal, count in other.found.items():
            self.found[signal] += count
        for rule, count in other.waived.items():
            self.waived[rule] = self.waived.get(rule, 0) + count
        self.open += other.open
        self.states += other.states
        self.rules = max(self.rules, other.rules)
        self.passed_over += other.passed_over
        self.links += other.links
        self.troubles += other.troubles


def summarise(report: Report, fail_on: str = "caution", troubles: Iterable[str] = ()) -> Summary:
    """What one file comes to; `troubles` are what could not be done with it."""
    one = Summary(fail_on, files=1, states=report.states, rules=report.rules, troubles=list(troubles))
    for finding in report.findings:
        one.found[finding.signal] += 1
    for finding in report.waived:
        one.waived[finding.rule] = one.waived.get(finding.rule, 0) + 1
    one.open = [Open(report.name, item.rule, item.because, item.subject) for item in report.not_judged]
    return one
