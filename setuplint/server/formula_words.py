"""The words of a formula by their roles, also of one that is still being typed."""

from __future__ import annotations

from collections.abc import Generator, Iterator, Mapping

from setuplint.named_tuple import NamedTuple
from setuplint.setup.formula_parser import Token, tokens
from setuplint.setup.formulas import PREDICATES, FormulaError
from setuplint.source import Path

FORMULA_KEYS: Mapping[str, tuple[int, tuple[str, ...]]] = {
    "conditions": (3, ("when", "until")),
    "modes": (3, ("when",)),
    "overrides": (3, ("when",)),
    "alarms": (3, ("when",)),
    "timers": (3, ("runs",)),
    "start": (2, ("requires",)),
    "trainer": (2, ("lent",)),
    "intent": (2, ("hold", "stop", "rescue")),
    "claims": (3, ("never", "always")),
}
"""Of each table with formulas: how long their paths are, and their keys."""

CONNECTIVES = ("and", "or", "not")


class Word(NamedTuple):
    """A word, number or sign of a formula with its offsets in the formula's text.

    `role` is keyword, predicate, number, operator, bracket or lost; or what a name refers to: control (stick, knob, switch,
    sensor or condition), stick, mode, channel or position. `of` is a position's switch.
    """

    role: str
    text: str
    start: int
    end: int
    of: str = ""


def is_formula(path: Path) -> bool:
    """Whether the value at a path is a formula."""
    if not path:
        return False
    depth, keys = FORMULA_KEYS.get(str(path[0]), (0, ()))
    return len(path) == depth and path[-1] in keys


def lenient_tokens(text: str) -> list[Token]:
    """The tokens of a formula, without the end token; what belongs to no formula is left out."""
    found: list[Token] = []
    at = 0
    while at < len(text):
        try:
            piece, resume = tokens(text[at:]), len(text)
        except FormulaError as error:
            piece, resume = tokens(text[at : at + error.start]), at + max(error.end, 1)
        found += [Token(t.kind, t.text, t.start + at, t.end + at) for t in piece if t.kind != "end"]
        at = resume
    return found


def formula_words(text: str) -> Iterator[Word]:
    """Every word of a formula, in order."""
    found = lenient_tokens(text)
    at = 0
    while at < len(found):
        token = found[at]
        if token.kind != "name":
            yield _word({"number": "number", "op": "operator"}.get(token.kind, "bracket"), token)
            at += 1
        elif token.text in CONNECTIVES or token.text == "is":
            yield _word("keyword", token)
            at += 1
        elif token.text in ("mode", "output"):
            yield _word("keyword", token)
            at += 1
            if token.text == "mode":
                at = yield from _comparison_words(found, at, "mode", "")
            elif at < len(found) and found[at].kind == "name":
                yield _word("channel", found[at])
                at += 1
        else:
            at = yield from _atom_words(found, at)


def _atom_words(found: list[Token], at: int) -> Generator[Word, None, int]:
    """A control with its comparison, a predicate, or `CHANNEL follows STICK`; returns the index of the next token."""
    stop = at
    while stop < len(found) and found[stop].kind == "name" and found[stop].text not in (*CONNECTIVES, "is"):
        stop += 1
    phrase = found[at:stop]
    if " ".join(token.text for token in phrase) in PREDICATES:
        yield from (_word("predicate", token) for token in phrase)
        return stop
    if len(phrase) > 1 and phrase[1].text == "follows":
        yield from (_word(*each) for each in zip(("channel", "keyword", "stick"), phrase, strict=False))
        return at + min(3, len(phrase))
    yield _word("control", phrase[0])
    return (yield from _comparison_words(found, at + 1, "position", phrase[0].text))


def _comparison_words(found: list[Token], at: int, role: str, of: str) -> Generator[Word, None, int]:
    """`is` or `is not` and the word after it, if they come next; returns the index of the next token."""
    if at >= len(found) or found[at].text != "is":
        return at
    yield _word("keyword", found[at])
    at += 1
    if at < len(found) and found[at].text == "not":
        yield _word("keyword", found[at])
        at += 1
    if at < len(found) and found[at].kind == "name" and found[at].text not in CONNECTIVES:
        lost = role == "position" and found[at].text == "lost"
        yield _word("lost" if lost else role, found[at], "" if lost else of)
        at += 1
    return at


def _word(role: str, token: Token, of: str = "") -> Word:
    return Word(role, token.text, token.start, token.end, of)
