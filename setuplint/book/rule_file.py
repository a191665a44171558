"""One rule's file: what may stand in it, and what is wrong with a text that is none.

The file has all that is known of its rule: what it means (a claim, or the function that checks it), what it needs to be judged,
which rules say the same, when in a run it is asked, since which edition it stands and what it was before, its limits, its
sources and its examples.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from decimal import Decimal
from fractions import Fraction
from types import MappingProxyType

from setuplint.dataclass import dataclass, field
from setuplint.hints import Any, TypeVar

SIGNALS = ("danger", "caution", "notice")
BASES = ("published", "practice", "memory")
CLAIMS = ("never", "always")
KINDS = (*CLAIMS, "check")
STRICTER = ("lower", "higher")
ASKED = ("loading", "first", "afterwards")
MADE_BY_THE_RUN = (
    "loading",
    "afterwards",
)  # rules without a claim or a check: reading the file, or the other rules, make them
LONGEST = 20_000  # characters: TOML's own reader takes seconds over one long dotted key

Item = TypeVar("Item")

_HEAD = ("signal", "title", "why", "remedy", *KINDS, "limits", "needs", "said-by", "asked", "since", "was")
_WAS = ("signal", *KINDS, "limits")
_LIMIT = ("value", "unit", "basis", "stricter")
_SOURCE = ("basis", "says", "where")
_EXAMPLE = ("speaks", "edit", "remove", "text", "beside", "records")


class BookError(ValueError):
    """A text is not a rule: what is wrong with it, in words; `path` leads to the part that is meant, `index` to a character
    of a text there."""

    def __init__(self, message: str, path: tuple[str | int, ...] = (), index: int | None = None) -> None:
        super().__init__(message)
        self.path, self.index = path, index


@dataclass(frozen=True, slots=True)
class Limit:
    """A number that a rule turns on. `basis` is published, practice or memory; `stricter` says whether a lower or a higher
    number makes the rule report more, and is empty where neither does. `home` is the rule whose limit it is, where several rules
    share one number. `ours` is the book's own where a club has a stricter one."""

    value: Fraction
    unit: str
    basis: str
    stricter: str = ""
    home: str = ""
    ours: Fraction | None = None


@dataclass(frozen=True, slots=True)
class Rule:
    """What a rule means: one of `never` and `always` (formulas) and `check` (a function of the room `checks`, as
    "module.function"); none of them where the run itself makes the findings.

    `needs` are keys that have to be readable, `said_by` the rules that may have said the same of one cause, `asked` when in
    a run it is asked (loading, first, afterwards; else in its turn). `since` is the edition that brought it, None where no
    edition has it yet; `was` has, by edition, what it was up to that one.
    """

    name: str
    signal: str  # danger | caution | notice
    title: str
    why: str
    remedy: str
    never: str | None = None
    always: str | None = None
    check: str | None = None
    limits: Mapping[str, Limit] = field(default_factory=dict)
    needs: tuple[str, ...] = ()
    said_by: tuple[str, ...] = ()
    asked: str = ""
    since: int | None = None
    was: Mapping[int, Mapping[str, Any]] = field(default_factory=dict)

    @property
    def is_claim(self) -> bool:
        """Whether a formula says it."""
        return self.never is not None or self.always is not None

    @property
    def is_asked(self) -> bool:
        """Whether it is a question about a setup; the findings of the others are made by reading and by the run itself."""
        return self.asked not in MADE_BY_THE_RUN


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
    linted with the first. `records` stand beside the setup: with some, one is asked for.
    """

    speaks: bool
    edit: Mapping[str, Any] = field(default_factory=dict)
    remove: tuple[str, ...] = ()
    text: str | None = None
    beside: Mapping[str, Any] | None = None
    records: tuple[Mapping[str, Any], ...] = ()


@dataclass(frozen=True, slots=True)
class Page:
    rule: Rule
    sources: tuple[Source, ...]
    examples: tuple[Example, ...]


def read_rule(text: str, name: str, where: str = "") -> Page:
    """A rule from the text of its file. BookError where it is not one, beginning with the place in the file `where` it stands
    (else with its name); the names in its formula are not looked up."""
    if len(text) > LONGEST:
        raise BookError(f"{where or name}: more than {LONGEST:,} characters")
    try:
        values = toml_values(text)
    except (ValueError, ArithmeticError, RecursionError) as error:
        raise BookError(f"{_not_toml(text, where) or f'{where or name}: not TOML: {error}'}") from None
    try:
        return _page(values, name)
    except BookError as error:
        raise BookError(f"{position_of(text, where, error) if where else name}: {error}") from None


def _not_toml(text: str, where: str) -> str:
    """The first thing that our own reader finds, which has a place and says what to do; empty where it finds none."""
    from setuplint.source import parsed_document

    document = parsed_document(text, where)
    if not where or not document.problems:
        return ""
    problem = document.problems[0]
    line, column = document.position(problem.span.start)
    return f"{where}:{line}:{column}: not TOML: {problem.message} {problem.help}"


def position_of(text: str, where: str, error: BookError) -> str:
    """The file, line and column of the part that an error is about."""
    from setuplint.source import parsed_document

    document = parsed_document(text, where)
    start = (document.key_span(error.path) or document.span(error.path)).start
    if error.index is not None:
        start = document.string_offset(error.path, error.index)
    line, column = document.position(start)
    return f"{where}:{line}:{column}"


def toml_values(text: str) -> dict[str, Any]:
    import tomllib  # its patterns take long to compile, and a built package has the heads without it

    return tomllib.loads(text, parse_float=Decimal)


def rule_of_head(head: Mapping[str, Any], name: str) -> Rule:
    """A rule of a head that is known to be right."""
    return Rule(
        name,
        head["signal"],
        head["title"],
        head["why"],
        head["remedy"],
        head.get("never"),
        head.get("always"),
        head.get("check"),
        MappingProxyType({key: _limit(limit) for key, limit in head.get("limits", {}).items()}),
        tuple(head.get("needs", ())),
        tuple(head.get("said-by", ())),
        head.get("asked", ""),
        head.get("since"),
        {int(year): table for year, table in head.get("was", {}).items()},
    )


def _limit(limit: Any) -> Limit:
    """A limit; one that names another rule gets its number when the book is put together."""
    if isinstance(limit, str):
        return Limit(Fraction(0), "", "", home=limit)
    return Limit(Fraction(limit["value"]), limit["unit"], limit["basis"], limit.get("stricter", ""))


def _page(values: dict[str, Any], name: str) -> Page:
    sources = _tables(values, "sources")
    examples = _tables(values, "examples")
    head = {key: value for key, value in values.items() if key not in ("sources", "examples")}
    _check_head(head)
    return Page(
        rule_of_head(head, name),
        tuple(_under(_source, "sources", index, table) for index, table in enumerate(sources)),
        tuple(_under(_example, "examples", index, table) for index, table in enumerate(examples)),
    )


def _under(make: Callable[[dict[str, Any]], Item], key: str, index: int, table: dict[str, Any]) -> Item:
    try:
        return make(table)
    except BookError as error:
        raise BookError(str(error), (key, index, *error.path)) from None


def _check_head(head: Mapping[str, Any]) -> None:
    _known(head, _HEAD, "a rule")
    for key in ("signal", "title", "why", "remedy"):
        _sentence(head, key, "a rule")
    _among(head, "signal", SIGNALS)
    _check_kind(head)
    limits = head.get("limits", {})
    if not isinstance(limits, dict):
        raise BookError("limits is a table")
    for key, limit in limits.items():
        _check_limit(f"the limit {key}", limit)
    for key in ("needs", "said-by"):
        _words(head, key, "a rule")
    if "since" in head and type(head["since"]) is not int:
        raise BookError("since of a rule is the year of an edition", ("since",))
    _check_was(head.get("was", {}))


def _check_kind(head: Mapping[str, Any]) -> None:
    if "asked" in head:
        _sentence(head, "asked", "a rule")
        _among(head, "asked", ASKED)
    kinds = [key for key in KINDS if key in head]
    most = 0 if head.get("asked") in MADE_BY_THE_RUN else 1
    if len(kinds) != most:
        raise BookError(f"a rule has exactly one of never, always and check, not {len(kinds)}")
    for kind in kinds:
        statement = _sentence(head, kind, "a rule")
        if kind != "check":
            _check_formula(kind, statement)


def _check_was(was: Any) -> None:
    if not (isinstance(was, dict) and all(isinstance(table, dict) and year.isdecimal() for year, table in was.items())):
        raise BookError("was of a rule is a table of what it was up to an edition, under the edition's year", ("was",))
    for year, table in was.items():
        _known(table, _WAS, f"was.{year}")


def _check_formula(key: str, text: str) -> None:
    from setuplint.setup.formula_parser import parsed_formula
    from setuplint.setup.formulas import FormulaError  # late: heads are read without it

    try:
        parsed_formula(text)
    except FormulaError as error:
        raise BookError(f"{key}: {error.message}; {error.help}", (key,), error.start) from None


def _check_limit(what: str, limit: Any) -> None:
    if isinstance(limit, str):
        return
    if not isinstance(limit, dict):
        raise BookError(f"{what} is a table of value, unit and basis, or the rule whose limit it is")
    _known(limit, _LIMIT, what)
    if not is_number(limit.get("value")):
        raise BookError(f"the value of {what} is a number, under a thousand million")
    _sentence(limit, "unit", what)
    _sentence(limit, "basis", what)
    _among(limit, "basis", BASES)
    if "stricter" in limit:
        _sentence(limit, "stricter", what)
        _among(limit, "stricter", STRICTER)


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
    edits = [key for key in ("edit", "remove", "beside", "records") if key in table]
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
        _words(table, "remove", "an example"),
        table.get("text"),
        table.get("beside"),
        tuple(_tables(table, "records")),
    )


def _tables(values: Mapping[str, Any], key: str) -> list[dict[str, Any]]:
    tables = values.get(key, [])
    if not (isinstance(tables, list) and all(isinstance(table, dict) for table in tables)):
        raise BookError(f"{key} is a list of tables, each under [[{key}]]")
    return tables


def _words(table: Mapping[str, Any], key: str, what: str) -> tuple[str, ...]:
    words = table.get(key, [])
    if not (isinstance(words, list) and all(isinstance(word, str) for word in words)):
        raise BookError(f"{key} of {what} is a list of words", (key,))
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
