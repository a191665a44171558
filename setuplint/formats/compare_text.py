"""A comparison for a person."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from setuplint.comparison.changes import Comparison
from setuplint.findings import Report
from setuplint.formats.differences import Teller, same
from setuplint.formats.finding_text import line
from setuplint.formats.summary import CAUTION
from setuplint.formats.terminal import Look, plain, wrap
from setuplint.formats.text import counted

INDENT = "  "
COLUMN = 14
ROOM = None  # no limit to what is written
between = "\n"


def opening(look: Look) -> str:
    return ""


def part(comparison: Comparison, reports: Sequence[Report], values: Mapping[str, object], look: Look) -> str:
    """`reports` are the lints of the old and of the new file, as far as they are there; `values` the controls of both."""
    return "\n".join(_lines(comparison, reports, values, look)) + "\n"


def _lines(
    comparison: Comparison, reports: Sequence[Report], values: Mapping[str, object], look: Look
) -> Iterator[str]:
    yield from wrap(headline(comparison), look.width)
    for title, findings, report in (
        ("Hazards gained", comparison.gained, reports[-1]),
        ("Hazards gone", comparison.lost, reports[0]),
    ):
        if findings:
            yield f"{INDENT}{title}:"
            yield from (f"{INDENT * 2}{line(report, finding, look)}" for finding in findings)
    teller = Teller(comparison, values)
    for change in comparison.changes:
        told = teller.told(change)
        yield from wrap(told.what, look.width, INDENT, INDENT * 2)
        for label, text in (("where", told.where), ("try", told.bench)):
            if text:
                yield from wrap(text, look.width, f"{INDENT * 2}{label}:".ljust(COLUMN), " " * COLUMN)
    for kind, old, new in comparison.matching.renamed():
        yield from wrap(f"Renamed: {kind} {plain(old)} is {plain(new)} now. That is not a change.", look.width, INDENT)
    proved = same(comparison)
    if proved:
        text = f"Proved the same in all {counted(comparison.states, 'state')} of the controls: {', '.join(proved)}."
        yield from wrap(text, look.width, INDENT, INDENT * 2)
    if comparison.kept:
        yield from wrap(f"In both: {counted(comparison.kept, 'finding')}; lint says which.", look.width, INDENT)
    for each in comparison.open:
        subject = f"{plain(each.subject)}: " if each.subject else ""
        yield from wrap(f"Not compared: {subject}{plain(each.because)}.", look.width, INDENT, INDENT * 2)


def headline(comparison: Comparison) -> str:
    """`old -> new: 3 differences; 1 danger gained`"""
    old, new = plain(comparison.old), plain(comparison.new)
    if not comparison.old:
        return f"{new} is new: {_found(comparison.gained) or 'nothing found in it'}."
    if not comparison.new:
        return f"{old} is gone."
    name = new if old == new else f"{old} -> {new}"
    differs = counted(len(comparison.changes), "difference") if comparison.changes else "the same behaviour"
    parts = [differs]
    for word, findings in (("gained", comparison.gained), ("gone", comparison.lost)):
        if findings:
            parts.append(f"{_found(findings)} {word}")
    return f"{name}: {'; '.join(parts)}."


def _found(findings: Sequence[object]) -> str:
    from setuplint.findings import SIGNALS

    counts = {signal: sum(getattr(x, "signal", "") == signal for x in findings) for signal in SIGNALS}
    return ", ".join(counted(count, signal) for signal, count in counts.items() if count)


def closing(compared: int, differing: int, troubles: Sequence[str], look: Look) -> str:
    lines: list[str] = []
    if not compared and not troubles:  # as after most commits that a hook looks at: nothing to warn of
        return "No setup has changed.\n"
    if compared != 1:
        lines += wrap(f"{counted(compared, 'setup')} compared, {differing} of them not the same.", look.width)
    for trouble in troubles:
        lines += wrap(f"Not compared: {plain(trouble)}.", look.width)
    return "\n".join([*lines, *wrap(CAUTION, look.width)]) + "\n"
