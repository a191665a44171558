"""The rule book: one TOML file a rule. Its head says what the rule means; then come its sources and its examples.

Every start of the command reads all the heads and nothing below them: a file's head ends at the first line that begins
with `[[`. `page` reads a whole file, `read_rule` a text that may come from anyone, such as a club's own rule.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any, TypeVar

SIGNALS = ("danger", "caution", "notice")
BASES = ("published", "practice", "memory")
KINDS = ("never", "always", "check")
LONGEST = 20_000  # characters: TOML's own reader takes seconds over one long dotted key

Part = TypeVar("Part")

_HEAD = ("signal", "title", "why", "remedy", *KINDS, "limits")
_SOURCE = ("basis", "says", "where")
_EXAMPLE = ("speaks", "edit", "remove", "text", "beside", "also")


class BookError(ValueError):
    """A text is not a rule: what is wrong with it, in words; `path` leads to the part that is meant, `index` to a character
    of a text there."""

    def __init__(self, message: str, path: tuple[str | int, ...] = (), index: int | None = None) -> None:
        super().__init__(message)
        self.path, self.index = path, index


@dataclass(frozen=True, slots=True)
class Limit:
    """A number that a rule turns on. `basis` is published, practice or memory, that of `ours` where a club has another."""

    value: Fraction
    unit: str
    basis: str
    ours: Fraction | None = None


@dataclass(frozen=True, slots=True)
class Rule:
    """What a rule means. Exactly one of `never` and `always` (formulas) and `check` (a function's name) is given."""

    name: str
    signal: str  # danger | caution | notice
    title: str
    why: str
    remedy: str
    never: str | None = None
    always: str | None = None
    check: str | None = None
    limits: Mapping[str, Limit] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Source:
    """What a rule rests on; `where` is given for what is published."""

    basis: str
    says: str
    where: str | None = None


@dataclass(frozen=True, slots=True)
class Example:
    """A setup on which the rule must speak, or must not: edits to the safe reference setup, or a whole `text`.

    `remove` comes before `edit`; both name parts by dotted paths. `beside` has the edits that make a second setup,
    linted with the first. `also` has the other rules that rightly speak.
    """

    speaks: bool
    edit: Mapping[str, Any] = field(default_factory=dict)
    remove: tuple[str, ...] = ()
    text: str | None = None
    beside: Mapping[str, Any] | None = None
    also: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Page:
    rule: Rule
    sources: tuple[Source, ...]
    examples: tuple[Example, ...]


def folder() -> Path:
    """Where the rule files are: beside the package in a checkout, inside it once installed.

    An editable install leaves a copy that grows stale, so a checkout's own come first; `pyproject.toml` tells a
    checkout from a folder of packages in which some other one is called `rules`.
    """
    package = Path(__file__).parent.parent
    checkout = package.parent
    if (checkout / "rules").is_dir() and (checkout / "pyproject.toml").is_file():
        return checkout / "rules"
    return package / "rules"


@cache
def rules() -> Mapping[str, Rule]:
    """Every rule of the book, sorted by name."""
    return MappingProxyType({path.stem: _rule(_load(_head(_text(path))), path.stem) for path in _files()})


def page(name: str) -> Page:
    """A rule's whole file. KeyError(name, near): there is no such rule; `near` is a tuple of the closest names."""
    if name not in rules():
        from difflib import get_close_matches

        raise KeyError(name, tuple(get_close_matches(name, rules(), n=3)))
    return read_rule(_text(folder() / f"{name}.toml"), name)


def read_rule(text: str, name: str, where: str = "") -> Page:
    """A rule from the text of its file. BookError where it is not one, beginning with the place in the file `where` it stands
    (else with its name); the names in its formula are not looked up."""
    if len(text) > LONGEST:
        raise BookError(f"{where or name}: more than {LONGEST:,} characters")
    try:
        values = _load(text)
    except (ValueError, ArithmeticError, RecursionError) as error:
        raise BookError(f"{_not_toml(text, where) or f'{where or name}: not TOML: {error}'}") from None
    try:
        return _page(values, name)
    except BookError as error:
        raise BookError(f"{_place(text, where, error) if where else name}: {error}") from None


def _not_toml(text: str, where: str) -> str:
    """The first thing that our own reader finds, which has a place and says what to do; empty where it finds none."""
    from setuplint.source import parsed_document

    document = parsed_document(text, where)
    if not where or not document.problems:
        return ""
    problem = document.problems[0]
    line, column = document.position(problem.span.start)
    return f"{where}:{line}:{column}: not TOML: {problem.message} {problem.help}"


def _place(text: str, where: str, error: BookError) -> str:
    from setuplint.source import parsed_document

    document = parsed_document(text, where)
    start = (document.key_span(error.path) or document.span(error.path)).start
    if error.index is not None:
        start = document.string_offset(error.path, error.index)
    line, column = document.position(start)
    return f"{where}:{line}:{column}"


def _files() -> list[Path]:
    return sorted(folder().glob("*.toml"), key=lambda path: path.stem)


def _text(path: Path) -> str:
    return path.read_text(encoding="utf-8")


def _head(text: str) -> str:
    end = text.find("\n[[")
    return text if end < 0 else text[: end + 1]


def _load(text: str) -> dict[str, Any]:
    return tomllib.loads(text, parse_float=Decimal)


def _rule(head: Mapping[str, Any], name: str) -> Rule:
    """A head that is known to be right."""
    limits = {
        key: Limit(Fraction(limit["value"]), limit["unit"], limit["basis"])
        for key, limit in head.get("limits", {}).items()
    }
    return Rule(
        name,
        head["signal"],
        head["title"],
        head["why"],
        head["remedy"],
        head.get("never"),
        head.get("always"),
        head.get("check"),
        MappingProxyType(limits),
    )


def _page(values: dict[str, Any], name: str) -> Page:
    sources = _tables(values, "sources")
    examples = _tables(values, "examples")
    head = {key: value for key, value in values.items() if key not in ("sources", "examples")}
    _check_head(head)
    return Page(
        _rule(head, name),
        tuple(_under(_source, "sources", index, table) for index, table in enumerate(sources)),
        tuple(_under(_example, "examples", index, table) for index, table in enumerate(examples)),
    )


def _under(make: Callable[[dict[str, Any]], Part], key: str, index: int, table: dict[str, Any]) -> Part:
    try:
        return make(table)
    except BookError as error:
        raise BookError(str(error), (key, index, *error.path)) from None


def _check_head(head: Mapping[str, Any]) -> None:
    _known(head, _HEAD, "a rule")
    for key in ("signal", "title", "why", "remedy"):
        _sentence(head, key, "a rule")
    _among(head, "signal", SIGNALS)
    kinds = [key for key in KINDS if key in head]
    if len(kinds) != 1:
        raise BookError(f"a rule has exactly one of never, always and check, not {len(kinds)}")
    statement = _sentence(head, kinds[0], "a rule")
    if kinds[0] != "check":
        _check_formula(kinds[0], statement)
    limits = head.get("limits", {})
    if not isinstance(limits, dict):
        raise BookError("limits is a table")
    for key, limit in limits.items():
        _check_limit(f"the limit {key}", limit)


def _check_formula(key: str, text: str) -> None:
    from setuplint.setup.formulas import FormulaError, parse  # late: heads are read without it

    try:
        parse(text)
    except FormulaError as error:
        raise BookError(f"{key}: {error.message}; {error.help}", (key,), error.start) from None


def _check_limit(what: str, limit: Any) -> None:
    if not isinstance(limit, dict):
        raise BookError(f"{what} is a table of value, unit and basis")
    _known(limit, ("value", "unit", "basis"), what)
    if not is_number(limit.get("value")):
        raise BookError(f"the value of {what} is a number, under a thousand million")
    _sentence(limit, "unit", what)
    _sentence(limit, "basis", what)
    _among(limit, "basis", BASES)


def is_number(value: Any) -> bool:
    """A finite number whose exact fraction is of a sane size."""
    if isinstance(value, bool) or not isinstance(value, int | Decimal):
        return False
    number = Decimal(value)
    return number.is_finite() and abs(number.adjusted()) < 9 and len(number.as_tuple().digits) < 20


def _source(table: dict[str, Any]) -> Source:
    _known(table, _SOURCE, "a source")
    basis, says = _sentence(table, "basis", "a source"), _sentence(table, "says", "a source")
    _among(table, "basis", BASES)
    if ("where" in table) != (basis == "published"):
        raise BookError("a published source says where, and no other does")
    return Source(basis, says, _sentence(table, "where", "a source") if "where" in table else None)


def _example(table: dict[str, Any]) -> Example:
    _known(table, _EXAMPLE, "an example")
    if not isinstance(table.get("speaks"), bool):
        raise BookError("speaks of an example is true or false")
    edits = [key for key in ("edit", "remove", "beside") if key in table]
    if ("text" in table) == bool(edits):
        raise BookError("an example has either a text or edits")
    for key in ("edit", "beside"):
        if key in table and not (isinstance(table[key], dict) and table[key]):
            raise BookError(f"{key} of an example is a table of dotted paths and values")
    if "text" in table and not isinstance(table["text"], str):
        raise BookError("text of an example is a text")
    return Example(
        table["speaks"],
        table.get("edit", {}),
        _words(table, "remove"),
        table.get("text"),
        table.get("beside"),
        _words(table, "also"),
    )


def _tables(values: Mapping[str, Any], key: str) -> list[dict[str, Any]]:
    tables = values.get(key, [])
    if not (isinstance(tables, list) and all(isinstance(table, dict) for table in tables)):
        raise BookError(f"{key} is a list of tables, each under [[{key}]]")
    return tables


def _words(table: Mapping[str, Any], key: str) -> tuple[str, ...]:
    words = table.get(key, [])
    if not (isinstance(words, list) and all(isinstance(word, str) for word in words)):
        raise BookError(f"{key} of an example is a list of words")
    return tuple(words)


def _known(table: Mapping[str, Any], keys: tuple[str, ...], what: str) -> None:
    for key in table:
        if key not in keys:
            raise BookError(f"{what} has no key {key}: its keys are {', '.join(keys)}", (key,))


def _sentence(table: Mapping[str, Any], key: str, what: str) -> str:
    if key not in table:
        raise BookError(f"{what} lacks {key}")
    value = table[key]
    if not isinstance(value, str) or not value.strip():
        raise BookError(f"{key} of {what} is a text, and not an empty one", (key,))
    return value


def _among(table: Mapping[str, Any], key: str, words: tuple[str, ...]) -> None:
    if table[key] not in words:
        raise BookError(f"{key} is one of {', '.join(words)}, not {table[key]}", (key,))
