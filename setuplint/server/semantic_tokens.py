"""Semantic tokens, for an editor's colours: words of formulas, and names elsewhere, by what they are."""

from __future__ import annotations

from collections.abc import Iterator

from setuplint.named_tuple import NamedTuple
from setuplint.server.formula_words import Word, formula_words, is_formula
from setuplint.server.parsed import ParsedText
from setuplint.server.positions import Lines
from setuplint.server.table_pieces import Entry, TablePiece, pieces, span_within
from setuplint.source import Document, Path

TYPES = ("keyword", "variable", "enumMember", "namespace", "operator", "number", "function", "property", "macro")
TYPE_NUMBERS = {name: number for number, name in enumerate(TYPES)}
MODIFIERS = ("declaration",)
TOKEN_TYPES = {
    "keyword": "keyword",
    "lost": "keyword",
    "predicate": "function",
    "number": "number",
    "operator": "operator",
    "bracket": "operator",
    "control": "variable",
    "switch": "variable",
    "stick": "variable",
    "knob": "variable",
    "sensor": "variable",
    "condition": "macro",
    "position": "enumMember",
    "mode": "namespace",
    "channel": "property",
    "curve": "property",
    "override": "property",
    "alarm": "property",
    "timer": "property",
}
"""By the role of a word, or the kind of a name."""


class SemanticToken(NamedTuple):
    start: int
    end: int
    type: str
    declares: bool


def encoded_tokens(parsed: ParsedText, lines: Lines, start: int = 0, end: int | None = None) -> list[int]:
    """The tokens between two offsets as LSP has them, five numbers each: lines and characters since the one before, length,
    type, modifiers."""
    data: list[int] = []
    row = line = character = 0
    starts = [*lines.starts, len(lines.text) + 1]
    for token in parsed.kept(semantic_tokens):
        if token.end < start or (end is not None and token.start > end):
            continue
        first, last = token.start + lines.mark, token.end + lines.mark
        while starts[row + 1] <= first:
            row += 1
        if last >= starts[row + 1]:
            continue
        at = lines.units(starts[row], first)
        data += [row - line, at - (character if row == line else 0), lines.units(first, last)]
        data += [TYPE_NUMBERS[token.type], int(token.declares)]
        line, character = row, at
    return data


def semantic_tokens(parsed: ParsedText) -> list[SemanticToken]:
    """The tokens of the setup's own text, in order; none overlaps another."""
    by_start = {token.start: token for token in _formula_tokens(parsed.own)}
    for each in parsed.occurrences:
        if each.document is parsed.own and each.name.kind in TOKEN_TYPES:
            by_start[each.span.start] = SemanticToken(*each.span, TOKEN_TYPES[each.name.kind], each.declares)
    kept: list[SemanticToken] = []
    for token in sorted(by_start.values()):
        if token.start < token.end and (not kept or kept[-1].end <= token.start):
            kept.append(token)
    return kept


def _formula_tokens(own: Document) -> Iterator[SemanticToken]:
    def tokens(found: list[Entry], start: int) -> list[tuple[int, int, str]]:
        words = ((span_within(own, path, word.start, word.end), word) for path, word in _words(found))
        return [(span.start - start, span.end - start, TOKEN_TYPES[word.role]) for span, word in words]

    for each in pieces(own):
        start = each.start if isinstance(each, TablePiece) else 0
        found = each.made("words", tokens) if isinstance(each, TablePiece) else tokens(each, 0)
        yield from (SemanticToken(first + start, end + start, kind, False) for first, end, kind in found)


def _words(found: list[Entry]) -> Iterator[tuple[Path, Word]]:
    for path, value in found:
        if is_formula(path) and isinstance(value, str):
            yield from ((path, word) for word in formula_words(value))
