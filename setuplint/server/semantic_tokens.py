"""Words of formulas, and names elsewhere, by what they are: for an editor's colours, as LSP counts semantic tokens."""

from __future__ import annotations

from collections.abc import Iterator

from setuplint.server.analysis import Reading
from setuplint.server.formula_words import is_formula, words
from setuplint.server.occurrences import walk, within
from setuplint.server.positions import Lines

TYPES = ("keyword", "variable", "enumMember", "namespace", "operator", "number", "function", "property", "macro")
MODIFIERS = ("declaration",)
ROLES = {
    "keyword": "keyword",
    "lost": "keyword",
    "predicate": "function",
    "number": "number",
    "operator": "operator",
    "bracket": "operator",
    "control": "variable",
    "stick": "variable",
    "position": "enumMember",
    "mode": "namespace",
    "channel": "property",
}
KINDS = {
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
Mark = tuple[int, int, str, bool]
"""Start, end, type, whether it is a declaration."""


def marks(reading: Reading, lines: Lines, start: int = 0, end: int | None = None) -> list[int]:
    """Five numbers a token between two offsets: lines and characters since the one before, length, type, modifiers."""
    data: list[int] = []
    line = character = 0
    for first, last, kind, declares in found(reading):
        if last < start or (end is not None and first > end):
            continue
        at, stop = lines.at(first), lines.at(last)
        if at.line != stop.line:
            continue
        data += [at.line - line, at.character - (character if at.line == line else 0), stop.character - at.character]
        data += [TYPES.index(kind), int(declares)]
        line, character = at
    return data


def found(reading: Reading) -> list[Mark]:
    """All of a set-up's own text, in its order, none within another."""
    placed = {first: mark for mark in _words(reading) for first in mark[:1]}
    for use in reading.uses:
        if use.document is reading.own and use.name.kind in KINDS:
            placed[use.span.start] = (use.span.start, use.span.end, KINDS[use.name.kind], use.declares)
    kept: list[Mark] = []
    for mark in sorted(placed.values()):
        if mark[0] < mark[1] and (not kept or kept[-1][1] <= mark[0]):
            kept.append(mark)
    return kept


def _words(reading: Reading) -> Iterator[Mark]:
    own = reading.own
    for path, text in walk(own):
        if is_formula(path) and isinstance(text, str):
            for word in words(text):
                span = within(own, path, word.start, word.end)
                yield span.start, span.end, ROLES[word.role], False
