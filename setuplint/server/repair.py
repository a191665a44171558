"""A broken text as it would be without what is unfinished in it: its broken lines as they were when they could be read."""

from __future__ import annotations

from difflib import SequenceMatcher
from itertools import pairwise

from setuplint.findings import Place, Report
from setuplint.server.analysis import Reading

Change = tuple[int, int, int, int]
"""Lines of the old text, from and to, and those that stand there now."""


def mended(reading: Reading, whole: Reading) -> Reading | None:
    """The text with its broken lines as they are in `whole`, or without them where they are new; all else as it stands. None
    where that cannot be read throughout either."""
    old, new = whole.own.text.split("\n"), reading.own.text.split("\n")
    found = changes(old, new)
    bad = broken_lines(reading)
    for by_line in (True, False):
        text = "\n".join(_back(old, new, found, bad, by_line))
        again = Reading(text, reading.texts.name, reading.version, reading.beside)
        if again.whole:
            return again
    return None


def changes(old: list[str], new: list[str]) -> list[Change]:
    """What was changed, line by line, in the order of the text."""
    most = min(len(old), len(new))
    start = next((n for n in range(most) if old[n] != new[n]), most)
    end = next((n for n in range(most - start) if old[-1 - n] != new[-1 - n]), most - start)
    matcher = SequenceMatcher(None, old[start : len(old) - end], new[start : len(new) - end], autojunk=False)
    return [(a + start, b + start, c + start, d + start) for tag, a, b, c, d in matcher.get_opcodes() if tag != "equal"]


def broken_lines(reading: Reading) -> set[int]:
    """The lines of its own text in which something is wrong, from 0."""
    own = reading.own
    report = Report(reading.texts.name, reading.texts)
    spans = [problem.span for problem in own.problems]
    for problem in reading.problems:
        where = report.where(Place(problem.path, key=problem.key, within=problem.within, file=problem.file))
        if where.document is own:
            spans.append(where.span)
    found: set[int] = set()
    for span in spans:
        first, last = own.position(span.start)[0], own.position(max(span.start, span.end - 1))[0]
        found.update(range(first - 1, last))
    return found


def _back(old: list[str], new: list[str], found: list[Change], bad: set[int], by_line: bool) -> list[str]:
    """The new lines, changes with a broken line taken back: the line alone where it can be told which one it was."""
    lines: list[str] = []
    edges = [(0, 0, 0, 0), *found, (len(old), len(old), len(new), len(new))]
    for before, change in pairwise(edges):
        lines += new[before[3] : change[2]]
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
