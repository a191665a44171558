"""A comparison for a program: one JSON object, in ASCII. Version 1."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from fractions import Fraction

from setuplint.club.policy_changes import PolicyChange
from setuplint.comparison.changes import ChangedHazard, Comparison, CraftChange, OutputAt, SideValue
from setuplint.comparison.regions import Region, ValueRange
from setuplint.findings import Report
from setuplint.formats.change_words import ChangeWords
from setuplint.formats.finding_json import finding_values
from setuplint.formats.numbers import json_number
from setuplint.formats.passed_over import PassedOver
from setuplint.formats.summary import CAUTION
from setuplint.formats.terminal import Look

VERSION = 1
ROOM = None  # no limit to what is written
between = ",\n"


def opening(policy: Sequence[PolicyChange], said: str, look: Look) -> str:
    values = json.dumps([{**each._asdict(), "signal": each.signal or None} for each in policy])
    return f'{{\n"version": {VERSION},\n"since": {json.dumps(said or None)},\n"policy": {values},\n"comparisons": [\n'


def section(comparison: Comparison, reports: Sequence[Report], values: Mapping[str, object], look: Look) -> str:
    words = ChangeWords(comparison, values)
    return json.dumps(
        {
            "old": comparison.old,
            "new": comparison.new,
            "differs": comparison.differs,
            "changes": [_change_values(change, words) for change in comparison.changes],
            "gained": [finding_values(reports[-1], each) for each in comparison.gained],
            "changed": [_changed_values(reports[-1], each) for each in comparison.changed],
            "hidden": [finding_values(reports[-1], each) for each in comparison.hidden],
            "lost": [finding_values(reports[0], each) for each in comparison.lost],
            "kept": comparison.kept,
            "renamed": [{"kind": k, "old": old, "new": new} for k, old, new in comparison.matching.renamed()],
            "same": dict(comparison.same or {}),
            "states": comparison.states,
            "not-compared": [{"subject": each.subject, "because": each.because} for each in comparison.open],
        }
    )


def _changed_values(report: Report, change: ChangedHazard) -> dict[str, object]:
    values = finding_values(report, change.now)
    return {**values, "message-before": change.before.message, "hidden": not change.is_open}


def _change_values(change: CraftChange, words: ChangeWords) -> dict[str, object]:
    text = words.text_of(change)
    return {
        "kind": change.kind,
        "subject": change.subject,
        "before": _given_value(change.before),
        "now": _given_value(change.now),
        "before-by": change.was_by,
        "now-by": change.by,
        "message": text.what.replace("\u00a0", " "),
        "where": [_region_values(region) for region in change.where],
        "everywhere-told": change.whole,
        "sticks": {name: [[*map(json_number, p)] for p in found] for name, found in (change.sticks or {}).items()},
        "hangs-on": list(change.hangs_on),
        "rise": _output_at(change.rise),
        "fall": _output_at(change.fall),
        "hover": _output_at(change.hover),
        "witness": dict(change.witness or {}),
        "steps": [dict(step) for step in change.steps],
        "at": [json_number(second) for second in change.at],
        "assumed": list(change.assumed),
    }


def _output_at(at: OutputAt | None) -> dict[str, object] | None:
    if at is None:
        return None
    sticks = {name: json_number(place) for name, place in at.sticks.items()}
    return {"sticks": sticks, "before": json_number(at.before), "now": json_number(at.now)}


def _region_values(region: Region) -> dict[str, object]:
    return {
        "positions": {name: sorted(places) for name, places in region.positions.items()},
        "between": {name: _interval_values(each) for name, each in region.between.items()},
        "lost": sorted(region.lost),
        "remembered": {name.partition(" ")[2]: on for name, on in region.remembered.items()},
        "receiver-off": region.off,
    }


def _interval_values(interval: ValueRange) -> dict[str, int | float]:
    low, high = ("at-least" if interval.with_lo else "above"), ("at-most" if interval.with_hi else "below")
    return {low: json_number(interval.lo), high: json_number(interval.hi)}


def _given_value(given: SideValue) -> object:
    return json_number(given) if isinstance(given, Fraction) else given


def closing(
    compared: int, differing: int, troubles: Sequence[str], passed_over: Sequence[PassedOver], look: Look
) -> str:
    counts = {"compared": compared, "differing": differing, "troubles": list(troubles)}
    summary = {**counts, "passed-over": [each._asdict() for each in passed_over], "caution": CAUTION}
    return f'\n],\n"summary": {json.dumps(summary)}\n}}\n'
