"""Semantic tokens, for an editor's colours: words of formulas, and names elsewhere, by what they are."""

from __future__ import annotations

from collections.abc import Iterator

from setuplint.named_tuple import NamedTuple
from setuplint.server.document_paths import entries, span_within
from setuplint.server.formula_words import formula_words, is_formula
from setuplint.server.parsed import ParsedText
from setuplint.server.positions import Lines

TYPES = ("keyword", "variable", "enumMember", "namespace", "operator", "number", "function", "property", "macro")
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
    line = character = 0
    for token in parsed.kept(semantic_tokens):
        if token.end < start or (end is not None and token.start > end):
            continue
        at, stop = lines.position(token.start), lines.position(token.end)
        if at.line != stop.line:
            continue
        data += [at.line - line, at.character - (character if at.line == line else 0), stop.character - at.character]
        data += [TYPES.index(token.type), int(token.declares)]
        line, character = at
    return data


def semantic_tokens(parsed: ParsedText) -> list[SemanticToken]:
    """The tokens of the setup's own text, in order; none overlaps another."""
    by_start = {token.start: token for token in _formula_tokens(parsed)}
    for each in parsed.occurrences:
        if each.document is parsed.own and each.name.kind in TOKEN_TYPES:
            by_start[each.span.start] = SemanticToken(*each.span, TOKEN_TYPES[each.name.kind], each.declares)
    kept: list[SemanticToken] = []
    for token in sorted(by_start.values()):
        if token.start < token.end and (not kept or kept[-1].end <= token.start):
            kept.append(token)
    return kept


def _formula_tokens(parsed: ParsedText) -> Iterator[SemanticToken]:
    own = parsed.own
    for path, value in entries(own):
        if is_formula(path) and isinstance(value, str):
            for word in formula_words(value):
                span = span_within(own, path, word.start, word.end)
                yield SemanticToken(*span, TOKEN_TYPES[word.role], False)
