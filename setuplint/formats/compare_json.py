"""A comparison for a program: one JSON object, in ASCII. Version 1."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from fractions import Fraction

from setuplint.comparison.changes import Comparison, CraftChange, SideValue
from setuplint.comparison.regions import Region, ValueRange
from setuplint.findings import Report
from setuplint.formats.differences import Teller
from setuplint.formats.json import finding
from setuplint.formats.numbers import json_number
from setuplint.formats.summary import CAUTION
from setuplint.formats.terminal import Look

VERSION = 1
ROOM = None  # no limit to what is written
between = ",\n"


def opening(look: Look) -> str:
    return f'{{\n"version": {VERSION},\n"comparisons": [\n'


def part(comparison: Comparison, reports: Sequence[Report], values: Mapping[str, object], look: Look) -> str:
    teller = Teller(comparison, values)
    return json.dumps(
        {
            "old": comparison.old,
            "new": comparison.new,
            "differs": comparison.differs,
            "changes": [_change(change, teller) for change in comparison.changes],
            "gained": [finding(reports[-1], each) for each in comparison.gained],
            "lost": [finding(reports[0], each) for each in comparison.lost],
            "kept": comparison.kept,
            "renamed": [{"kind": k, "old": old, "new": new} for k, old, new in comparison.matching.renamed()],
            "same": dict(comparison.same or {}),
            "states": comparison.states,
            "not-compared": [{"subject": each.subject, "because": each.because} for each in comparison.open],
        }
    )


def _change(change: CraftChange, teller: Teller) -> dict[str, object]:
    told = teller.told(change)
    return {
        "kind": change.kind,
        "subject": change.subject,
        "before": _given(change.before),
        "now": _given(change.now),
        "before-by": change.was_by,
        "now-by": change.by,
        "message": told.what.replace("\u00a0", " "),
        "where": [_part(part) for part in change.where],
        "everywhere-told": change.whole,
        "sticks": {name: [_pair(each) for each in found] for name, found in (change.sticks or {}).items()},
        "witness": dict(change.witness or {}),
        "steps": [dict(step) for step in change.steps],
        "assumed": list(change.assumed),
    }


def _part(part: Region) -> dict[str, object]:
    return {
        "positions": {name: sorted(places) for name, places in part.positions.items()},
        "between": {name: _interval(each) for name, each in part.between.items()},
        "lost": sorted(part.lost),
        "remembered": {name.partition(" ")[2]: on for name, on in part.remembered.items()},
        "receiver-off": part.off,
    }


def _interval(interval: ValueRange) -> dict[str, int | float]:
    low, high = ("at-least" if interval.with_lo else "above"), ("at-most" if interval.with_hi else "below")
    return {low: json_number(interval.lo), high: json_number(interval.hi)}


def _pair(pair: tuple[Fraction, Fraction]) -> list[int | float]:
    return [json_number(each) for each in pair]


def _given(given: SideValue) -> object:
    return json_number(given) if isinstance(given, Fraction) else given


def closing(compared: int, differing: int, troubles: Sequence[str], look: Look) -> str:
    summary = {"compared": compared, "differing": differing, "troubles": list(troubles), "caution": CAUTION}
    return f'\n],\n"summary": {json.dumps(summary)}\n}}\n'
