"""Findings for a person, and the sum of a run."""

from __future__ import annotations

from collections.abc import Iterator

from setuplint.findings import Report, shortened
from setuplint.formats.numbers import counted
from setuplint.formats.summary import (
    CAUTION,
    OpenRule,
    Summary,
    kept_apart,
    open_by_cause,
    overflow,
    passed_over_lines,
    summary_of,
)
from setuplint.formats.terminal import Look, plain, wrap

between = ""
INDENT = "  "
SHOWN = 20  # lines of a list in the summary


def opening(look: Look) -> str:
    return ""


def section(report: Report, look: Look, fail_on: str = "caution") -> str:
    if not report.findings:
        return ""
    from setuplint.formats.finding_text import finding_block  # start-up counts, and most files are clean

    explained: set[str] = set()  # why and remedy are printed once a file
    blocks = [finding_block(report, finding, look, explained) for finding in shortened(report.findings).findings]
    blocks += [f"{plain(more.file)}: {plain(more.words)}" for more in overflow(report)]
    return "".join(f"{block}\n\n" for block in blocks)


def closing(summary: Summary, look: Look) -> str:
    lines = [*_count_lines(summary, look), *_open_lines(summary.open, summary.files, look)]
    lines += wrap(CAUTION, look.width)
    return "\n".join(lines) + "\n"


def report_text(report: Report, look: Look | None = None) -> str:
    """All that is said of one file."""
    look = look or Look()
    return section(report, look) + closing(summary_of(report), look)


def _count_lines(summary: Summary, look: Look) -> Iterator[str]:
    text = f"{counted(summary.files, 'setup')}: {summary.tally.text(look)}{summary.beside}."
    if summary.below:
        are, least = "is" if summary.below == 1 else "are", "" if summary.mixed else f"{summary.fail_on}, "
        text += f" {summary.below:,} {are} below {least}the least that fails."
    if summary.open_words:
        text += f" {summary.open_words}"
    yield from wrap(text, look.width)
    if summary.files:
        rules = counted(summary.rules, "rule") if summary.files == 1 else f"up to {counted(summary.rules, 'rule')} each"
        yield from wrap(f"Decided: {rules}, over {counted(summary.states, 'state')} of the controls.", look.width)
    yield from shared_lines(summary, look)
    yield from rule_set_lines(summary, look)
    for title, items in kept_apart(summary):
        if title:
            yield from wrap(plain(title), look.width)
        yield from _first_lines(items, look, INDENT if title else "")
    for trouble in summary.troubles:
        yield from wrap(f"Not checked: {plain(trouble)}.", look.width)
    title, items = passed_over_lines(summary)
    if title:
        yield from wrap(title, look.width)
    for item in items:
        yield from wrap(plain(item), look.width, INDENT, INDENT * 2)


def shared_lines(summary: Summary, look: Look) -> Iterator[str]:
    if summary.parts:
        them = "it" if summary.parts == 1 else "them"
        text = f"Shared: {counted(summary.parts, 'part')}, judged with the setups that extend {them}"
        if summary.extending:
            text += f"; for that {counted(summary.extending, 'setup')} more than were given"
        yield from wrap(f"{text}.", look.width)
    if summary.neighbours:
        others = f"{counted(summary.neighbours, 'setup')} of the same radios"
        yield from wrap(f"Compared with the others: {others}, judged by that alone.", look.width)


def rule_set_lines(summary: Summary, look: Look) -> Iterator[str]:
    """Which edition of the rules it was, and by whose choice."""
    for by, files in summary.rule_sets.items():
        text = f"Rules: edition {by.edition}"
        if by.config:
            text += f", by {plain(by.config)}" + ("" if by.pinned else ", which names none: the newest")
        else:
            text += ", the newest: no setuplint.toml names one"
        if len(summary.rule_sets) > 1:
            text += f" ({counted(files, 'setup')})"
        yield from wrap(f"{text}.", look.width)


def _first_lines(every: list[str], look: Look, indent: str) -> Iterator[str]:
    """The first lines, and how many more there are; JSON has all of them."""
    for text in every[:SHOWN]:
        yield from wrap(plain(text), look.width, indent, indent + INDENT)
    if len(every) > SHOWN:
        yield f"{indent}... and {len(every) - SHOWN:,} more"


def _open_lines(items: list[OpenRule], files: int, look: Look) -> Iterator[str]:
    """What was not judged, by its cause."""
    causes = open_by_cause(items)
    if causes:
        yield "Not judged:"
    for because, (rules, where) in causes.items():
        text = f"{', '.join(map(plain, rules))}: because {plain(because)}"
        if files > 1:
            text += f" ({counted(len(where), 'setup')})"
        yield from wrap(text, look.width, INDENT, INDENT * 2)
