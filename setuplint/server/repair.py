"""A broken text repaired: its broken lines as they were when they could be read; and where findings of the one version of
a text are in the next."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator
from difflib import SequenceMatcher
from functools import cached_property
from itertools import pairwise

from setuplint.dataclass import replace
from setuplint.findings import Finding, Place, Report
from setuplint.named_tuple import NamedTuple
from setuplint.server.edits import common_ends
from setuplint.server.parsed import ParsedText
from setuplint.setup.problems import value_at
from setuplint.source import Document, Span

MOST_UNDONE = 8  # changes without a broken line that are tried, each a reading of the text


class LineChange(NamedTuple):
    """Lines of the old text, from and up to, and the lines of the new one in their place."""

    old_start: int
    old_end: int
    new_start: int
    new_end: int


def repaired(
    broken: ParsedText, readable: ParsedText, before_each: Callable[[], None] | None = None
) -> ParsedText | None:
    """The broken text with its broken lines as they are in `readable`, or without them where they are new. Where that cannot be
    read either, as with a name that went elsewhere, changes without a broken line are undone where that leaves fewer mistakes:
    line by line, or else by whole changes. None where nothing helps. `before_each` is called before each of these trials; what
    it raises ends the work."""
    old, new = readable.own.text.split("\n"), broken.own.text.split("\n")
    changes = line_changes(old, new)
    bad = broken_lines(broken)

    def reread(changes: list[LineChange], undone: Collection[LineChange], bad: set[int]) -> ParsedText:
        text = "\n".join(_repaired_lines(old, new, changes, undone, bad))
        return ParsedText(text, broken.texts.name, broken.version, broken.folder, broken)

    for able, kept in (([line for change in changes for line in _lines(change)], bad), (changes, set[int]())):
        undone = [change for change in able if not bad.isdisjoint(range(change.new_start, change.new_end))]
        again = reread(able, undone, kept)
        for change in [each for each in able if each not in undone][:MOST_UNDONE]:
            if again.is_readable:
                break
            if before_each is not None:
                before_each()
            trial = reread(able, [*undone, change], kept)
            if trial.problem_count < again.problem_count:
                again, undone = trial, [*undone, change]
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


def _lines(change: LineChange) -> list[LineChange]:
    """A change line by line, where as many lines stand for as many."""
    start, end, first, last = change
    if end - start != last - first:
        return [change]
    return [LineChange(start + n, start + n + 1, first + n, first + n + 1) for n in range(last - first)]


def _repaired_lines(
    old: list[str], new: list[str], changes: list[LineChange], undone: Collection[LineChange], bad: set[int]
) -> list[str]:
    """The new lines without some changes. Of one with more or fewer lines than before, only the `bad` ones go, if it has any."""
    lines: list[str] = []
    edges = [LineChange(0, 0, 0, 0), *changes, LineChange(len(old), len(old), len(new), len(new))]
    for before, change in pairwise(edges):
        lines += new[before.new_end : change.new_start]
        start, end, first, last = change
        if change not in undone:
            lines += new[first:last]
        elif end - start == last - first or bad.isdisjoint(range(first, last)):
            lines += old[start:end]
        else:
            lines += [new[n] for n in range(first, last) if n not in bad]
    return lines


class Relocation:
    """From the places of one text to those of the next. `report` has the places of the old one."""

    def __init__(self, report: Report, old: ParsedText, new: ParsedText) -> None:
        self.report, self.old, self.new = report, old, new

    def findings(self, findings: Iterable[Finding]) -> Iterator[Finding]:
        """The findings that still have a place, at their new ones."""
        for finding in findings:
            primary = self.place(finding.primary)
            if primary is None:
                continue
            related = tuple(place for place in map(self.place, finding.related) if place is not None)
            moved = primary is not finding.primary or related != finding.related
            yield replace(finding, primary=primary, related=related) if moved else finding

    def place(self, place: Place) -> Place | None:
        """The same key or value where it is still there; else the same lines."""
        if place.span is None and self.is_there(place):
            return place
        where = self.report.where(place)
        if where.document is not self.old.own:
            return None
        return Place(span=self.span(where.span), caption=place.caption)

    def is_there(self, place: Place) -> bool:
        """Whether the new text has the key or value of a place; of a piece of a string, whether the string is the same."""
        document = self.new.texts.holder(place.path, place.file)
        if document.value_span(place.path) is None and document.key_span(place.path) is None:
            return not place.path
        if place.within is None:
            return True
        new = value_at(document.values, place.path)
        old = value_at(self.old.texts.holder(place.path, place.file).values, place.path)
        return isinstance(new, str) and new == old

    def span(self, span: Span) -> Span:
        """Where the same characters are now, as far as lines tell."""
        start, end = (self.offset(each) for each in span)
        return Span(start, max(start, end))

    def offset(self, offset: int) -> int:
        line, column = self.old.own.position(offset)
        own = self.new.own
        number = self.new_line(line - 1) + 1
        return own.line_start(number) + min(column - 1, len(own.line_text(number)))

    def new_line(self, number: int) -> int:
        """The new line of an old line, both from 0; changed lines by their order."""
        for start, end, first, last in self.changes:
            if number < start:
                return first - (start - number)
            if number < end:
                return min(first + number - start, max(last - 1, first))
        raise IndexError(number)

    @cached_property
    def changes(self) -> list[LineChange]:
        """The changed lines, and behind them the ends of both texts."""
        old, new = (parsed.own.text.split("\n") for parsed in (self.old, self.new))
        return [*line_changes(old, new), LineChange(len(old), len(old) + 1, len(new), len(new) + 1)]
