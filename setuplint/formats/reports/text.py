"""Findings for a person, and the sum of a run."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from setuplint.findings import SIGNALS, Report, shortened
from setuplint.formats.numbers import counted
from setuplint.formats.summary import CAUTION, OpenRule, Summary, of_subject, open_by_cause, overflow
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


def _count_lines(summary: Summary, look: Look) -> Iterator[str]:
    text = f"{counted(summary.files, 'setup')}: {summary.tally.text(look)}."
    if summary.below:
        are, least = "is" if summary.below == 1 else "are", "" if summary.mixed else f"{summary.fail_on}, "
        text += f" {summary.below:,} {are} below {least}the least that fails."
    yield from wrap(text, look.width)
    if summary.files:
        rules = counted(summary.rules, "rule") if summary.files == 1 else f"up to {counted(summary.rules, 'rule')} each"
        yield from wrap(f"Decided: {rules}, over {counted(summary.states, 'state')} of the controls.", look.width)
    yield from shared_lines(summary, look)
    yield from rule_set_lines(summary, look)
    yield from _waiver_lines(summary, look)
    yield from _baseline_lines(summary, look)
    for trouble in summary.troubles:
        yield from wrap(f"Not checked: {plain(trouble)}.", look.width)
    if summary.passed_over:
        files = counted(summary.passed_over, "other TOML file")
        yield from wrap(f"Passed over: {files}, not {'a setup' if summary.passed_over == 1 else 'setups'}.", look.width)
    if summary.links:
        leads = "link leads" if summary.links == 1 else "links lead"
        yield from wrap(f"Not followed: {summary.links} {leads} out of the folder.", look.width)


def shared_lines(summary: Summary, look: Look) -> Iterator[str]:
    if summary.parts:
        them = "it" if summary.parts == 1 else "them"
        text = f"Shared: {counted(summary.parts, 'part')}, judged with the setups that extend {them}"
        if summary.extending:
            text += f"; for that {counted(summary.extending, 'setup')} more than were given"
        yield from wrap(f"{text}.", look.width)


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


def _waiver_lines(summary: Summary, look: Look) -> Iterator[str]:
    if summary.audit:
        are = "is" if summary.audited == 1 else "are"
        yield from wrap(f"Waivers hide nothing here: {counted(summary.audited, 'finding')} {are} waived.", look.width)
    if summary.waived:
        named = ", ".join(f"{plain(rule)} {count}" for rule, count in sorted(summary.waived.items()))
        yield from wrap(f"Waived: {sum(summary.waived.values())} ({named}).", look.width)
    grave = sorted(summary.covered, key=lambda each: SIGNALS.index(each.signal))
    yield from _first_lines(
        (
            f"{each.file}:{each.line}:{each.column}: {each.signal} {each.rule}{of_subject(each.subject)}, "
            f"{f'until {each.until}' if each.until else 'without an end'}: {each.reason}"
            for each in grave
        ),
        look,
    )
    yield from _first_lines(
        (f"{each.file}:{each.line}:{each.column}: {each.message}." for each in summary.remarks), look, ""
    )


def _baseline_lines(summary: Summary, look: Look) -> Iterator[str]:
    kept = [counted(summary.baselined[signal], signal) for signal in SIGNALS if summary.baselined[signal]]
    if kept:
        yield from wrap(f"In the baseline: {', '.join(kept)}.", look.width)
        yield from _first_lines((f"{each.file}: {each.message} [{each.rule}]" for each in summary.dangers), look)
    if summary.baseline:
        out = f", {len(summary.dropped):,} that {'is' if len(summary.dropped) == 1 else 'are'} no longer found left out"
        written = f"Written to {plain(summary.baseline)}: {summary.added:,} added{out if summary.dropped else ''}."
        yield from wrap(written, look.width)
        yield from _first_lines(
            (f"{each.file}: {each.rule}{of_subject(each.subject)}" for each in summary.dropped), look
        )
    if summary.gone:
        yield from wrap(f"No longer found, and still in the baseline: {len(summary.gone)}.", look.width)
        yield from _first_lines((f"{each.file}: {each.rule}{of_subject(each.subject)}" for each in summary.gone), look)


def _first_lines(lines: Iterable[str], look: Look, indent: str = INDENT) -> Iterator[str]:
    """The first lines, and how many more there are; JSON has all of them."""
    every = list(lines)
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
