"""A club's own rules: folders of claims, read as data and proved like ours. Nothing in them is executed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from setuplint.checks import book


def rules(folders: Sequence[Path]) -> Mapping[str, book.Rule]:
    """Every rule of the folders, by name. OSError where one cannot be read, book.BookError where one is no claim."""
    found: dict[str, book.Rule] = {}
    for folder in folders:
        for path in sorted(folder.glob("*.toml")):
            if path.stem in found or path.stem in book.rules():
                raise book.BookError(f"{path}: there is a rule {path.stem} already")
            with path.open(encoding="utf-8") as file:
                rule = book.read_rule(file.read(book.LONGEST + 1), path.stem).rule
            if rule.check is not None:
                raise book.BookError(f"{path}: a club's rule is a claim, never or always; a check would be code")
            found[path.stem] = rule
    return found
