"""Editions of the rule set: what a rule was, so that an upgrade does not fail what passed before."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

from setuplint.book import rulebook
from setuplint.book.rulebook import KINDS, Rule

Editions = Mapping[int, Mapping[str, Any]]


class Edition(NamedTuple):
    """Every rule of the book as it was in an edition, and those that it did not have yet."""

    rules: Mapping[str, Rule]
    left_out: frozenset[str]


@cache
def editions() -> Editions:
    """What each edition brought, by its year, the oldest first."""
    text = Path(__file__).with_name("editions.toml").read_text(encoding="utf-8")
    return {int(year): table for year, table in sorted(tomllib.loads(text, parse_float=Decimal).items())}


def as_of(year: int, rules: Mapping[str, Rule] | None = None, all_editions: Editions | None = None) -> Edition:
    """The book as of an edition that there is. `rules` and `all_editions` stand for the book's and ours."""
    found = dict(rulebook.rules() if rules is None else rules)
    every = editions() if all_editions is None else all_editions
    for later in sorted((one for one in every if one > year), reverse=True):
        for name, was in every[later].get("was", {}).items():
            found[name] = earlier(found[name], was)
    known = {name for one, table in every.items() if one <= year for name in table["rules"]}
    return Edition(found, frozenset(name for name in found if name not in known))


def earlier(rule: Rule, was: Mapping[str, Any]) -> Rule:
    """The rule as it was before an edition that changed it."""
    changed: dict[str, Any] = {key: value for key, value in was.items() if key != "limits"}
    if any(kind in changed for kind in KINDS):
        changed = dict.fromkeys(KINDS) | changed
    limits = {name: replace(rule.limits[name], value=Fraction(value)) for name, value in was.get("limits", {}).items()}
    return replace(rule, **changed, limits={**rule.limits, **limits})
