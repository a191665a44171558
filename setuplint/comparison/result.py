"""Two setups, compared."""

from __future__ import annotations

from collections.abc import Iterable

from setuplint.budget import OutOfBudget
from setuplint.comparison import plain_values
from setuplint.comparison.behaviour import Behaviour
from setuplint.comparison.changes import Comparison, NotCompared
from setuplint.comparison.joined import joined_setups
from setuplint.comparison.matching import Matching
from setuplint.comparison.renames import full_matching
from setuplint.findings import Finding, Report
from setuplint.setup.model import Setup


def compare(old: Setup, new: Setup, before: Report, after: Report) -> Comparison:
    """What the craft does differently; `before` and `after` are the lints of the two."""
    matching = full_matching(old, new)
    gained, lost, kept = hazards(before, after, matching)
    try:
        joined = joined_setups(old, new, matching)
        behaviour = Behaviour(joined, matching)
        behaviour.run()
    except OutOfBudget as end:
        return Comparison(
            before.name, after.name, matching, open=(NotCompared("", str(end)),), gained=gained, lost=lost, kept=kept
        )
    return Comparison(
        before.name,
        after.name,
        matching,
        (*behaviour.changes, *plain_values.value_changes(joined, matching)),
        behaviour.same,
        tuple(dict.fromkeys(behaviour.open)),
        gained,
        lost,
        kept,
        behaviour.decider.states(),
        joined.setup,
    )


def hazards(before: Report, after: Report, matching: Matching) -> tuple[tuple[Finding, ...], tuple[Finding, ...], int]:
    """The findings of the new setup alone, of the old one alone, and how many are of both: by rule and subject. Where tables
    stand in another order, subjects may name another of several parts: then it is the words of the message that say."""
    gained, lost = list(_all_findings(after)), list(_all_findings(before))
    total = len(gained)
    for text_of in (_subject, _message):
        for finding in list(lost):
            called = [_sorted_words(text) for text in matching.called(text_of(finding))]
            twin = next((x for x in gained if x.rule == finding.rule and _sorted_words(text_of(x)) in called), None)
            if twin is not None:
                gained.remove(twin)
                lost.remove(finding)
    return tuple(gained), tuple(lost), total - len(gained)


def _subject(finding: Finding) -> str:
    return finding.subject


def _message(finding: Finding) -> str:
    return finding.message


def _sorted_words(text: str) -> list[str]:
    return sorted(text.replace(",", " ").replace(":", " ").split())


def _all_findings(report: Report) -> Iterable[Finding]:
    return (*report.findings, *report.waived)
