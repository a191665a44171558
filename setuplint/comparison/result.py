"""Two setups, compared."""

from __future__ import annotations

from setuplint.budget import OutOfBudget, for_comparison
from setuplint.comparison import plain_values
from setuplint.comparison.behaviour import Behaviour
from setuplint.comparison.changes import Comparison, CraftChange, NotCompared, gravest_first
from setuplint.comparison.hazards import hazard_change
from setuplint.comparison.joined import joined_setups
from setuplint.comparison.matching import Matching
from setuplint.comparison.packs import differing_with_packs
from setuplint.comparison.renames import full_matching
from setuplint.findings import Report
from setuplint.setup.model import Setup
from setuplint.setup.states import states_of


def compare(old: Setup, new: Setup, before: Report, after: Report) -> Comparison:
    """What the craft does differently; `before` and `after` are the lints of the two, whose work counts towards the budget."""
    spent = for_comparison(before.work, after.work)
    unread = list(dict.fromkeys(report.name for report in (before, after) if report.texts.is_unread))
    matching, why_not = Matching(), ""
    try:
        matching = full_matching(old, new, spent)
    except OutOfBudget as end:
        why_not = str(end)
    if unread:
        why_not = f"nothing of {' and '.join(unread)} can be read"
    hazards = hazard_change(before, after, matching, (old, new), spent)
    if why_not:
        return Comparison(before.name, after.name, open=(NotCompared("", why_not),), **hazards._asdict())
    try:
        joined = joined_setups(old, new, matching, spent)
        behaviour = Behaviour(joined, matching, spent)
        behaviour.run()
    except OutOfBudget as end:
        return Comparison(before.name, after.name, matching, open=(NotCompared("", str(end)),), **hazards._asdict())
    by_packs = differing_with_packs(old, new, behaviour, spent)
    written = list(plain_values.value_changes(joined, matching))
    changes = [each for each in (*behaviour.changes, *written) if isinstance(each, CraftChange)]
    not_compared = [each for each in (*behaviour.open, *by_packs, *written) if isinstance(each, NotCompared)]
    return Comparison(
        before.name,
        after.name,
        matching,
        gravest_first(changes),
        behaviour.same,
        tuple(dict.fromkeys(not_compared)),
        *hazards,
        states_of(joined.setup),
        joined.setup,
    )
