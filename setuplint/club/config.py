"""setuplint.toml: what a repository of setups chooses for itself, read with a place for everything that is wrong in it."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from fractions import Fraction
from typing import Any

from setuplint.book import club_rules, rule_file, rulebook
from setuplint.book.club_rules import RuleText
from setuplint.book.editions import Edition, as_of, editions
from setuplint.club import limits
from setuplint.club.config_sources import DISK, ConfigSource, is_inside
from setuplint.club.nearest import NearestFile
from setuplint.dataclass import dataclass, field
from setuplint.findings import NEWEST, SIGNALS
from setuplint.named_tuple import NamedTuple
from setuplint.setup.file_sources import SLASHES
from setuplint.setup.problems import Nearest, quoted, word_list
from setuplint.source import Document, Span, parsed_document
from setuplint.source.forms import MAX_SIZE

KEYS = ("edition", "fail-on", "rules", "limits", "never-waive", "baseline", "require-record")

Step = tuple[str | int, ...]


class Wrong(NamedTuple):
    """One mistake: where it stands in the text, and one sentence of what is wrong and what to do."""

    span: Span
    what: str


class ConfigError(ValueError):
    """Why a setuplint.toml cannot be used: `path:line:column: what is wrong; what to do`, in one line."""


class Loosened(NamedTuple):
    """What a setuplint.toml says and does not count, as one further out is stricter: its place, and why."""

    file: str
    line: int
    column: int
    message: str


@dataclass(frozen=True, slots=True)
class Config:
    """What a setuplint.toml says, or all that hold for a file say together. `name` is its path for people, `folders` are the real
    paths of its folders of rules and `rules` the texts in them; `limits` are rule, limit and number; `baseline` is a real path,
    or empty. `edition`, `fail_on` and `require_record` are None where it leaves them open."""

    name: str
    edition: int | None = None
    fail_on: str | None = None
    folders: tuple[str, ...] = ()
    limits: tuple[tuple[str, str, Fraction], ...] = ()
    never_waive: frozenset[str] = frozenset()
    baseline: str = ""
    rules: tuple[RuleText, ...] = field(default=(), repr=False)
    loosened: tuple[Loosened, ...] = ()
    require_record: bool | None = None
    places: tuple[tuple[Step, tuple[int, int]], ...] = field(default=(), compare=False, repr=False)

    def place(self, path: Step) -> tuple[int, int]:
        """Line and column of a key, or of the limit with that rule and name."""
        return dict(self.places).get(path, (1, 1))


def read_config(found: NearestFile, source: ConfigSource = DISK, outer: Config | None = None) -> Config:
    """Read one; `outer` are those further out. ConfigError where it is broken, or leads where it may not; nothing in it is
    executed."""
    name = source.shown(found.path)
    try:
        data = source.content(found.path, found.root, MAX_SIZE)
    except OSError as error:
        raise ConfigError(f"{name}: cannot be read: {error.strerror or error}") from None
    document = parsed_document(data, name)
    reading = _Reading(document, found, source, outer)
    wrong = sorted(reading.problems())
    if wrong:
        line, column = document.position(wrong[0].span.start)
        more = f" (and {len(wrong) - 1} more)" if len(wrong) > 1 else ""
        raise ConfigError(f"{name}:{line}:{column}: {wrong[0].what}{more}")
    return reading.config(name)


def config_or_problems(document: Document, found: NearestFile, outer: Config | None = None) -> Config | list[Wrong]:
    """What a text says that stands, or will stand, at a place; or all that is wrong with it, in its order."""
    reading = _Reading(document, found, DISK, outer)
    return sorted(reading.problems()) or reading.config(document.name)


def rule_folders(document: Document, found: NearestFile) -> tuple[str, ...]:
    """The real paths of the folders of rules that a text names, of those that it may name and that are there."""
    reading = _Reading(document, found)
    list(reading.rules_problems())
    return reading.folders


class _Reading:
    """One text."""

    def __init__(
        self, document: Document, found: NearestFile, source: ConfigSource = DISK, outer: Config | None = None
    ) -> None:
        self.document, self.found, self.source, self.outer = document, found, source, outer
        self.values: Mapping[str, Any] = document.values
        self.nearest = Nearest()
        self.folders: tuple[str, ...] = ()
        self.texts: list[RuleText] = []
        self.clubs: list[str] = []
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
        yield from self.baseline_problems()
        if not isinstance(self.values.get("require-record", False), bool):
            yield self.value(("require-record",), "require-record is true or false")

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
            yield self.value(("edition",), f"edition is a year like {NEWEST}, without quotes")
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
        edition = self.edition()
        known = {text.path: text for text in (self.outer.rules if self.outer else ())}
        try:
            self.texts = [text for folder in self.folders for text in self.source.rule_texts(folder)]
            together = {**known, **{text.path: text for text in self.texts}}
            self.clubs = list(club_rules.pages_of(together.values(), edition.rules.keys() - edition.left_out))
        except (OSError, rule_file.BookError) as error:
            self.all_clubs = False
            why = f"a rule cannot be read: {error.strerror or error}" if isinstance(error, OSError) else str(error)
            yield self.value(("rules",), why)

    def folder_objection(self, folder: object) -> str:
        why = self.path_objection(folder, 'a folder of rules is a text like "club-rules"')
        if why or self.source.is_folder(self.real(str(folder))):
            return why
        return f"there is no folder {quoted(str(folder))}; it is looked for beside this file"

    def path_objection(self, path: object, needed: str) -> str:
        """Why a value is no path in the repository; `needed` says what it has to be. Empty where it is one."""
        if not isinstance(path, str) or not path or "\0" in path:
            return needed
        if "\\" in path:
            mended = path.replace("\\", "/")
            return f"{quoted(path)}: {SLASHES}; write {quoted(mended)}"
        if os.path.isabs(path) or not is_inside(self.real(path), self.found.root):
            return f"{quoted(path)} leads out of the repository: it is a path from this file"
        return ""

    def real(self, folder: str) -> str:
        return self.source.resolved(os.path.join(os.path.dirname(self.found.path), folder))

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
                has = list(rules[rule].limits)
                what = f"{rule} has no limit {quoted(limit)}" if limit or not has else f"write {rule}.{has[0]} = NUMBER"
                yield self.key(path, f"{what}; its limits: {word_list(has, 'and')}")
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

    def baseline_problems(self) -> Iterator[Wrong]:
        """Whether it is there is asked by whoever reads it: it may be about to be made."""
        if "baseline" not in self.values:
            return
        why = self.path_objection(self.values["baseline"], 'baseline is the path of a file, like "known.jsonl"')
        if why:
            yield self.value(("baseline",), why)

    def config(self, name: str) -> Config:
        """Once nothing is wrong."""
        limits = list(self.limits())
        spans: dict[Step, Span] = {(key,): self.document.span((key,)) for key in self.values}
        spans |= {("limits", rule, limit): self.document.span(path) for path, rule, limit, _ in limits}
        return Config(
            name,
            self.values.get("edition"),
            self.values.get("fail-on"),
            self.folders,
            tuple((rule, limit, Fraction(value)) for _, rule, limit, value in limits),
            frozenset(self.values.get("never-waive", [])),
            self.real(self.values["baseline"]) if "baseline" in self.values else "",
            tuple(self.texts),
            require_record=self.values.get("require-record"),
            places=tuple((path, self.document.position(span.start)) for path, span in spans.items()),
        )


def _keys() -> str:
    return f"its keys are {word_list(KEYS, 'and')}"


def _explain() -> str:
    return "`setuplint explain` lists all rules"
