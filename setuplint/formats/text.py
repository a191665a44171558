"""Findings for a person: a line in the GNU error format, the source, what to try on the bench, why, and the remedy."""

from __future__ import annotations

from collections.abc import Iterator

from setuplint.findings import SIGNALS, Finding, Report
from setuplint.formats import bench
from setuplint.formats.excerpt import excerpt
from setuplint.formats.look import FIXED_SPACE, Look, plain, width, wrap
from setuplint.formats.steps import outputs_on_the_way
from setuplint.formats.summary import CAUTION, Open, Summary

between = ""
INDENT = "  "
COLUMN = 16  # where the text beside a label starts
NARROWEST = 20  # the least room for a step beside what it gives


def opening(look: Look) -> str:
    return ""


def part(report: Report, look: Look) -> str:
    said: set[str] = set()  # why and remedy are told once a file
    blocks = ["\n".join(_finding(report, finding, look, said)) + "\n" for finding in report.findings]
    return "".join(f"{block}\n" for block in blocks)


def line(report: Report, finding: Finding, look: Look) -> str:
    """`path:line:column: danger: message [rule]`, never wrapped."""
    at, column = report.document.position(report.span(finding.primary).start)
    signal = look.paint(finding.signal, finding.signal)
    return f"{plain(report.name)}:{at}:{column}: {signal}: {plain(finding.message)} [{plain(finding.rule)}]"


def _finding(report: Report, finding: Finding, look: Look, said: set[str]) -> Iterator[str]:
    yield line(report, finding, look)
    yield from excerpt(report, finding, look)
    values = report.document.values
    yield from _labelled("On the bench", bench.sentence(finding, values), look)
    if finding.steps:
        yield from _table(bench.steps(finding, values, outputs_on_the_way(report, finding)), look)
    if finding.status == "advice":
        yield from _labelled("Advice", "a rule of thumb, or reckoned from estimates: not a proof.", look)
    for label, text in (("Why", finding.why), ("Remedy", finding.remedy)):
        if text and text not in said:
            said.add(text)
            yield from _labelled(label, plain(" ".join(text.split())), look)


def _labelled(label: str, text: str, look: Look) -> Iterator[str]:
    if text:
        yield from wrap(text, look.width, f"{INDENT}{label}:".ljust(COLUMN), " " * COLUMN)


def _table(steps: list[bench.Step], look: Look) -> Iterator[str]:
    """The steps under each other: number, what to do, what the channels then give."""
    given = [", ".join(step.gives) for step in steps]
    right = max(map(width, given))
    room = look.width - COLUMN - 3
    beside = room - 2 - right >= NARROWEST
    middle = min(max(width(step.move) for step in steps), room - 2 - right) if beside else room
    for number, (step, gives) in enumerate(zip(steps, given, strict=True), start=1):
        rows = list(wrap(step.move, middle))
        if beside:
            rows[-1] += f"{' ' * (middle - width(rows[-1]))}  {gives}"
        elif gives:
            rows += wrap(gives, room)
        for index, row in enumerate(rows):
            yield f"{' ' * COLUMN}{number if index == 0 else '':<2} {row}".rstrip().replace(FIXED_SPACE, " ")


def closing(summary: Summary, look: Look) -> str:
    lines = [*_counts(summary, look), *_open(summary.open, summary.files, look)]
    lines += wrap(CAUTION, look.width)
    return "\n".join(lines) + "\n"


def _counts(summary: Summary, look: Look) -> Iterator[str]:
    found = [look.paint(counted(summary.found[signal], signal), signal) for signal in SIGNALS if summary.found[signal]]
    text = f"{counted(summary.files, 'setup')}: {', '.join(found) or 'nothing found'}"
    if summary.below:
        text += f" ({summary.below} below {summary.fail_on}, the least that fails)"
    yield from wrap(f"{text}.", look.width)
    if summary.files:
        rules = counted(summary.rules, "rule") if summary.files == 1 else f"up to {counted(summary.rules, 'rule')} each"
        yield from wrap(f"Decided: {rules}, over {counted(summary.states, 'state')} of the controls.", look.width)
    if summary.waived:
        named = ", ".join(f"{plain(rule)} {count}" for rule, count in sorted(summary.waived.items()))
        yield from wrap(f"Waived: {sum(summary.waived.values())} ({named}).", look.width)
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
