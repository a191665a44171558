"""The one formula language: its tree, its grammar (MEANING.md section 2) and its parser.

A formula stands in conditions, modes, overrides, alarms, timers, `[start]` and `[intent]`; in claims and rules it may also
ask for outputs and for the predicates of MEANING.md section 7. Parsing gives a tree of names as they are written; `resolve`
(in `names`) then says what each name is.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, NamedTuple

LONGEST = 4096  # characters
DEEPEST = 50  # parentheses and `not`s inside each other

OPERATORS = ("<", "<=", ">", ">=")
RESERVED = frozenset(
    ("and", "or", "not", "is", "lost", "mode", "output", "flying", "levelled", "lifted", "true", "false")
)
PREDICATES = (
    "hold called",
    "stop called",
    "rescue called",
    "motor runs",
    "rotor driven",
    "flying",
    "levelled",
    "lifted",
    "sprung switches released",
    "start allowed",
)


class _Hashed:
    """Formulas are looked up far more often than they are made: each remembers its hash, in this process alone."""

    __slots__ = ("_hash",)
    _hash: int

    def __hash__(self) -> int:
        try:
            return self._hash
        except AttributeError:
            found = hash(self.__reduce__())
            object.__setattr__(self, "_hash", found)
            return found

    def __reduce__(self) -> tuple[type[Any], tuple[Any, ...]]:
        return type(self), tuple(getattr(self, name) for name in self.__match_args__)  # type: ignore[attr-defined]


@dataclass(frozen=True, slots=True)
class And(_Hashed):
    items: tuple[Formula, ...]

    __hash__ = _Hashed.__hash__


@dataclass(frozen=True, slots=True)
class Or(_Hashed):
    items: tuple[Formula, ...]

    __hash__ = _Hashed.__hash__


@dataclass(frozen=True, slots=True)
class Not(_Hashed):
    item: Formula

    __hash__ = _Hashed.__hash__


@dataclass(frozen=True, slots=True)
class SwitchIs:
    switch: str
    position: str


@dataclass(frozen=True, slots=True)
class Lost:
    sensor: str


@dataclass(frozen=True, slots=True)
class Compare(_Hashed):
    """A stick, knob or sensor against a number; false of a sensor that is lost or unheard."""

    name: str
    op: str
    number: Fraction

    __hash__ = _Hashed.__hash__


@dataclass(frozen=True, slots=True)
class Holds:
    """A condition."""

    condition: str


@dataclass(frozen=True, slots=True)
class ModeIs:
    mode: str


@dataclass(frozen=True, slots=True)
class OutputCompare(_Hashed):
    """A channel's settled output, in percent, against a number."""

    channel: str
    op: str
    number: Fraction

    __hash__ = _Hashed.__hash__


@dataclass(frozen=True, slots=True)
class Predicate:
    """One of PREDICATES."""

    name: str


@dataclass(frozen=True, slots=True)
class Follows:
    channel: str
    stick: str


@dataclass(frozen=True, slots=True)
class Unknown:
    """What a broken or missing part leaves undetermined: neither true nor false (Kleene)."""

    because: str


# The next three are asked by rules through the library, never written: who decides a channel, and who could.
@dataclass(frozen=True, slots=True)
class Decides:
    """The override (None: no override, the channel's own line) decides its channel, alone or by a tie."""

    channel: str
    override: str | None


@dataclass(frozen=True, slots=True)
class Active:
    """The override's `when` holds."""

    override: str


@dataclass(frozen=True, slots=True)
class Sounds:
    """The alarm's `when` holds and it has voice, tone or vibration."""

    alarm: str


@dataclass(frozen=True, slots=True)
class CellBelow:
    """The voltage of a cell, whether heard or not, is under a number of volts; unknown without `cells`."""

    volts: Fraction


@dataclass(frozen=True, slots=True)
class Heard:
    """The sensor gives a number: neither lost nor unheard."""

    sensor: str


Formula = (
    And
    | Or
    | Not
    | SwitchIs
    | Lost
    | Compare
    | Holds
    | ModeIs
    | OutputCompare
    | Predicate
    | Follows
    | Unknown
    | Decides
    | Active
    | Sounds
    | CellBelow
    | Heard
)

TRUE: Formula = And(())
FALSE: Formula = Or(())


def both(*items: Formula) -> Formula:
    return items[0] if len(items) == 1 else And(items)


def either(*items: Formula) -> Formula:
    return items[0] if len(items) == 1 else Or(items)


def negation(item: Formula) -> Formula:
    return item.item if isinstance(item, Not) else Not(item)


def atoms(formula: Formula) -> Iterator[Formula]:
    """Every leaf, in the order in which it is written."""
    if isinstance(formula, And | Or):
        for item in formula.items:
            yield from atoms(item)
    elif isinstance(formula, Not):
        yield from atoms(formula.item)
    else:
        yield formula


class Token(NamedTuple):
    kind: str  # name | number | op | ( | ) | end
    text: str
    start: int
    end: int


HOW = "write for example “hold is on”, “pack < 21.6”, “mode is normal” or a condition's name"


class FormulaError(Exception):
    """The formula cannot be read; `start` and `end` are offsets in its text."""

    def __init__(self, message: str, help: str, start: int, end: int) -> None:
        super().__init__(message)
        self.message, self.help, self.start, self.end = message, help, start, end


@dataclass(frozen=True, slots=True)
class Atom:
    """A leaf as written: `words` are its tokens without `not`; `negated` is `is not`."""

    kind: str  # name | is | compare | mode | output | predicate | follows
    words: tuple[Token, ...]
    negated: bool = False

    @property
    def start(self) -> int:
        return self.words[0].start

    @property
    def end(self) -> int:
        return self.words[-1].end


@dataclass(frozen=True, slots=True)
class Group:
    kind: str  # and | or | not
    items: tuple[Written, ...]


Written = Atom | Group

_TOKEN = re.compile(
    r"\s*+(?:(?P<number>-?[0-9]++(?:\.[0-9]++)?+)(?![\w.])"
    r"|(?P<name>[a-z][a-z0-9]*+(?:-[a-z0-9]++)*+)(?![\w-])"
    r"|(?P<op><=|>=|<|>)|(?P<open>\()|(?P<close>\)))",
    re.ASCII,
)
_WORD = re.compile(r"\S+")
_FIRST_WORDS = frozenset(p.split()[0] for p in PREDICATES)


def tokens(text: str) -> list[Token]:
    found: list[Token] = []
    at = 0
    length = len(text.rstrip())
    while at < length:
        match = _TOKEN.match(text, at)
        if match is None:
            bad = _WORD.search(text, at)
            assert bad is not None
            raise FormulaError(
                f"“{_short(bad.group())}” is not a part of a formula",
                "write names in lower case, numbers like -12.5, and <, <=, >, >=, and, or, not, is, ( and )",
                bad.start(),
                bad.end(),
            )
        kind = match.lastgroup or ""
        start, end = match.span(kind)
        found.append(Token({"open": "(", "close": ")"}.get(kind, kind), match.group(kind), start, end))
        at = end
    found.append(Token("end", "", length, length))
    return found


def _short(text: str) -> str:
    return text if len(text) <= 40 else text[:37] + "..."


def parse(text: str) -> Written:
    """Read a formula; FormulaError with its place when it is not one."""
    if len(text) > LONGEST:
        raise FormulaError(
            f"the formula has {len(text)} characters, more than {LONGEST}",
            "split it: give parts of it names as [conditions]",
            0,
            LONGEST,
        )
    return _Parser(tokens(text)).whole()


class _Parser:
    def __init__(self, found: list[Token]) -> None:
        self.found, self.at, self.depth = found, 0, 0

    @property
    def now(self) -> Token:
        return self.found[self.at]

    def whole(self) -> Written:
        if self.now.kind == "end":
            raise FormulaError("the formula is empty", "write what must hold, as in “hold is on”", 0, 0)
        formula = self.alternatives()
        if self.now.kind != "end":
            self.fail("and, or, or the end", "write “and” or “or” between two statements, and a “(” for each “)”")
        return formula

    def fail(self, expected: str, help: str) -> None:
        token = self.now
        got = "the formula ends" if token.kind == "end" else f"“{_short(token.text)}” stands"
        start = max(0, token.start - 1) if token.kind == "end" else token.start
        raise FormulaError(f"{got} where {expected} is expected", help, start, token.end)

    def word(self, text: str) -> bool:
        if self.now.kind == "name" and self.now.text == text:
            self.at += 1
            return True
        return False

    def deeper(self) -> None:
        self.depth += 1
        if self.depth > DEEPEST:
            raise FormulaError(
                f"the formula is nested more than {DEEPEST} deep",
                "give the inner parts names as [conditions]",
                self.now.start,
                self.now.end,
            )

    def alternatives(self) -> Written:
        items = [self.together()]
        while self.word("or"):
            items.append(self.together())
        return items[0] if len(items) == 1 else Group("or", tuple(items))

    def together(self) -> Written:
        items = [self.denied()]
        while self.word("and"):
            items.append(self.denied())
        return items[0] if len(items) == 1 else Group("and", tuple(items))

    def denied(self) -> Written:
        if not self.word("not"):
            return self.atom()
        self.deeper()
        item = Group("not", (self.denied(),))
        self.depth -= 1
        return item

    def atom(self) -> Written:
        if self.now.kind == "(":
            self.deeper()
            self.at += 1
            inner = self.alternatives()
            if self.now.kind != ")":
                self.fail("“)”", "close the parenthesis")
            self.at += 1
            self.depth -= 1
            return inner
        first = self.take_name("a name, not or “(”")
        if first.text == "mode":
            negated = self.take_is()
            return Atom("mode", (first, self.take_name("a mode's name")), negated)
        if first.text == "output":
            channel = self.take_name("a channel's name")
            return Atom("output", (first, channel, *self.comparison()))
        if self.now.kind == "name" and self.now.text == "is":
            negated = self.take_is()
            return Atom("is", (first, self.take_name("a position or lost", lost=True)), negated)
        if self.now.kind == "op":
            return Atom("compare", (first, *self.comparison()))
        return self.phrase(first)

    def phrase(self, first: Token) -> Written:
        """A predicate (its words joined) or a condition's name."""
        if self.now.text == "follows" and self.now.kind == "name":
            middle = self.now
            self.at += 1
            return Atom("follows", (first, middle, self.take_name("a stick or knob")))
        words = [first]
        while self.now.kind == "name" and self.now.text not in ("and", "or", "not", "is"):
            words.append(self.now)
            self.at += 1
        text = " ".join(w.text for w in words)
        if text in PREDICATES:
            return Atom("predicate", tuple(words))
        if len(words) > 1:
            self.at -= len(words) - 1
            self.fail("and, or, is, a comparison or the end", HOW)
        if first.text in RESERVED:
            self.at -= 1
            self.fail("a name", HOW)
        return Atom("name", (first,))

    def take_name(self, expected: str, lost: bool = False) -> Token:
        token = self.now
        reserved = token.text in ("and", "or", "not", "is", "true", "false") or (token.text == "lost" and not lost)
        if token.kind != "name" or reserved:
            self.fail(expected, HOW)
        self.at += 1
        return token

    def take_is(self) -> bool:
        if not self.word("is"):
            self.fail("“is”", "write for example “mode is normal”")
        return self.word("not")

    def comparison(self) -> tuple[Token, Token]:
        op = self.now
        if op.kind != "op":
            self.fail("<, <=, > or >=", HOW)
        self.at += 1
        number = self.now
        if number.kind != "number":
            self.fail("a number", HOW)
        self.at += 1
        return op, number


def spelled(text: str) -> str:
    """The formula with single spaces: a claim's subject."""
    return " ".join(text.split())
