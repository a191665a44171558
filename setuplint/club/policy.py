"""By what a setup is judged: all setuplint.toml from the outermost down to it, taken together. A nearer one only tightens."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import suppress

from setuplint.book import rulebook
from setuplint.book.editions import as_of
from setuplint.club import limits
from setuplint.club.config import Config, ConfigError, Loosened, Step, Wrong, config_or_problems, read_config
from setuplint.club.config_sources import DISK, ConfigSource
from setuplint.club.nearest import NearestFile
from setuplint.findings import FAIL_ON, SIGNALS
from setuplint.source import Document, Span


def file_policy(file: str, source: ConfigSource = DISK, tops: Sequence[str] = ()) -> Config | None:
    """That of a file by its path ("": the working folder); None without any setuplint.toml. ConfigError where one is broken."""
    return policy_of(source.configs(file, tops), source)


def policy_of(found: Sequence[NearestFile], source: ConfigSource = DISK) -> Config | None:
    """What several, the outermost first, say together."""
    outer: Config | None = None
    for each in found:
        nearer = read_config(each, source, outer)
        outer = nearer if outer is None else together(outer, nearer)
    return outer


def together(outer: Config, nearer: Config) -> Config:
    """Limits and `fail-on`: the stricter; folders of rules and `never-waive`: both; edition, baseline and
    `require-record`: the outer's, where it has them. What the nearer one tries to loosen is kept as that."""
    least = max(outer.fail_on or FAIL_ON, nearer.fail_on or FAIL_ON, key=SIGNALS.index)
    return Config(
        f"{outer.name}, {nearer.name}",
        nearer.edition if outer.edition is None else outer.edition,
        least if outer.fail_on or nearer.fail_on else None,
        tuple(dict.fromkeys((*outer.folders, *nearer.folders))),
        (*outer.limits, *nearer.limits),
        outer.never_waive | nearer.never_waive,
        outer.baseline or nearer.baseline,
        tuple({text.path: text for text in (*outer.rules, *nearer.rules)}.values()),
        (*outer.loosened, *_loosened(outer, nearer)),
        nearer.require_record if outer.require_record is None else outer.require_record,
    )


def text_problems(document: Document, found: NearestFile) -> list[Wrong]:
    """All that is wrong with the text of one, and what it says that does not count, in its order."""
    above = [each for each in DISK.configs(found.path) if each.path != found.path]
    outer = None
    with suppress(ConfigError):  # said where that one is looked at
        outer = policy_of(above)
    read = config_or_problems(document, found, outer)
    if isinstance(read, list):
        return read
    return [
        Wrong(Span(start, max(start, document.line_start(each.line + 1) - 1)), each.message)
        for each in (_loosened(outer, read) if outer else ())
        for start in [document.line_start(each.line) + each.column - 1]
    ]


def _loosened(outer: Config, nearer: Config) -> Iterator[Loosened]:
    says = f"{outer.name} has"
    if nearer.edition is not None and outer.edition not in (None, nearer.edition):
        yield _loosened_at(nearer, ("edition",), f"edition {nearer.edition} does not count: {says} {outer.edition}")
    given = nearer.fail_on
    if given is not None and SIGNALS.index(given) < SIGNALS.index(outer.fail_on or FAIL_ON):
        strict = f"{says} {outer.fail_on}" if outer.fail_on else f"{outer.name} names none, which is {FAIL_ON}"
        yield _loosened_at(
            nearer, ("fail-on",), f"fail-on {given} does not count: {strict}, and a nearer file only tightens"
        )
    if nearer.require_record is False and outer.require_record:
        yield _loosened_at(nearer, ("require-record",), f"require-record = false does not count: {says} true")
    if nearer.baseline and outer.baseline not in ("", nearer.baseline):
        yield _loosened_at(nearer, ("baseline",), f"this baseline does not count: {outer.name} has one")
    book = rulebook.rules() if outer.edition is None else as_of(outer.edition).rules
    rules = limits.tightened(book, outer.limits)
    for rule, name, value in nearer.limits:
        now = rules[rule].limits[name]
        if limits.looser(rules[rule], name, value):
            words = f"{rule}.{name} = {float(value):g} does not count: {float(now.value):g} holds by {outer.name}"
            yield _loosened_at(nearer, ("limits", rule, name), f"{words}, and a nearer file only tightens")


def _loosened_at(nearer: Config, path: Step, message: str) -> Loosened:
    return Loosened(nearer.name, *nearer.place(path), message)
