"""A broken text repaired: its broken lines as they were when they could be read."""

from __future__ import annotations

from difflib import SequenceMatcher
from itertools import pairwise

from setuplint.findings import Place, Report
from setuplint.named_tuple import NamedTuple
from setuplint.server.edits import common_ends
from setuplint.server.parsed import ParsedText
from setuplint.source import Document, Span


class LineChange(NamedTuple):
    """Lines of the old text, from and up to, and the lines of the new one in their place."""

    old_start: int
    old_end: int
    new_start: int
    new_end: int


def repaired(broken: ParsedText, readable: ParsedText) -> ParsedText | None:
    """The broken text with its broken lines as they are in `readable`, or without them where they are new. None where the
    result cannot be read either."""
    old, new = readable.own.text.split("\n"), broken.own.text.split("\n")
    changes = line_changes(old, new)
    bad = broken_lines(broken)
    for by_line in (True, False):
        text = "\n".join(_repaired_lines(old, new, changes, bad, by_line))
        again = ParsedText(text, broken.texts.name, broken.version, broken.folder, broken)
        if again.is_readable:
            return again
    return None


def line_changes(old: list[str], new: list[str]) -> list[LineChange]:
    """The changed lines, in the order of the text."""
    start, end = common_ends(old, new)
    matcher = SequenceMatcher(None, old[start : len(old) - end], new[start : len(new) - end], autojunk=False)
    return [
        LineChange(a + start, b + start, c + start, d + start)
        for tag, a, b, c, d in matcher.get_opcodes()
        if tag != "equal"
    ]


def broken_lines(parsed: ParsedText) -> set[int]:
    """The lines of its own text in which something is wrong, from 0."""
    report = Report(parsed.texts.name, parsed.texts)
    lines = faulty_lines(parsed.own)
    for problem in parsed.problems:
        where = report.where(Place(problem.path, key=problem.key, within=problem.within, file=problem.file))
        if where.document is parsed.own:
            lines.update(lines_of(parsed.own, where.span))
    return lines


def faulty_lines(document: Document) -> set[int]:
    """The lines in which something is wrong with a text as TOML, from 0."""
    return {line for problem in document.problems for line in lines_of(document, problem.span)}


def lines_of(document: Document, span: Span) -> range:
    """The lines of a span, from 0."""
    last = document.position(max(span.start, span.end - 1))[0]
    return range(document.position(span.start)[0] - 1, last)


def _repaired_lines(
    old: list[str], new: list[str], changes: list[LineChange], bad: set[int], by_line: bool
) -> list[str]:
    """The new lines, with changes that have a broken line undone. `by_line`: only the broken line itself, where its old line is
    known."""
    lines: list[str] = []
    edges = [LineChange(0, 0, 0, 0), *changes, LineChange(len(old), len(old), len(new), len(new))]
    for before, change in pairwise(edges):
        lines += new[before.new_end : change.new_start]
        start, end, first, last = change
        if bad.isdisjoint(range(first, last)):
            lines += new[first:last]
        elif not by_line:
            lines += old[start:end]
        elif end - start == last - first:
            lines += [old[start + n - first] if n in bad else new[n] for n in range(first, last)]
        else:
            lines += [new[n] for n in range(first, last) if n not in bad]
    return lines
