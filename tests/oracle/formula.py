"""The formula language of MEANING.md sections 2 and 7: text to a tree, and Kleene's three values over the tree."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

Truth = bool | None


class FormulaError(ValueError):
    """The text is no formula."""


@dataclass(frozen=True)
class Const:
    value: Truth


@dataclass(frozen=True)
class Not:
    part: Formula


@dataclass(frozen=True)
class And:
    parts: tuple[Formula, ...]


@dataclass(frozen=True)
class Or:
    parts: tuple[Formula, ...]


@dataclass(frozen=True)
class Is:
    """A switch in a position, or a sensor that is lost."""

    name: str
    word: str


@dataclass(frozen=True)
class Compare:
    name: str
    op: str
    number: Fraction


@dataclass(frozen=True)
class Condition:
    name: str


@dataclass(frozen=True)
class ModeIs:
    name: str


@dataclass(frozen=True)
class Output:
    channel: str
    op: str
    number: Fraction


@dataclass(frozen=True)
class Predicate:
    name: str


@dataclass(frozen=True)
class Follows:
    channel: str
    stick: str


Formula = Const | Not | And | Or | Is | Compare | Condition | ModeIs | Output | Predicate | Follows

PREDICATES = {
    ("hold", "called"),
    ("stop", "called"),
    ("rescue", "called"),
    ("motor", "runs"),
    ("rotor", "driven"),
    ("flying",),
    ("levelled",),
    ("lifted",),
    ("sprung", "switches", "released"),
    ("start", "allowed"),
}
RESERVED = {"and", "or", "not", "is", "lost", "mode", "output", "flying", "levelled", "lifted", "true", "false"}
OPS: dict[str, Callable[[Fraction, Fraction], bool]] = {
    "<": lambda a, b: a < b,
    "<=": lambda a, b: a <= b,
    ">": lambda a, b: a > b,
    ">=": lambda a, b: a >= b,
}

_TOKEN = re.compile(r"\s*(?:([a-z][a-z0-9]*(?:-[a-z0-9]+)*)|(-?[0-9]+(?:\.[0-9]+)?)|(<=|>=|<|>)|([()]))")


def tokens(text: str) -> list[str]:
    """The words, numbers, comparisons and parentheses of a formula."""
    found, at, end = [], 0, len(text.rstrip())
    while at < end:
        match = _TOKEN.match(text, at)
        if match is None:
            raise FormulaError(f"cannot read {text[at:]!r}")
        found.append(match.group().strip())
        at = match.end()
    return found


class _Parser:
    def __init__(self, text: str, claim: bool) -> None:
        self.words = tokens(text)
        self.at = 0
        self.claim = claim

    def peek(self, ahead: int = 0) -> str:
        at = self.at + ahead
        return self.words[at] if at < len(self.words) else ""

    def take(self, *wanted: str) -> str:
        word = self.peek()
        if not word or (wanted and word not in wanted):
            raise FormulaError(f"{wanted or 'a word'} wanted, not {word!r}")
        self.at += 1
        return word

    def disjunction(self) -> Formula:
        parts = [self.conjunction()]
        while self.peek() == "or":
            self.take()
            parts.append(self.conjunction())
        return parts[0] if len(parts) == 1 else Or(tuple(parts))

    def conjunction(self) -> Formula:
        parts = [self.negation()]
        while self.peek() == "and":
            self.take()
            parts.append(self.negation())
        return parts[0] if len(parts) == 1 else And(tuple(parts))

    def negation(self) -> Formula:
        if self.peek() == "not":
            self.take()
            return Not(self.negation())
        return self.atom()

    def name(self) -> str:
        word = self.take()
        if not word[0].isalpha() or word in RESERVED:
            raise FormulaError(f"{word!r} is not a name")
        return word

    def comparison(self) -> tuple[str, Fraction]:
        op = self.take(*OPS)
        number = self.take()
        if number.lstrip("-")[:1].isdigit():
            return op, Fraction(number)
        raise FormulaError(f"{number!r} is not a number")

    def atom(self) -> Formula:
        if self.peek() == "(":
            self.take()
            inner = self.disjunction()
            self.take(")")
            return inner
        if self.claim:
            found = self.claim_atom()
            if found is not None:
                return found
        if self.peek() == "mode":
            self.take()
            return self.is_word(ModeIs)
        name = self.name()
        if self.peek() == "is":
            return self.is_word(lambda word: Is(name, word))
        if self.peek() in OPS:
            return Compare(name, *self.comparison())
        return Condition(name)

    def is_word(self, make: Callable[[str], Formula]) -> Formula:
        self.take("is")
        negated = self.peek() == "not"
        if negated:
            self.take()
        word = self.take() if self.peek() == "lost" else self.name()
        return Not(make(word)) if negated else make(word)

    def claim_atom(self) -> Formula | None:
        if self.peek() == "output":
            self.take()
            return Output(self.name(), *self.comparison())
        if self.peek(1) == "follows":
            channel = self.name()
            self.take()
            return Follows(channel, self.name())
        for words in PREDICATES:
            if tuple(self.peek(k) for k in range(len(words))) == words:
                self.at += len(words)
                return Predicate(" ".join(words))
        return None


@lru_cache(10_000)
def parse(text: str, claim: bool = False) -> Formula:
    """The tree of a formula; with `claim`, outputs and predicates may stand in it. Raises FormulaError."""
    parser = _Parser(text, claim)
    found = parser.disjunction()
    if parser.peek():
        raise FormulaError(f"{parser.peek()!r} is left over")
    return found


def leaves(formula: Formula) -> Iterator[Formula]:
    """Every part of a formula that is not `and`, `or` or `not`."""
    match formula:
        case Not(part):
            yield from leaves(part)
        case And(parts) | Or(parts):
            for part in parts:
                yield from leaves(part)
        case _:
            yield formula


def kleene(formula: Formula, leaf: Callable[[Formula], Truth]) -> Truth:
    """The value of a formula when `leaf` gives that of its leaves (Kleene's strong three values)."""
    match formula:
        case And(parts) | Or(parts):
            decisive = isinstance(formula, Or)  # one part with this value decides
            found: Truth = not decisive
            for part in parts:
                value = kleene(part, leaf)
                if value is decisive:
                    return decisive
                if value is None:
                    found = None
            return found
        case Not(part):
            value = kleene(part, leaf)
            return None if value is None else not value
        case Const(value):
            return value
        case _:
            return leaf(formula)


def conditions_in(formula: Formula) -> set[str]:
    return {leaf.name for leaf in leaves(formula) if isinstance(leaf, Condition)}


def names_mode(formula: Formula) -> bool:
    return any(isinstance(leaf, ModeIs) for leaf in leaves(formula))


def channels_in(formula: Formula) -> list[str]:
    """The channels that an expanded formula asks about."""
    return list(dict.fromkeys(leaf.channel for leaf in leaves(formula) if isinstance(leaf, Output | Follows)))
