"""Findings, and the counts of a run, as values of JSON."""

from __future__ import annotations

from collections.abc import Mapping

from setuplint.engine.answers import Timing
from setuplint.findings import SIGNALS, Finding, Place, Report, Value
from setuplint.formats.numbers import json_number, json_value
from setuplint.formats.summary import CAUTION, Summary
from setuplint.setup.model import Waiver


def finding_values(report: Report, item: Finding) -> dict[str, object]:
    """One finding of the list."""
    return {
        "rule": item.rule,
        "signal": item.signal,
        "message": item.message,
        "status": item.status,
        "setup": report.name,
        **_region_values(report, item.primary),
        "caption": item.primary.caption,
        "related": [{**_region_values(report, place), "caption": place.caption} for place in item.related],
        "subject": item.subject,
        "witness": _move_values(item.witness),
        "steps": [_move_values(step) for step in item.steps],
        "timing": _timing_values(item.timing) if item.timing else None,
        "outputs": {name: json_number(output) for name, output in item.outputs.items()},
        "motors": sorted(item.motors),
        "assumed": list(item.assumed),
        "then": item.then,
        "estimate": item.estimate,
        "why": item.why,
        "remedy": item.remedy,
        "edit": {"path": list(item.edit.path), "value": item.edit.value} if item.edit else None,
        "waiver": _waiver_values(item.waiver) if item.waiver else None,
        "fingerprint": item.fingerprint(report.name),
    }


def _timing_values(timing: Timing) -> dict[str, object]:
    return {
        "at": [json_number(at) for at in timing.at],
        "since": json_number(timing.since),
        "until": None if timing.until is None else json_number(timing.until),
        "waits": list(timing.waits),
        "stays": list(timing.stays),
    }


def _waiver_values(waiver: Waiver) -> dict[str, str | None]:
    return {"reason": waiver.reason, "until": waiver.until.isoformat() if waiver.until else None}


def _region_values(report: Report, place: Place) -> dict[str, str | int]:
    where = report.where(place)
    (line, column), (end_line, end_column) = where.start, where.end
    return {"file": where.name, "line": line, "column": column, "end-line": end_line, "end-column": end_column}


def _move_values(moves: Mapping[str, Value]) -> dict[str, str | int | float]:
    return {name: json_value(value) for name, value in moves.items()}


def summary_values(summary: Summary) -> dict[str, object]:
    return {
        "files": summary.files,
        **summary.tally.values(),
        "fail-on": summary.fail_on,
        "mixed": summary.mixed,
        "failing": summary.failing,
        "below": summary.below,
        "danger-open": summary.danger_open,
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
        "states": summary.states,
        "rules": summary.rules,
        "shared-parts": summary.parts,
        "extending": summary.extending,
        "neighbours": summary.neighbours,
        "passed-over": len(summary.passed_over),
        "troubles": summary.troubles,
        "caution": CAUTION,
    }
