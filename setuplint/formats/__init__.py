"""How a report is written down.

A format is a module with three functions, found here by name. The command writes `opening`, a `part` for every file
as it is done, `between` the parts that are not empty, and the `closing`:

    opening(look: Look) -> str
    part(report: Report, look: Look) -> str
    closing(summary: Summary, look: Look) -> str

A part needs nothing but its own report, so the files of one run can be worked on in any process.
"""

from __future__ import annotations

from importlib import import_module
from typing import Protocol, cast

from setuplint.findings import Report
from setuplint.formats.look import Look
from setuplint.formats.summary import Summary

FORMATS = {"text": "setuplint.formats.text", "json": "setuplint.formats.json"}


class Format(Protocol):
    """What a format's module offers."""

    between: str

    def opening(self, look: Look) -> str: ...

    def part(self, report: Report, look: Look) -> str: ...

    def closing(self, summary: Summary, look: Look) -> str: ...


def named(name: str) -> Format:
    """The format of that name; KeyError where there is none."""
    return cast(Format, import_module(FORMATS[name]))
