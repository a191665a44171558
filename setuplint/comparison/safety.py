"""Whether a remedy changes outputs only in moments in which the hazard was."""

from __future__ import annotations

from setuplint.book.asking import plain
from setuplint.budget import OutOfBudget, Spent
from setuplint.comparison import plain_values
from setuplint.comparison.joined import Joined, joined_setups
from setuplint.comparison.outputs import (
    Alternative,
    ChannelComparison,
    ChannelPair,
    described_alike,
    written_alike,
)
from setuplint.comparison.renames import full_matching
from setuplint.comparison.samples import thresholds, within_stretches
from setuplint.engine.answers import Case
from setuplint.engine.decider import Decider
from setuplint.engine.literals import Frame
from setuplint.engine.search import Disagreement
from setuplint.setup import formulas as f
from setuplint.setup.model import Setup
from setuplint.setup.packs import of_pack, other_counts

MOVING = ("condition ", "channel ", "stick ")
QUICKNESS = ("after, s", "stays, s", "ramp-up", "ramp-down", "trim")  # what changes outputs in no settled state


def changes_elsewhere(old: Setup, new: Setup, hazard: f.Formula | None, spent: Spent | None = None) -> str:
    """What speaks against it: a state in which an output changes though the hazard, a formula of the old setup, does not
    hold there (none: holds nowhere), or that it could not be proved. Empty where it is proved that there is none. What is
    worked out counts in `spent`."""
    try:
        matching = full_matching(old, new)
        joined = joined_setups(old, new, matching)
        with_packs = [joined_setups(of_pack(old, x), of_pack(new, x), matching) for x in other_counts(old, new)]
        for each in plain_values.value_changes(joined, matching):
            if each.subject.startswith(MOVING) and any(word in each.subject for word in QUICKNESS):
                return f"it changes {each.subject}, and with it how channels move where the hazard is not"
        for flown in (joined, *with_packs):
            decider = Decider(flown.setup, spent)
            for name in matching.channels.values():
                objection = _channel_objection(flown, decider, name, hazard)
                if objection:
                    return objection
    except (OutOfBudget, Disagreement):
        return "it is not proved that outputs change only where the hazard is"
    return ""


def _channel_objection(joined: Joined, decider: Decider, name: str, hazard: f.Formula | None) -> str:
    channels = decider.setup.channels
    pair = ChannelPair(channels[joined.old.joined_name(name)], channels[joined.new.joined_name(name)])
    if not described_alike(joined, pair):
        return f"{name} is described differently"
    if written_alike(joined, pair):
        return ""
    differ = ChannelComparison(joined, decider.setup, pair, thresholds(joined))
    if differ.unsure:
        return f"it is not proved where {name} changes"
    there = f.FALSE if hazard is None else joined.old.formula(hazard)
    cone = decider.cone([there, *(f.OutputCompare(c.name, "<", pair.old.sub_trim) for c in (pair.old, pair.new))])

    def question(frame: Frame) -> int:
        literals = [_may_change(differ, frame, each) for each in differ.alternatives]
        return frame.both((frame.either(literals), -frame.truth(there)[0]))

    answer = decider.ask(question, cone)
    if answer.impossible:
        meanwhile = f"it may also change {name} where the hazard is not, while a condition waits or stays on"
        return "" if decider.never_shown(question, cone) else meanwhile
    if not answer.found:
        return f"it is not proved where {name} changes"
    case = answer.case
    assert case is not None
    return f"it also changes {name} where the hazard is not: {_state_text(case)}"


def _may_change(differ: ChannelComparison, frame: Frame, each: Alternative) -> int:
    """That the output may change: anywhere on a stretch of a stick on which it does somewhere."""
    ways = differ.ways(frame, each, perhaps=True)
    return frame.both((ways, within_stretches(frame, each.stretches))) if each.stretches else ways


def _state_text(case: Case) -> str:
    """The state in words."""
    return ", ".join(f"{name} {plain(value)}" for name, value in case.matters.items()) or "everywhere"
