"""Editions of the rule set: what a rule was, so that an upgrade does not fail what passed before.

A repository that names an edition in its setuplint.toml keeps to it. Each rule's file says since which edition it stands, and
what it was up to an earlier one; a rule without `since` is left out of all of them, so a new one fails no gate that names an
edition.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from setuplint.book import rulebook
from setuplint.book.rule_file import KINDS, Rule
from setuplint.dataclass import replace
from setuplint.named_tuple import NamedTuple


class Edition(NamedTuple):
    """Every rule of the book as it was in an edition, and those that it did not have yet."""

    rules: Mapping[str, Rule]
    left_out: frozenset[str]


def editions(rules: Mapping[str, Rule] | None = None) -> list[int]:
    """The years of all editions, the oldest first. `rules` stand for the book's."""
    every = (rulebook.rules() if rules is None else rules).values()
    return sorted({rule.since for rule in every if rule.since is not None} | {y for rule in every for y in rule.was})


def as_of(year: int, rules: Mapping[str, Rule] | None = None) -> Edition:
    """The book as of an edition that there is."""
    book = rulebook.rules() if rules is None else rules
    left_out = frozenset(rule.name for rule in book.values() if rule.since is None or rule.since > year)
    return Edition({name: rule_as_of(rule, year) for name, rule in book.items()}, left_out)


def rule_as_of(rule: Rule, year: int) -> Rule:
    """The rule as it was in an edition."""
    for last in sorted((last for last in rule.was if last >= year), reverse=True):
        rule = _earlier(rule, rule.was[last])
    return rule


def _earlier(rule: Rule, was: Mapping[str, Any]) -> Rule:
    changed: dict[str, Any] = {key: value for key, value in was.items() if key != "limits"}
    if any(kind in changed for kind in KINDS):
        changed = dict.fromkeys(KINDS) | changed
    limits = {name: replace(rule.limits[name], value=Fraction(value)) for name, value in was.get("limits", {}).items()}
    return replace(rule, **changed, limits={**rule.limits, **limits})
