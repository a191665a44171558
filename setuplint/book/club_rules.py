"""A club's own rules: folders of claims, read as data and proved like ours. Nothing in them is executed."""

from __future__ import annotations

import os
import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from pathlib import Path

from setuplint.book import rule_file, rulebook
from setuplint.book.needs import is_key
from setuplint.named_tuple import NamedTuple
from setuplint.setup.file_sources import file_content, is_toml_name

MOST = 500  # rules of a club
LARGEST = 4 * rule_file.LONGEST  # bytes of one
_NAME = re.compile(r"[a-z][a-z0-9]*(-[a-z0-9]+)*")


class RuleText(NamedTuple):
    """The text of a rule's file: the path by which it is known again, what people call it, and its content."""

    path: str
    name: str
    data: bytes


def club_rules(folders: Sequence[Path], taken: Collection[str] | None = None) -> Mapping[str, rule_file.Rule]:
    """Every rule of the folders, by name. OSError where one cannot be read, book.BookError where one is no claim.
    `taken` are names that no rule may have: those of the book."""
    return {name: page.rule for name, page in club_pages(folders, taken).items()}


def club_pages(folders: Sequence[Path], taken: Collection[str] | None = None) -> Mapping[str, rule_file.Page]:
    """Every rule of the folders with its sources and examples, by name; errors as of `club_rules`."""
    return pages_of([text for folder in dict.fromkeys(folders) for text in rule_texts(folder)], taken)


def pages_of(texts: Iterable[RuleText], taken: Collection[str] | None = None) -> Mapping[str, rule_file.Page]:
    """The same of texts."""
    found: dict[str, rule_file.Page] = {}
    texts_of: dict[str, RuleText] = {}
    for text in texts:
        name = rule_name(text)
        if name in found or name in (rulebook.rules() if taken is None else taken):
            raise rule_file.BookError(f"{text.name}: there is a rule {name} already")
        if len(found) >= MOST:
            raise rule_file.BookError(f"{os.path.dirname(text.name)}: there are more than {MOST} rules")
        found[name] = page_of(text)
        texts_of[name] = text
    for name, page in found.items():
        for index, other in enumerate(page.rule.said_by):
            if other not in found and other not in rulebook.rules():
                raise _placed_error(texts_of[name], f"there is no rule {other}", ("said-by", index))
    return found


def rule_name(text: RuleText) -> str:
    return os.path.basename(text.path).removesuffix(".toml")


def rule_texts(folder: Path) -> list[RuleText]:
    """The rule files of a folder by name. OSError where one cannot be read, BookError where one leads out of it, and where there
    is none: a club that names the folder counts on them."""
    inside = os.path.realpath(folder).rstrip(os.sep) + os.sep
    found = [folder / name for name in sorted(filter(is_toml_name, os.listdir(folder)))]
    for path in found:
        if not os.path.realpath(path).startswith(inside):
            raise rule_file.BookError(f"{path}: this link leads out of the folder of rules")
    if not found:
        raise no_rule(str(folder))
    return list(map(rule_text, found[: MOST + 1]))


def no_rule(folder: str) -> rule_file.BookError:
    return rule_file.BookError(f"there is no rule in {folder}: a rule is a .toml file right in it")


def rule_text(path: Path) -> RuleText:
    data = file_content(os.path.realpath(path), LARGEST)
    if data is None:
        raise rule_file.BookError(f"{path}: not a file")
    return RuleText(os.path.join(os.path.realpath(path.parent), path.name), str(path), data)


def club_rule(path: Path) -> rule_file.Page:
    """One rule of a club; errors as of `club_rules`."""
    return page_of(rule_text(path))


def page_of(text: RuleText) -> rule_file.Page:
    """One rule of a club. BookError where it is none."""
    name = rule_name(text)
    if not _NAME.fullmatch(name) or len(name) > 60 or name in rule_file.SIGNALS:
        raise rule_file.BookError(
            f"{text.name}: a rule has the name of its file: lower-case words joined by -, 60 characters at most"
        )
    try:
        written = text.data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise rule_file.BookError(f"{text.name}: not UTF-8 at byte {error.start}") from None
    page = rule_file.read_rule(written, name, text.name)
    rule = page.rule
    no_clubs = (
        ("check", rule.check is not None, "a club's rule is a claim, never or always; a check would be code"),
        ("limits", bool(rule.limits), "a claim has its numbers in its formula, and no limits"),
        ("since", rule.since is not None, "editions are the book's: a club's rule holds while its file is there"),
        ("was", bool(rule.was), "editions are the book's: a club's rule is what its file says"),
        ("asked", bool(rule.asked), "a club's rule is asked in its turn, by its signal"),
    )
    for key, there, why in no_clubs:
        if there:
            raise _placed_error(text, why, (key,))
    for index, key in enumerate(rule.needs):
        if not is_key(key):
            raise _placed_error(text, f"{key} is no key of a setup", ("needs", index))
    return page


def _placed_error(text: RuleText, why: str, path: tuple[str | int, ...]) -> rule_file.BookError:
    written = text.data.decode("utf-8-sig")
    return rule_file.BookError(f"{rule_file.position_of(written, text.name, rule_file.BookError(why, path))}: {why}")
