"""How a report is written down.

A format is a module with these functions, found here by name. The command writes `opening`, a `part` for every file as it
is done, `between` the parts that are not empty, and the `closing`:

    opening(look: Look) -> str
    part(report: Report, look: Look, fail_on: str) -> str
    closing(summary: Summary, look: Look) -> str

A part needs nothing but its own report and the least signal word that fails it, so the files of one run can be worked on
in any process. A format whose verdict comes first has a class `Held`, a `Writer`, in place of the others.
"""

from __future__ import annotations

from importlib import import_module
from typing import Protocol, cast

from setuplint.findings import Report
from setuplint.formats.summary import Summary
from setuplint.formats.terminal import Look

FORMATS = {name: f"setuplint.formats.{name}" for name in ("text", "json", "sarif", "junit", "markdown")}


class Format(Protocol):
    """What every format's module offers."""

    def part(self, report: Report, look: Look, fail_on: str = "caution") -> str: ...


class Streaming(Format, Protocol):
    """What the module of a format offers that is written as the files are done."""

    between: str

    def opening(self, look: Look) -> str: ...

    def closing(self, summary: Summary, look: Look) -> str: ...


class Writer(Protocol):
    """Puts the parts of a run together: each call gives what can be written by then."""

    def add(self, part: str) -> str: ...

    def end(self, summary: Summary) -> str: ...


class Streamed:
    """Every part is written as it comes."""

    def __init__(self, form: Streaming, look: Look) -> None:
        self._form, self._look = form, look
        self._begun = False

    def add(self, part: str) -> str:
        if not part:
            return ""
        before = self._form.between if self._begun else self._form.opening(self._look)
        self._begun = True
        return before + part

    def end(self, summary: Summary) -> str:
        opening = "" if self._begun else self._form.opening(self._look)
        return opening + self._form.closing(summary, self._look)


def named(name: str) -> Format:
    """The format of that name; KeyError where there is none."""
    return cast(Format, import_module(FORMATS[name]))


def writer(name: str, look: Look) -> Writer:
    """For one run in the format of that name."""
    module = import_module(FORMATS[name])
    held = getattr(module, "Held", None)
    return cast(Writer, held(look)) if held else Streamed(cast(Streaming, module), look)
