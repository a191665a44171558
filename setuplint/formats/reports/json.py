"""Findings for a program: one JSON object, its layout published as `setuplint schema --report`.

Version 1. Lines and columns count from 1, columns in code points; `end-column` is the first past the span. All of it
is written in ASCII, so no name from a file can drive a terminal.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator, Sequence

from setuplint.findings import IN_FULL, Report, shortened
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
    text, unlisted = "", {}
    for name, items in _lists(summary):
        kept = _of_each(items)
        unlisted[name] = len(items) - len(kept)
        text += f'"{name}": [\n{between.join(map(json.dumps, kept))}\n],\n'
    return f'\n],\n{text}"summary": {json.dumps({**summary_values(summary), "unlisted": unlisted})}\n}}\n'


def _of_each(items: Sequence[dict[str, object]]) -> list[dict[str, object]]:
    """The first entries of each rule in each file, as of findings."""
    seen = Counter[tuple[object, object]]()
    kept = []
    for item in items:
        of = item["file"], item.get("rule")
        seen[of] += 1
        if seen[of] <= IN_FULL:
            kept.append(item)
    return kept


def _lists(summary: Summary) -> Iterator[tuple[str, list[dict[str, object]]]]:
    yield (
        "not-judged",
        [{"rule": x.rule, "because": x.because, "subject": x.subject, "file": x.file} for x in summary.open],
    )
    yield "only-counted", [each._asdict() for each in summary.overflow]
    yield "waived", [{**each._asdict(), "until": each.until or None} for each in summary.covered]
    yield "remarks", [each._asdict() for each in summary.remarks]
    yield "baselined-dangers", [each._asdict() for each in summary.dangers]
    yield "gone-from-baseline", [each._asdict() for each in (*summary.gone, *summary.dropped)]
    yield "passed-over", [each._asdict() for each in summary.passed_over]
