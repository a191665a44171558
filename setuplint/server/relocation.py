"""Where findings of one version of a text are in the next one."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import cached_property

from setuplint.dataclass import replace
from setuplint.findings import Finding, Place, Report
from setuplint.server.parsed import ParsedText
from setuplint.server.repair import LineChange, line_changes
from setuplint.setup.problems import value_at
from setuplint.source import Span


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
