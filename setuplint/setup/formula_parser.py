"""Text to formula: the tokens and the grammar of MEANING.md section 2.

Parsing gives a tree of names as they are written; `names` then says what each name is.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import lru_cache

from setuplint.dataclass import dataclass
from setuplint.named_tuple import NamedTuple
from setuplint.setup.formulas import PREDICATES, RESERVED, FormulaError

LONGEST = 4096  # characters
LONGEST_NUMBER = 40  # characters, as of any number of a setup
DEEPEST = 50  # parentheses and `not`s inside each other


class Token(NamedTuple):
    kind: str  # name | number | op | ( | ) | end
    text: str
    start: int
    end: int


OTHERWISE = {
    **dict.fromkeys(("=", "=="), "compare a number by <, <=, > or >="),
    ",": "write “and” or “or” between two statements",
}
COMPARISONS = {"below": "<", "under": "<", "above": ">", "over": ">"}
HOW = "write for example “hold is on”, “pack < 21.6”, “mode is normal” or a condition's name"


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


def tokens(text: str) -> list[Token]:
    found: list[Token] = []
    at = 0
    length = len(text.rstrip())
    while at < length:
        match = _TOKEN.match(text, at)
        if match is None:
            bad = _WORD.search(text, at)
            assert bad is not None
            raise _no_token(text, *bad.span())
        kind = match.lastgroup or ""
        start, end = match.span(kind)
        found.append(Token({"open": "(", "close": ")"}.get(kind, kind), match.group(kind), start, end))
        at = end
    found.append(Token("end", "", length, length))
    return found


def _no_token(text: str, start: int, end: int) -> FormulaError:
    from setuplint.setup.meant import formula_word_meant

    message = f"“{_short(text[start:end])}” is not a part of a formula"
    how = OTHERWISE.get(text[start:end]) or (
        "write names in lower case, numbers like -12.5, and <, <=, >, >=, and, or, not, is, ( and )"
    )
    begin, stop, meant = formula_word_meant(text, start, end)
    return (
        FormulaError(message, f"did you mean {meant}?", begin, stop)
        if meant
        else FormulaError(message, how, start, end)
    )


def _short(text: str) -> str:
    return text if len(text) <= 40 else text[:37] + "..."


def parsed_formula(text: str) -> Written:
    """The tree of a formula as it is written; FormulaError with its place where it is none. Short ones are remembered."""
    return _remembered(text) if len(text) <= 200 else _parsed(text)


def _parsed(text: str) -> Written:
    if len(text) > LONGEST:
        raise FormulaError(
            f"the formula has {len(text)} characters, more than {LONGEST}",
            "split it: give parts of it names as [conditions]",
            0,
            LONGEST,
        )
    return _Parser(tokens(text)).formula()


_remembered = lru_cache(maxsize=2048)(_parsed)


class _Parser:
    def __init__(self, found: list[Token]) -> None:
        self.found, self.at, self.depth = found, 0, 0

    @property
    def now(self) -> Token:
        return self.found[self.at]

    def formula(self) -> Written:
        if self.now.kind == "end":
            raise FormulaError("the formula is empty", "write what must hold, as in “hold is on”", 0, 0)
        written = self.alternatives()
        if self.now.kind != "end":
            help = "write “and” or “or” between two statements, and a “(” for each “)”"
            self.fail("and, or, or the end", self.meant("and", "or") or help)
        return written

    def fail(self, expected: str, help: str) -> None:
        token = self.now
        got = "the formula ends" if token.kind == "end" else f"“{_short(token.text)}” stands"
        start = max(0, token.start - 1) if token.kind == "end" else token.start
        raise FormulaError(f"{got} where {expected} is expected", help, start, token.end)

    def meant(self, *among: str) -> str:
        """The word that was meant by the one at hand, as a remedy; empty where it looks like none."""
        from setuplint.setup.meant import close_word

        near = close_word(self.now.text, among)
        return f"did you mean {near}?" if near else ""

    def left_out(self, words: list[Token]) -> str:
        """What words that stand side by side lack between them, as a remedy: hold on, pack below 21.6, low annd hold is on."""
        from setuplint.setup.meant import close_word

        after, word = self.found[self.at + len(words) - 1], words[1].text
        if after.kind == "number" and word in COMPARISONS:
            return f"did you mean {COMPARISONS[word]}?"
        if len(words) == 2 and (near := close_word(f"{words[0].text} {word}", PREDICATES)):
            return f"did you mean “{near}”? Claims and rules alone can ask that"
        is_last = len(words) == 2 and (after.kind in ("end", ")") or after.text in ("and", "or"))
        return self.meant("and", "or", "is") or (f"did you mean “is {word}”?" if is_last else HOW)

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
            self.fail("and, or, is, a comparison or the end", self.left_out(words))
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
            meant = COMPARISONS.get(op.text)
            self.fail("<, <=, > or >=", f"did you mean {meant}?" if meant else HOW)
        self.at += 1
        number = self.now
        if number.kind != "number":
            self.fail("a number", HOW)
        if len(number.text) > LONGEST_NUMBER:
            raise FormulaError(
                f"the number “{_short(number.text)}” has more than {LONGEST_NUMBER} characters",
                "write it with fewer digits",
                number.start,
                number.end,
            )
        self.at += 1
        return op, number


def written_atoms(written: Written) -> Iterator[Atom]:
    """The leaves of a tree, in their order."""
    if isinstance(written, Atom):
        yield written
    else:
        for item in written.items:
            yield from written_atoms(item)


def single_spaced(text: str) -> str:
    """The formula with single spaces: a claim's subject."""
    return " ".join(text.split())
