"""Findings for a person, and what a run comes to."""

from __future__ import annotations

from collections.abc import Iterator

from setuplint.findings import SIGNALS, Report
from setuplint.formats.look import Look, plain, wrap
from setuplint.formats.summary import CAUTION, Open, Summary

between = ""
INDENT = "  "


def opening(look: Look) -> str:
    return ""


def part(report: Report, look: Look) -> str:
    if not report.findings:
        return ""
    from setuplint.formats.one import block  # start-up counts, and most files are clean

    said: set[str] = set()  # why and remedy are told once a file
    return "".join(f"{block(report, finding, look, said)}\n\n" for finding in report.findings)


def closing(summary: Summary, look: Look) -> str:
    lines = [*_counts(summary, look), *_open(summary.open, summary.files, look)]
    lines += wrap(CAUTION, look.width)
    return "\n".join(lines) + "\n"


def _counts(summary: Summary, look: Look) -> Iterator[str]:
    found = [look.paint(counted(summary.found[signal], signal), signal) for signal in SIGNALS if summary.found[signal]]
    nothing = "nothing found" if summary.files else "nothing was checked"
    text = f"{counted(summary.files, 'setup')}: {', '.join(found) or nothing}"
    if summary.below:
        text += f" ({summary.below} below {summary.fail_on}, the least that fails)"
    yield from wrap(f"{text}.", look.width)
    if summary.files:
        rules = counted(summary.rules, "rule") if summary.files == 1 else f"up to {counted(summary.rules, 'rule')} each"
        yield from wrap(f"Decided: {rules}, over {counted(summary.states, 'state')} of the controls.", look.width)
    if summary.waived:
        named = ", ".join(f"{plain(rule)} {count}" for rule, count in sorted(summary.waived.items()))
        yield from wrap(f"Waived: {sum(summary.waived.values())} ({named}).", look.width)
    for trouble in summary.troubles:
        yield from wrap(f"Not checked: {plain(trouble)}.", look.width)
    if summary.passed_over:
        files = counted(summary.passed_over, "other TOML file")
        yield from wrap(f"Passed over: {files}, not {'a setup' if summary.passed_over == 1 else 'setups'}.", look.width)
    if summary.links:
        leads = "link leads" if summary.links == 1 else "links lead"
        yield from wrap(f"Not followed: {summary.links} {leads} out of the folder.", look.width)


def _open(items: list[Open], files: int, look: Look) -> Iterator[str]:
    """What was not judged, by what would let it be."""
    causes: dict[str, tuple[dict[str, None], set[str]]] = {}
    for item in items:
        rules, where = causes.setdefault(item.because, ({}, set()))
        rules[item.rule] = None
        where.add(item.file)
    if causes:
        yield "Not judged:"
    for because, (rules, where) in causes.items():
        text = f"{', '.join(map(plain, rules))}: because {plain(because)}"
        if files > 1:
            text += f" ({counted(len(where), 'setup')})"
        yield from wrap(text, look.width, INDENT, INDENT * 2)


def counted(number: int, noun: str) -> str:
    """`1 state`, `1,296 states`; the signal words take a plural too."""
    return f"{number:,} {noun}" if number == 1 else f"{number:,} {noun}s"
