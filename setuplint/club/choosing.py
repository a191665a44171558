"""What a lint judges by, made of a setuplint.toml and of folders of claims that were named besides."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

from setuplint.book import club_rules, rulebook
from setuplint.book.choices import Choices
from setuplint.book.editions import Edition, as_of
from setuplint.club.config import Config
from setuplint.club.limits import tightened
from setuplint.findings import NEWEST


def choices(config: Config | None = None, folders: Sequence[Path] = (), *, waive: bool = True) -> Choices:
    """The rules as they are by a config and with those of the folders. OSError where a rule cannot be read, book.BookError
    where one is no claim. A club's rule may have the name of one that the edition does not have yet."""
    year = config.edition if config else None
    edition = Edition(rulebook.rules(), frozenset()) if year is None else as_of(year)
    named = {os.path.realpath(folder): folder for folder in (*folders, *map(Path, config.folders if config else ()))}
    clubs = club_rules.club_rules(list(named.values()), edition.rules.keys() - edition.left_out) if named else {}
    rules = {**edition.rules, **clubs}
    return Choices(
        tightened(rules, config.limits) if config else rules,
        edition.left_out - clubs.keys(),
        config.never_waive if config else frozenset(),
        waive,
        year or NEWEST,
        year is not None,
        config.name if config else "",
    )
