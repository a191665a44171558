"""Two setups, compared."""

from __future__ import annotations

from setuplint.budget import OutOfBudget
from setuplint.comparison import plain_values
from setuplint.comparison.behaviour import Behaviour
from setuplint.comparison.changes import Comparison, CraftChange, NotCompared, gravest_first
from setuplint.comparison.hazards import hazard_change
from setuplint.comparison.joined import joined_setups
from setuplint.comparison.renames import full_matching
from setuplint.findings import Report
from setuplint.setup.model import Setup


def compare(old: Setup, new: Setup, before: Report, after: Report) -> Comparison:
    """What the craft does differently; `before` and `after` are the lints of the two."""
    unread = [report.name for report in (before, after) if not report.texts.values and report.document.problems]
    matching = full_matching(old, new)
    hazards = hazard_change(before, after, matching, new)
    if unread:
        nothing = NotCompared("", f"nothing of {' and '.join(unread)} can be read")
        return Comparison(before.name, after.name, open=(nothing,), **hazards._asdict())
    try:
        joined = joined_setups(old, new, matching)
        behaviour = Behaviour(joined, matching)
        behaviour.run()
    except OutOfBudget as end:
        return Comparison(before.name, after.name, matching, open=(NotCompared("", str(end)),), **hazards._asdict())
    written = list(plain_values.value_changes(joined, matching))
    changes = [each for each in (*behaviour.changes, *written) if isinstance(each, CraftChange)]
    not_compared = [each for each in (*behaviour.open, *written) if isinstance(each, NotCompared)]
    return Comparison(
        before.name,
        after.name,
        matching,
        gravest_first(changes),
        behaviour.same,
        tuple(dict.fromkeys(not_compared)),
        *hazards,
        behaviour.decider.states(),
        joined.setup,
    )
