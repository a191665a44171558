"""A club's own rules: folders of claims."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

from setuplint.checks import book
from setuplint.cli import Trouble, nearest


def pages(folders: Iterable[str]) -> dict[str, book.Page]:
    """The page of every rule in the folders; Trouble where one cannot be taken."""
    found: dict[str, book.Page] = {}
    for folder in folders:
        if not Path(folder).is_dir():
            raise Trouble(f"{folder} is not a folder of rules")
        for path in sorted(Path(folder).glob("*.toml")):
            if path.stem in found or path.stem in book.rules():
                raise Trouble(f"{path}: there is a rule {path.stem} already")
            found[path.stem] = _page(path)
    return found


def _page(path: Path) -> book.Page:
    try:
        with path.open(encoding="utf-8") as file:
            page = book.read_rule(file.read(book.LONGEST + 1), path.stem)
    except (OSError, ValueError) as error:
        raise Trouble(f"{path}: {error}") from None
    if page.rule.check is not None:
        raise Trouble(f"{path}: a club's rule is a claim, never or always; a check would be code")
    return page


def known(rule: str, further: Iterable[str]) -> str:
    """The rule, if there is one of that name; else Trouble with the nearest."""
    names: Sequence[str] = [*book.rules(), *further]
    if rule not in names:
        raise Trouble(f"there is no rule {rule}{nearest(rule, names)}")
    return rule
