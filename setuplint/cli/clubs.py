"""Rules by name, those of a club's folders of claims included."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from setuplint.checks import book, club
from setuplint.cli import Trouble, nearest


def rules(folders: Sequence[str]) -> Mapping[str, book.Rule]:
    """The rules of the folders; Trouble where one cannot be taken."""
    for folder in folders:
        if not Path(folder).is_dir():
            raise Trouble(f"{folder} is not a folder of rules")
    try:
        return club.rules([Path(folder) for folder in folders])
    except (OSError, ValueError) as error:
        raise Trouble(str(error)) from None


def known(rule: str, folders: Sequence[str]) -> str:
    """The rule, if there is one of that name; else Trouble with the nearest."""
    names = [*book.rules(), *rules(folders)]
    if rule not in names:
        raise Trouble(f"there is no rule {rule}{nearest(rule, names)}")
    return rule


def page(rule: str, folders: Sequence[str]) -> book.Page:
    """The page of a rule that is known."""
    if rule in book.rules():
        return book.page(rule)
    path = next(path for folder in folders if (path := Path(folder, f"{rule}.toml")).is_file())
    return book.read_rule(path.read_text(encoding="utf-8"), rule)
