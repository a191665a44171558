"""A text of an editor, read and judged: what is wrong with it now, and what still stands while a part of it is being typed.

A text that can be read throughout is judged, and shows what is found. While a part cannot be read, what is wrong with
that part is told at once, and all that was found before stays: an unfinished line makes nothing else come or go. After a
pause the text is judged with the broken lines as they were when they could be read last (`mending`), so that what is
changed elsewhere meanwhile counts.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING

from setuplint.book import run
from setuplint.findings import Edit, Finding, Place, Report
from setuplint.server import names
from setuplint.setup import SetupProblem, Texts, loaded_setup
from setuplint.setup.file_sources import FileSource, Folder
from setuplint.setup.model import Setup
from setuplint.setup.top_keys import is_setup
from setuplint.source import Document, Span

if TYPE_CHECKING:
    from setuplint.book.choices import Choices
    from setuplint.engine.decider import Decider


class Buffers(Folder):
    """The folder of a file, where what is open in the editor counts as it stands there. `open_texts` has texts by real path;
    `extended` remembers which files others extend, as that is a walk through the repository."""

    def __init__(self, path: str, open_texts: Mapping[str, str], name: str, extended: dict[str, bool]) -> None:
        super().__init__(path, name)
        self.open_texts, self.extended = open_texts, extended

    def read(self, path: str, most: int) -> bytes:
        data = super().read(path, most)
        text = self.open_texts.get(self.place(path))
        return data if text is None else text.encode(errors="surrogatepass")[: most + 1]

    def is_extended(self) -> bool:
        if self.path not in self.extended:
            self.extended[self.path] = super().is_extended()
        return self.extended[self.path]


class Reading:
    """A text as read. What is more than that is worked out when it is asked for, and kept."""

    def __init__(self, text: str, name: str, version: int | None = None, beside: FileSource | None = None) -> None:
        self.text, self.version, self.beside = text, version, beside
        self.texts: Texts
        self.setup: Setup
        self.problems: tuple[SetupProblem, ...]
        self.texts, self.setup, self.problems = loaded_setup(text, name, beside)

    @property
    def own(self) -> Document:
        """The file's own text, without shared parts."""
        return self.texts.own

    @property
    def whole(self) -> bool:
        """Whether all of it could be read."""
        return not self.wrong

    @property
    def wrong(self) -> int:
        """How much of it could not."""
        return len(self.problems) + sum(len(document.problems) for document in self.texts)

    @cached_property
    def is_setup(self) -> bool:
        """Whether it is a set-up, or becoming one, and not any other TOML file that is open."""
        return is_setup(self.own.values, self.own.broken, readable=True)

    @cached_property
    def said(self) -> str:
        """All values in their order: comments and layout apart, the text says this."""
        return repr(self.texts.values)

    @cached_property
    def uses(self) -> list[names.Use]:
        """Every name in its texts."""
        return names.uses(self.texts)

    def name_at(self, offset: int) -> names.Use | None:
        """The name that an offset of its own text is in, or just after."""
        own = self.own
        found = [use for use in self.uses if use.document is own and use.span.start <= offset <= use.span.end]
        return min(found, key=lambda use: (use.span.end - use.span.start, -use.span.start), default=None)

    @cached_property
    def decider(self) -> Decider:
        """Answers what is asked beside the rules, as by hovers."""
        from setuplint.engine.decider import Decider

        return Decider(self.setup)


@dataclass(frozen=True, slots=True)
class Analysis:
    """What is shown of a text. `findings` are all of them, `report` has their places; of a text that is broken they are what
    was found before, in `whole`, the last text that could be read throughout and was judged."""

    reading: Reading
    report: Report
    findings: tuple[Finding, ...]
    whole: Analysis | None = None
    choices: Choices | None = None  # what it was judged by
    tried: dict[tuple[str, str, Edit], str] = field(
        default_factory=dict
    )  # by rule, subject and edit: what speaks against it

    @property
    def texts(self) -> Texts:
        return self.reading.texts

    @property
    def last_whole(self) -> Analysis | None:
        """This one, or the one that its findings come from."""
        return self if self.whole is None and self.reading.whole else self.whole


def at_once(reading: Reading, before: Analysis | None, choices: Choices | None = None) -> Analysis | None:
    """What can be told of a text without judging it; None where it has to be judged. Where only comments and layout are
    new, all of before holds; where the text is broken, what stood before still stands."""
    if not reading.is_setup and (reading.whole or before is None or before.last_whole is None):
        return Analysis(reading, Report(reading.texts.name, reading.texts), ())
    if before is None:
        return None
    if not reading.whole:
        return carried(reading, before)
    whole = before.last_whole
    if whole is None or whole.reading.said != reading.said or whole.choices != choices:
        return None
    report = replace(whole.report, texts=reading.texts)
    return Analysis(reading, report, _in_order(report, whole.findings), choices=choices)


def carried(reading: Reading, before: Analysis) -> Analysis:
    """The findings of before at their places of now, beside what is wrong with the text itself."""
    report = replace(before.report, texts=reading.texts)
    kept = _Places(before, reading).of(_judgements(before))
    return Analysis(reading, report, _in_order(report, (*_of_reading(reading), *kept)), before.last_whole)


def judge(
    reading: Reading,
    before: Analysis | None = None,
    choices: Choices | None = None,
    before_each: Callable[[], None] | None = None,
) -> Analysis:
    """Judge a text; what `before_each` raises ends it."""
    whole = before.last_whole if before is not None else None
    if reading.whole or whole is None:
        report = _lint(reading, choices, before_each)
        return Analysis(reading, report, report.findings, choices=choices)
    from setuplint.server.mending import mended

    other = mended(reading, whole.reading)
    if other is not None and (other.said != whole.reading.said or whole.choices != choices):
        report = _lint(other, choices, before_each)
        whole = Analysis(other, report, report.findings, choices=choices)
    return carried(reading, whole)


def _lint(reading: Reading, choices: Choices | None, before_each: Callable[[], None] | None) -> Report:
    return run.lint(reading.texts, reading.setup, reading.problems, choices=choices, before_each=before_each)


def _of_reading(reading: Reading) -> Iterator[Finding]:
    from setuplint.book import rulebook

    return run.loading(reading.texts, reading.problems, rulebook.rules())


def _judgements(analysis: Analysis) -> list[Finding]:
    """The findings that were judged, without what could not be read."""
    read = list(_of_reading(analysis.reading))
    return [finding for finding in analysis.findings if finding not in read]


def _in_order(report: Report, findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    return run.in_order(replace(report, findings=findings, waived=())).findings


class _Places:
    """From the places of one text to those of the next."""

    def __init__(self, before: Analysis, reading: Reading) -> None:
        self.before, self.reading = before, reading

    @cached_property
    def lines(self) -> dict[int, int]:
        """Where each line of the old text stands now; lines that were changed by their order."""
        from setuplint.server.mending import changes

        old, new = (text.split("\n") for text in (self.before.reading.own.text, self.reading.own.text))
        found: dict[int, int] = {}
        at = 0
        for start, end, first, last in [*changes(old, new), (len(old), len(old), len(new), len(new))]:
            found.update((n, first - (start - n)) for n in range(at, start))
            found.update((n, min(first + n - start, max(last - 1, first))) for n in range(start, end))
            at = end
        return found

    def of(self, findings: list[Finding]) -> Iterator[Finding]:
        """Those that still have a place."""
        for finding in findings:
            primary = self.place(finding.primary)
            if primary is not None:
                related = tuple(place for place in map(self.place, finding.related) if place is not None)
                yield replace(finding, primary=primary, related=related)

    def place(self, place: Place) -> Place | None:
        """The same part, where it can still be found; else the same lines."""
        if place.span is None and self.stands(place):
            return place
        where = self.before.report.where(place)
        if where.document is not self.before.texts.own:
            return None
        return Place(span=self.span(where.span), caption=place.caption)

    def stands(self, place: Place) -> bool:
        document = self.reading.texts.holder(place.path, place.file)
        if document.value_span(place.path) is None and document.key_span(place.path) is None:
            return not place.path
        old = self.before.texts.holder(place.path, place.file)
        if place.within is None:
            return True
        now = names.value(document.values, place.path)
        return isinstance(now, str) and now == names.value(old.values, place.path)

    def span(self, span: Span) -> Span:
        """Where the same characters stand now, as far as can be told: in the line that was theirs."""
        start, end = (self.moved(at) for at in span)
        return Span(start, max(start, end))

    def moved(self, at: int) -> int:
        line, column = self.before.reading.own.position(at)
        now = self.reading.own
        number = self.lines[line - 1]
        return now.line_start(number + 1) + min(column - 1, len(now.line_text(number + 1)))
