"""Words of formulas by what they are, for an editor's colours: as LSP counts semantic tokens."""

from __future__ import annotations

from collections.abc import Iterator

from setuplint.server.names import is_formula, uses, value, walk
from setuplint.server.positions import Lines
from setuplint.setup import Texts
from setuplint.setup.formulas import FormulaError, tokens
from setuplint.source import Document

TYPES = ("keyword", "variable", "enumMember", "namespace", "operator", "number", "function", "property")
KINDS = {
    "switch": "variable",
    "stick": "variable",
    "knob": "variable",
    "sensor": "variable",
    "condition": "property",
    "position": "enumMember",
    "mode": "namespace",
    "channel": "function",
    "curve": "property",
}
WORDS = frozenset(("and", "or", "not", "is", "lost", "mode", "output"))


def marks(texts: Texts, document: Document, lines: Lines) -> list[int]:
    """Five numbers a token: lines and characters since the one before, length, type, and no modifiers."""
    found = sorted(set(_found(texts, document)))
    data: list[int] = []
    line = character = 0
    for start, end, kind in found:
        at, stop = lines.at(start), lines.at(end)
        if at.line != stop.line:
            continue
        data += [at.line - line, at.character - (character if at.line == line else 0), stop.character - at.character]
        data += [TYPES.index(kind), 0]
        line, character = at
    return data


def _found(texts: Texts, document: Document) -> Iterator[tuple[int, int, str]]:
    named = {}
    for use in uses(texts):
        if use.document is document and not use.declares and use.name.kind in KINDS:
            named[use.span.start] = use.span.end, KINDS[use.name.kind]
    for path in walk(document):
        text = value(document.values, path)
        if not is_formula(path, text):
            continue
        try:
            words = tokens(text)
        except FormulaError:
            continue
        for token in words[:-1]:
            start, end = (document.string_offset(path, offset) for offset in (token.start, token.end))
            if start in named:
                yield start, named[start][0], named[start][1]
            elif token.kind == "name":
                yield start, end, "keyword" if token.text in WORDS else "function"
            elif token.kind in ("number", "op"):
                yield start, end, "number" if token.kind == "number" else "operator"
