"""A club's own rules: folders of claims, read as data and proved like ours. Nothing in them is executed."""

from __future__ import annotations

import os
import re
from collections.abc import Collection, Mapping, Sequence
from pathlib import Path

from setuplint.book import rule_file, rulebook
from setuplint.setup.file_sources import file_content

MOST = 500  # rules of a club
_NAME = re.compile(r"[a-z][a-z0-9]*(-[a-z0-9]+)*")


def club_rules(folders: Sequence[Path], taken: Collection[str] | None = None) -> Mapping[str, rule_file.Rule]:
    """Every rule of the folders, by name. OSError where one cannot be read, book.BookError where one is no claim.
    `taken` are names that no rule may have: those of the book."""
    return {name: page.rule for name, page in club_pages(folders, taken).items()}


def club_pages(folders: Sequence[Path], taken: Collection[str] | None = None) -> Mapping[str, rule_file.Page]:
    """Every rule of the folders with its sources and examples, by name; errors as of `club_rules`."""
    found: dict[str, rule_file.Page] = {}
    for folder in dict.fromkeys(folders):
        for path in rule_files(folder):
            name = path.stem
            if name in found or name in (rulebook.rules() if taken is None else taken):
                raise rule_file.BookError(f"{path}: there is a rule {name} already")
            if len(found) >= MOST:
                raise rule_file.BookError(f"{folder}: there are more than {MOST} rules")
            found[name] = club_rule(path)
    return found


def rule_files(folder: Path) -> list[Path]:
    """The rule files of a folder by name; BookError where one leads out of it."""
    inside = os.path.realpath(folder).rstrip(os.sep) + os.sep
    found = sorted(folder.glob("*.toml"))
    for path in found:
        if not os.path.realpath(path).startswith(inside):
            raise rule_file.BookError(f"{path}: this link leads out of the folder of rules")
    return found


def club_rule(path: Path) -> rule_file.Page:
    """One rule of a club."""
    name = path.stem
    if not _NAME.fullmatch(name) or len(name) > 60 or name in rule_file.SIGNALS:
        raise rule_file.BookError(
            f"{path}: a rule has the name of its file: lower-case words joined by -, 60 characters at most"
        )
    data = file_content(os.path.realpath(path), 4 * rule_file.LONGEST)
    if data is None:
        raise rule_file.BookError(f"{path}: not a file")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise rule_file.BookError(f"{path}: not UTF-8 at byte {error.start}") from None
    page = rule_file.read_rule(text, name, str(path))
    if page.rule.check is not None:
        raise rule_file.BookError(f"{path}: a club's rule is a claim, never or always; a check would be code")
    if page.rule.limits:
        raise rule_file.BookError(f"{path}: a claim has its numbers in its formula, and no limits")
    return page
