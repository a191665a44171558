"""Advice tried before it is given: the setup with it, asked by every graver rule."""

from __future__ import annotations

from collections.abc import Iterator

from setuplint.book.asking import Asking
from setuplint.book.functions import check_of
from setuplint.book.needs import unreadable_keys
from setuplint.book.rule_file import SIGNALS, Rule
from setuplint.budget import OutOfBudget
from setuplint.dataclass import replace
from setuplint.engine.search import Disagreement
from setuplint.setup.model import Setup


def graver_rule(ask: Asking, setup: Setup) -> str:
    """What a rule of a graver signal says against the setup as it would be, and not as it is, in words; empty where none does.
    One that cannot be decided counts as one that speaks."""
    ask.decider.reads.is_kept = False  # it rests on what other rules say
    then = replace(ask, setup=setup, decider=ask.decider.of_variant(setup))
    for rule in graver_rules(ask):
        try:
            found, unjudged = what_is_told(then, rule)
            if found or unjudged:
                was, open_before = what_is_told(ask, rule)
                if found - was:
                    return f"{rule.name} would report it"
                if unjudged - open_before:
                    return f"{rule.name} could not be judged with it"
        except (OutOfBudget, Disagreement):
            return f"{rule.name} would report it"
    return ""


def graver_rules(ask: Asking) -> Iterator[Rule]:
    for rule in ask.book.values():
        if rule.is_asked and SIGNALS.index(rule.signal) < SIGNALS.index(ask.rule.signal):
            yield rule


def what_is_told(ask: Asking, rule: Rule) -> tuple[set[str], set[tuple[str, str]]]:
    """What a rule speaks of in a setup, and what it cannot judge, with the reason."""
    own = Asking(ask.setup, ask.decider, rule, ask.book, ask.today, spoken=ask.spoken, habits=ask.habits)
    if any(True for _ in unreadable_keys(ask.setup, rule)):
        return set(), set()
    found = {finding.subject for finding in check_of(rule)(own)} | {subject for subject, _ in own.undecided}
    return found, {(note.subject, note.because) for note in own.unjudged}
