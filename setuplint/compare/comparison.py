"""Two setups, compared."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from setuplint.compare import written
from setuplint.compare.behaviour import Behaviour
from setuplint.compare.changes import Comparison, Open
from setuplint.compare.joined import join
from setuplint.compare.matching import KINDS, Matching, match
from setuplint.decide.sat import OutOfBudget
from setuplint.findings import Finding, Report
from setuplint.setup.model import Setup

NAME = re.compile(r"[a-z][a-z0-9-]*")


def compare(old: Setup, new: Setup, before: Report, after: Report) -> Comparison:
    """What the craft does differently; `before` and `after` are the lints of the two."""
    matching = match(old, new)
    gained, lost, kept = hazards(before, after, matching)
    try:
        joined = join(old, new, matching)
        behaviour = Behaviour(joined, matching)
        behaviour.run()
    except OutOfBudget as end:
        return Comparison(
            before.name, after.name, matching, open=(Open("", str(end)),), gained=gained, lost=lost, kept=kept
        )
    return Comparison(
        before.name,
        after.name,
        matching,
        (*behaviour.changes, *written.changes(joined, matching)),
        behaviour.same,
        tuple(dict.fromkeys(behaviour.open)),
        gained,
        lost,
        kept,
        behaviour.decider.states(),
        joined.setup,
    )


def hazards(before: Report, after: Report, matching: Matching) -> tuple[tuple[Finding, ...], tuple[Finding, ...], int]:
    """The findings of the new setup alone, of the old one alone, and how many are of both: by rule and subject."""
    names: dict[str, str] = {}
    for kind in KINDS:
        names |= getattr(matching, kind)
    was = {(x.rule, renamed(x.subject, names)): x for x in _all(before)}
    now = {(x.rule, x.subject): x for x in _all(after)}
    gained = tuple(x for key, x in now.items() if key not in was)
    lost = tuple(x for key, x in was.items() if key not in now)
    return gained, lost, len(now) - len(gained)


def _all(report: Report) -> Iterable[Finding]:
    return (*report.findings, *report.waived)


def renamed(subject: str, names: Mapping[str, str]) -> str:
    """A finding's subject with every part under its new name."""
    return NAME.sub(lambda word: names.get(word.group(), word.group()), subject)
