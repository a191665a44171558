"""Findings for a program: one JSON object, its layout published as `setuplint schema --report`.

Version 1. Lines and columns count from 1, columns in code points; `end-column` is the first past the span. All of it
is written in ASCII, so no name from a file can drive a terminal.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping

from setuplint.findings import SIGNALS, Finding, Place, Report, Value
from setuplint.formats.numbers import json_number
from setuplint.formats.summary import CAUTION, Summary
from setuplint.formats.terminal import Look
from setuplint.setup.model import Waiver

VERSION = 1
between = ",\n"


def opening(look: Look) -> str:
    return f'{{\n"version": {VERSION},\n"findings": [\n'


def part(report: Report, look: Look, fail_on: str = "caution") -> str:
    return between.join(json.dumps(finding(report, item)) for item in report.findings)


def closing(summary: Summary, look: Look) -> str:
    open_rules = between.join(
        json.dumps({"rule": item.rule, "because": item.because, "subject": item.subject, "file": item.file})
        for item in summary.open
    )
    lists = "".join(f'"{name}": [\n{between.join(map(json.dumps, items))}\n],\n' for name, items in _lists(summary))
    return f'\n],\n"not-judged": [\n{open_rules}\n],\n{lists}"summary": {json.dumps(summary_values(summary))}\n}}\n'


def _lists(summary: Summary) -> Iterator[tuple[str, list[dict[str, object]]]]:
    yield "waived", [{**each._asdict(), "until": each.until or None} for each in summary.covered]
    yield "remarks", [each._asdict() for each in summary.said]
    yield "baselined-dangers", [each._asdict() for each in summary.dangers]
    yield "gone-from-baseline", [each._asdict() for each in (*summary.gone, *summary.dropped)]


def finding(report: Report, item: Finding) -> dict[str, object]:
    """One finding as it stands in the array."""
    return {
        "rule": item.rule,
        "signal": item.signal,
        "message": item.message,
        "status": item.status,
        "setup": report.name,
        **_region(report, item.primary),
        "caption": item.primary.caption,
        "related": [{**_region(report, place), "caption": place.caption} for place in item.related],
        "subject": item.subject,
        "witness": _moves(item.witness),
        "steps": [_moves(step) for step in item.steps],
        "outputs": {name: json_number(output) for name, output in item.outputs.items()},
        "motors": sorted(item.motors),
        "assumed": list(item.assumed),
        "then": item.then,
        "estimate": item.estimate,
        "why": item.why,
        "remedy": item.remedy,
        "edit": {"path": list(item.edit.path), "value": item.edit.value} if item.edit else None,
        "waiver": _waiver(item.waiver) if item.waiver else None,
        "fingerprint": item.fingerprint(report.name),
    }


def _waiver(waiver: Waiver) -> dict[str, str | None]:
    return {"reason": waiver.reason, "until": waiver.until.isoformat() if waiver.until else None}


def _region(report: Report, place: Place) -> dict[str, str | int]:
    where = report.where(place)
    (line, column), (end_line, end_column) = where.start, where.end
    return {"file": where.name, "line": line, "column": column, "end-line": end_line, "end-column": end_column}


def _moves(moves: Mapping[str, Value]) -> dict[str, str | int | float]:
    return {name: value if isinstance(value, str) else json_number(value) for name, value in moves.items()}


def summary_values(summary: Summary) -> dict[str, object]:
    return {
        "files": summary.files,
        "found": {signal: summary.found[signal] for signal in SIGNALS},
        "fail-on": summary.fail_on,
        "mixed": summary.mixed,
        "failing": summary.failing,
        "below": summary.below,
        "waived": dict(sorted(summary.waived.items())),
        "audit": summary.audit,
        "baselined": {signal: summary.baselined[signal] for signal in SIGNALS},
        "baseline-written": {"file": summary.baseline, "added": summary.added, "left-out": len(summary.dropped)}
        if summary.baseline
        else None,
        "rule-sets": [
            {"edition": by.edition, "pinned": by.pinned, "config": by.config or None, "files": files}
            for by, files in summary.rule_sets.items()
        ],
        "not-judged": len(summary.open),
        "states": summary.states,
        "rules": summary.rules,
        "shared-parts": summary.parts,
        "extending": summary.extending,
        "passed-over": summary.passed_over,
        "links-not-followed": summary.links,
        "troubles": summary.troubles,
        "caution": CAUTION,
    }
