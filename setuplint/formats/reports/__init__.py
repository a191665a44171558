"""How a report is written: each module in this folder is a format, and has these names.

The command writes `opening`, a `section` for every file as it is done, `between` the sections that are not empty, and the
`closing`:

    between: str
    opening(look: Look) -> str
    section(report: Report, look: Look, fail_on: str) -> str
    closing(summary: Summary, look: Look) -> str

A section needs nothing but its own report and the least signal word that fails it, so any process can write it. A format
whose verdict comes first has a class `Collected`, a `Writer`, in place of the others.
"""

from __future__ import annotations

from importlib import import_module

from setuplint.findings import Report
from setuplint.formats import format_names
from setuplint.formats.summary import Summary
from setuplint.formats.terminal import Look
from setuplint.hints import Protocol, cast


class ReportFormat(Protocol):
    """What the module of every format offers."""

    def section(self, report: Report, look: Look, fail_on: str = "caution") -> str: ...


class StreamingFormat(ReportFormat, Protocol):
    """What the module of a format offers that is written as the files are done."""

    between: str

    def opening(self, look: Look) -> str: ...

    def closing(self, summary: Summary, look: Look) -> str: ...


class Writer(Protocol):
    """Puts the sections of a run together. Each call gives what can be written by then."""

    def add(self, section: str) -> str: ...

    def end(self, summary: Summary) -> str: ...


class StreamWriter:
    """Writes every section as it comes."""

    def __init__(self, form: StreamingFormat, look: Look) -> None:
        self._form, self._look = form, look
        self._begun = False

    def add(self, section: str) -> str:
        if not section:
            return ""
        before = self._form.between if self._begun else self._form.opening(self._look)
        self._begun = True
        return before + section

    def end(self, summary: Summary) -> str:
        opening = "" if self._begun else self._form.opening(self._look)
        return opening + self._form.closing(summary, self._look)


def report_format(name: str) -> ReportFormat:
    """The format of that name; ModuleNotFoundError where there is none."""
    return cast(ReportFormat, import_module(f"{__name__}.{name}"))


def openings() -> tuple[bytes, ...]:
    """How outputs begin, of the formats that begin always alike."""
    forms = [report_format(name) for name in format_names("reports")]
    made = [getattr(form, "OPENING", "") or getattr(form, "opening", lambda look: "")(Look()) for form in forms]
    return tuple(each.encode() for each in made if each)


def report_writer(name: str, look: Look) -> Writer:
    """A writer for one run in the format of that name."""
    form = report_format(name)
    collected = getattr(form, "Collected", None)
    return cast(Writer, collected(look)) if collected else StreamWriter(cast(StreamingFormat, form), look)
