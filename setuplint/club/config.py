"""setuplint.toml: what a repository of setups chooses for itself, read with a place for everything that is wrong in it."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from fractions import Fraction
from pathlib import Path
from typing import Any, NamedTuple

from setuplint.book import club_rules, rule_file, rulebook
from setuplint.book.editions import Edition, as_of, editions
from setuplint.club import limits
from setuplint.club.nearest import NearestFile
from setuplint.dataclass import dataclass
from setuplint.findings import NEWEST, SIGNALS
from setuplint.setup.file_sources import file_content
from setuplint.setup.problems import Nearest, quoted, word_list
from setuplint.source import Document, Span, parsed_document
from setuplint.source.forms import MAX_SIZE

KEYS = ("edition", "fail-on", "rules", "limits", "never-waive")

Step = tuple[str | int, ...]


class Wrong(NamedTuple):
    """One mistake: where it stands in the text, and one sentence of what is wrong and what to do."""

    span: Span
    what: str


class ConfigError(ValueError):
    """Why a setuplint.toml cannot be used: `path:line:column: what is wrong; what to do`, in one line."""


@dataclass(frozen=True, slots=True)
class Config:
    """What a setuplint.toml says. `name` is its path for people, `rule_folders` are real paths; `limits` are rule, limit and
    number. `edition` and `fail_on` are None where it leaves them open."""

    name: str
    edition: int | None = None
    fail_on: str | None = None
    folders: tuple[str, ...] = ()
    limits: tuple[tuple[str, str, Fraction], ...] = ()
    never_waive: frozenset[str] = frozenset()


def read_config(found: NearestFile) -> Config:
    """Read one. ConfigError where it is broken, or leads where it may not; nothing in it is executed."""
    name = _path_words(found.path)
    try:
        data = _bytes(found)
    except OSError as error:
        raise ConfigError(f"{name}: cannot be read: {error.strerror or error}") from None
    document = parsed_document(data, name)
    reading = _Reading(document, found)
    wrong = sorted(reading.problems())
    if wrong:
        line, column = document.position(wrong[0].span.start)
        more = f" (and {len(wrong) - 1} more)" if len(wrong) > 1 else ""
        raise ConfigError(f"{name}:{line}:{column}: {wrong[0].what}{more}")
    return reading.config(name)


def config_problems(document: Document, found: NearestFile) -> list[Wrong]:
    """All that is wrong with a text that stands, or will stand, at a place, in its order."""
    return sorted(_Reading(document, found).problems())


def rule_folders(document: Document, found: NearestFile) -> tuple[str, ...]:
    """The real paths of the folders of rules that a text names, of those that it may name and that are there."""
    reading = _Reading(document, found)
    list(reading.rules_problems())
    return reading.folders


def _bytes(found: NearestFile) -> bytes:
    real = os.path.realpath(found.path)
    if not _inside(real, found.root):
        raise OSError("it is a link that leads out of the repository")
    data = file_content(real, MAX_SIZE)
    if data is None:
        raise OSError("it is not a file")
    return data


def _path_words(path: str) -> str:
    """Relative to where one is, if it is below."""
    here = os.path.realpath(os.curdir)
    return os.path.relpath(path, here) if _inside(path, here) else path


def _inside(path: str, root: str) -> bool:
    return (path + os.sep).startswith(root.rstrip(os.sep) + os.sep)


class _Reading:
    """One text."""

    def __init__(self, document: Document, found: NearestFile) -> None:
        self.document, self.found = document, found
        self.values: Mapping[str, Any] = document.values
        self.nearest = Nearest()
        self.folders: tuple[str, ...] = ()
        self.clubs: Mapping[str, rule_file.Rule] = {}
        self.all_clubs = ("rules",) not in document.broken  # whether `clubs` are all that there are

    def problems(self) -> Iterator[Wrong]:
        for fault in self.document.problems:
            yield Wrong(fault.span, f"{fault.message} {fault.help}")
        for key in self.values:
            if key not in KEYS:
                near = self.nearest.match(key, KEYS)
                yield self.key((key,), f"unknown key {quoted(key)}; {f'did you mean {near}?' if near else _keys()}")
        yield from self.edition_problems()
        yield from self.fail_on_problems()
        yield from self.rules_problems()
        yield from self.limits_problems()
        yield from self.never_waive_problems()

    def key(self, path: Step, what: str) -> Wrong:
        return Wrong(self.document.key_span(path) or self.document.span(path), what)

    def value(self, path: Step, what: str) -> Wrong:
        return Wrong(self.document.span(path), what)

    def edition(self) -> Edition:
        year = self.values.get("edition", NEWEST)
        if "edition" not in self.values or type(year) is not int or year not in editions():
            return Edition(rulebook.rules(), frozenset())
        return as_of(year)

    def edition_problems(self) -> Iterator[Wrong]:
        if "edition" not in self.values:
            return
        year, known = self.values["edition"], editions()
        if type(year) is not int:
            yield self.value(("edition",), f"edition is a year like {NEWEST}")
        elif year > NEWEST:
            yield self.value(("edition",), f"this setuplint knows no edition after {NEWEST}; use a newer version of it")
        elif year not in known:
            yield self.value(("edition",), f"there is no edition {year}; there is {word_list(map(str, known))}")

    def fail_on_problems(self) -> Iterator[Wrong]:
        if "fail-on" in self.values and self.values["fail-on"] not in SIGNALS:
            yield self.value(("fail-on",), f"fail-on is {word_list(SIGNALS)}, in quotes")

    def rules_problems(self) -> Iterator[Wrong]:
        given = self.values.get("rules", [])
        if not isinstance(given, list):
            self.all_clubs = False
            yield self.value(("rules",), 'rules is a list of folders, like ["club-rules"]')
            return
        folders: list[str] = []
        for index, folder in enumerate(given):
            why = self.folder_objection(folder)
            if why:
                self.all_clubs = False
                yield self.value(("rules", index), why)
            else:
                folders.append(self.real(folder))
        self.folders = tuple(dict.fromkeys(folders))
        try:
            edition = self.edition()
            self.clubs = club_rules.club_rules(
                [Path(_path_words(f)) for f in self.folders], edition.rules.keys() - edition.left_out
            )
        except (OSError, rule_file.BookError) as error:
            self.all_clubs = False
            why = f"a rule cannot be read: {error.strerror or error}" if isinstance(error, OSError) else str(error)
            yield self.value(("rules",), why)

    def folder_objection(self, folder: object) -> str:
        if not isinstance(folder, str) or not folder or "\0" in folder:
            return 'a folder of rules is a text like "club-rules"'
        if os.path.isabs(folder) or not _inside(self.real(folder), self.found.root):
            return f"{quoted(folder)} leads out of the repository: a folder of rules is a path in it, relative to this file"
        if not os.path.isdir(self.real(folder)):
            return f"there is no folder {quoted(folder)}; it is looked for beside this file"
        return ""

    def real(self, folder: str) -> str:
        return os.path.realpath(os.path.join(os.path.dirname(self.found.path), folder))

    def limits_problems(self) -> Iterator[Wrong]:
        if not isinstance(self.values.get("limits", {}), dict):
            yield self.value(("limits",), "limits is a table of RULE.LIMIT = NUMBER")
            return
        rules = self.edition().rules
        seen: set[tuple[str, str]] = set()
        for path, rule, limit, value in self.limits():
            if rule not in rules:
                near = self.nearest.match(rule, rules)
                own = rule in self.clubs
                what = "a club's rule has no limits" if own else f"did you mean {near}?" if near else _explain()
                yield self.key(path[:2], f"there is no rule {quoted(rule)} with limits; {what}")
            elif limit not in rules[rule].limits:
                has = word_list(rules[rule].limits, "and")
                yield self.key(path, f"{rule} has no limit {quoted(limit)}; its limits: {has}")
            elif not rule_file.is_number(value):
                yield self.value(path, "a limit is a number, under a thousand million")
            elif (rule, limit) in seen:
                yield self.key(path, f"{rule}.{limit} stands here twice")
            else:
                seen.add((rule, limit))
                why = limits.objection(rules, rule, limit, Fraction(value))
                if why:
                    yield self.value(path, why)

    def limits(self) -> Iterator[tuple[Step, str, str, Any]]:
        """Path, rule, limit and value; a rule with its limit may be one key in quotes."""
        for key, value in self.values.get("limits", {}).items():
            if isinstance(value, dict) and value:
                for name, one in value.items():
                    yield ("limits", key, name), key, name, one
            else:
                rule, _, limit = key.partition(".")
                yield ("limits", key), rule, limit, value

    def never_waive_problems(self) -> Iterator[Wrong]:
        given = self.values.get("never-waive", [])
        if not isinstance(given, list):
            yield self.value(("never-waive",), 'never-waive is a list of rules and signal words, like ["danger"]')
            return
        known = [*SIGNALS, *rulebook.rules(), *self.clubs]
        for index, word in enumerate(given):
            if not isinstance(word, str) or (word not in known and self.all_clubs):
                near = self.nearest.match(word, known) if isinstance(word, str) else None
                shown = quoted(word) if isinstance(word, str) else "this"
                what = f"did you mean {near}?" if near else _explain()
                yield self.value(("never-waive", index), f"{shown} is neither a rule nor a signal word; {what}")

    def config(self, name: str) -> Config:
        """Once nothing is wrong."""
        return Config(
            name,
            self.values.get("edition"),
            self.values.get("fail-on"),
            self.folders,
            tuple((rule, limit, Fraction(value)) for _, rule, limit, value in self.limits()),
            frozenset(self.values.get("never-waive", [])),
        )


def _keys() -> str:
    return f"its keys are {word_list(KEYS, 'and')}"


def _explain() -> str:
    return "`setuplint explain` lists all rules"
