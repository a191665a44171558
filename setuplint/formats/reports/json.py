"""Findings for a program: one JSON object, its layout published as `setuplint schema --report`.

Version 1. Lines and columns count from 1, columns in code points; `end-column` is the first past the span. All of it
is written in ASCII, so no name from a file can drive a terminal.
"""

from __future__ import annotations

import json
from collections.abc import Iterator

from setuplint.findings import Report, shortened
from setuplint.formats.finding_json import finding_values, summary_values
from setuplint.formats.summary import Summary
from setuplint.formats.terminal import Look

VERSION = 1
between = ",\n"


def opening(look: Look) -> str:
    return f'{{\n"version": {VERSION},\n"findings": [\n'


def section(report: Report, look: Look, fail_on: str = "caution") -> str:
    return between.join(json.dumps(finding_values(report, item)) for item in shortened(report.findings).findings)


def closing(summary: Summary, look: Look) -> str:
    open_rules = between.join(
        json.dumps({"rule": item.rule, "because": item.because, "subject": item.subject, "file": item.file})
        for item in summary.open
    )
    lists = "".join(f'"{name}": [\n{between.join(map(json.dumps, items))}\n],\n' for name, items in _lists(summary))
    return f'\n],\n"not-judged": [\n{open_rules}\n],\n{lists}"summary": {json.dumps(summary_values(summary))}\n}}\n'


def _lists(summary: Summary) -> Iterator[tuple[str, list[dict[str, object]]]]:
    yield "only-counted", [each._asdict() for each in summary.overflow]
    yield "waived", [{**each._asdict(), "until": each.until or None} for each in summary.covered]
    yield "remarks", [each._asdict() for each in summary.remarks]
    yield "baselined-dangers", [each._asdict() for each in summary.dangers]
    yield "gone-from-baseline", [each._asdict() for each in (*summary.gone, *summary.dropped)]
    yield "passed-over", [each._asdict() for each in summary.passed_over]
