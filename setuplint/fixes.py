"""Mechanical remedies: which findings' edits may be applied unasked.

A remedy is applied only where a lint of the text after it, by every rule, shows its finding gone, no other finding come
(none of another rule or subject, waived ones counted) and nothing that could be judged before left open, and where it is
proved that outputs change in no state but those of the hazard. All others are offered, with what speaks against them.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection
from typing import NamedTuple

from setuplint.findings import Finding, Report
from setuplint.formats.patch import edited_text
from setuplint.setup.model import Setup

BOM = b"\xef\xbb\xbf"
MOST = 100  # lints for one file: texts come from strangers, and each remedy that is tried costs one

Key = tuple[str, str]


class Offer(NamedTuple):
    """A remedy that is not applied, and why."""

    finding: Finding
    because: str


class Remedies(NamedTuple):
    """The file after those remedies that were applied, and the others."""

    data: bytes
    applied: tuple[Finding, ...] = ()
    offered: tuple[Offer, ...] = ()


def remedies(
    data: bytes,
    report: Report,
    lint: Callable[[bytes], Report],
    only: Collection[str] | None = None,
    load: Callable[[bytes], Setup] | None = None,
) -> Remedies:
    """What becomes of a file. `report` is of `data` and, as those of `lint`, by every rule; `only` names the rules whose
    remedies are wanted. `load` reads a text for the proof that outputs change only where the hazard was; without it
    every remedy after which the lint is better is applied. Each one is tried after those before it, in the order of the
    file, until none is left that can be applied: what comes out of it, given again, stays as it is."""
    applied: list[Finding] = []
    tries = 0
    while True:
        offered: list[Offer] = []
        done = len(applied)
        for finding in _wanted(report, only):
            if finding not in report.findings:
                continue  # gone with one before it, or another by now: then it is its turn again
            if finding.edit and report.texts.is_shared(finding.edit.path):
                file = report.texts.holder(finding.edit.path).name
                offered.append(Offer(finding, f"it is in {file}, which other setups may extend: change it there"))
                continue
            text = edited_text(report.document, finding.edit) if finding.edit else None
            if text is None:
                offered.append(Offer(finding, "it does not fit into the text as it is written"))
                continue
            if tries >= MOST:
                offered.append(Offer(finding, f"not tried: there were {MOST} before it"))
                continue
            tries += 1
            after = (BOM if data.startswith(BOM) else b"") + text.encode()
            then = lint(after)
            because = objection(finding, report, then) or (elsewhere(finding, load(data), load(after)) if load else "")
            if because:
                offered.append(Offer(finding, because))
            else:
                data, report = after, then
                applied.append(finding)
        if len(applied) == done or tries >= MOST:
            return Remedies(data, tuple(applied), tuple(offered))


def elsewhere(finding: Finding, old: Setup, new: Setup) -> str:
    """What speaks against a remedy, by the outputs of the set-ups before and after it; empty where they are proved to change
    in no state but those of the hazard."""
    from setuplint.comparison.safety import changes_elsewhere

    return changes_elsewhere(old, new, finding.hazard)


def _wanted(report: Report, only: Collection[str] | None) -> list[Finding]:
    return [x for x in report.findings if x.edit is not None and (only is None or x.rule in only)]


def objection(finding: Finding, before: Report, after: Report) -> str:
    """What speaks against a remedy, by the lint after it; empty where nothing does."""
    worse = brought(before, after)
    if worse:
        return worse
    spoke, speaks = _spoken(before), _spoken(after)
    here = (finding.rule, finding.subject)
    if speaks[here] >= spoke[here]:
        return "the finding stays"
    known = {(note.rule, note.subject) for note in before.not_judged}
    for note in after.not_judged:
        if (note.rule, note.subject) not in known:
            return f"then {note.rule} cannot be judged{of(note.subject)}"
    return ""


def brought(before: Report, after: Report) -> str:
    """A finding that is new; empty where there is none."""
    return next(
        (f"then {rule} reports {subject or 'something'}" for rule, subject in _spoken(after) - _spoken(before)), ""
    )


def of(subject: str) -> str:
    return f" of {subject}" if subject else ""


def _spoken(report: Report) -> Counter[Key]:
    return Counter((finding.rule, finding.subject) for finding in (*report.findings, *report.waived))
