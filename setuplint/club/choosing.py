"""What a lint judges by, made of a setuplint.toml and of folders of claims that were named besides."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from setuplint.book import club_rules, rulebook
from setuplint.book.choices import Choices
from setuplint.book.club_rules import RuleText
from setuplint.book.editions import Edition, as_of
from setuplint.club.config import Config
from setuplint.club.limits import tightened
from setuplint.findings import NEWEST


def choices(config: Config | None = None, folders: Sequence[Path] = (), *, waive: bool = True) -> Choices:
    """The rules as they are by a config and with those of the folders. OSError where a rule cannot be read, book.BookError
    where one is no claim. A club's rule may have the name of one that the edition does not have yet."""
    return choices_with(config, [text for folder in folders for text in club_rules.rule_texts(folder)], waive=waive)


def choices_with(config: Config | None, texts: Sequence[RuleText], *, waive: bool = True) -> Choices:
    """The same with the texts of rules."""
    year = config.edition if config else None
    edition = Edition(rulebook.rules(), frozenset()) if year is None else as_of(year)
    known = {text.path: text for text in (*texts, *(config.rules if config else ()))}
    clubs = club_rules.pages_of(known.values(), edition.rules.keys() - edition.left_out) if known else {}
    rules = {**edition.rules, **{name: page.rule for name, page in clubs.items()}}
    return Choices(
        tightened(rules, config.limits) if config else rules,
        edition.left_out - clubs.keys(),
        config.never_waive if config else frozenset(),
        waive,
        year or NEWEST,
        year is not None,
        config.name if config else "",
        bool(config and config.require_record),
    )
