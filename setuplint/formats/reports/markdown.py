"""Findings as Markdown made to be posted on a pull request: the verdict first, then the gravest findings.

A section is JSON: its findings in Markdown, in full and in a line. They are kept until the end, as much of them as a comment
has room for; what does not fit is said in a line, then counted. What comes from a file is escaped (`markdown_text`).
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator

from setuplint.findings import SIGNALS, Finding, Report, Where, shortened
from setuplint.formats import case_text
from setuplint.formats.markdown_text import LIMIT, byte_size, code_span, escaped, folded, number_table, place_link
from setuplint.formats.numbers import counted
from setuplint.formats.reports import text
from setuplint.formats.step_outputs import outputs_on_the_way
from setuplint.formats.summary import ADVICE, CAUTION, Summary, kept_apart, open_by_cause, passed_over_lines
from setuplint.formats.terminal import Look

OPENING = "### setuplint on "
SHOWN = 20  # lines of a list
STEPS = 30
WIDE = Look(width=1_000_000)
_RESERVE = 300  # bytes for the note on what is not shown


def section(report: Report, look: Look, fail_on: str = "caution") -> str:
    """The findings as JSON: the signal word, one line, and the whole text of each."""
    found = shortened(report.findings).findings
    link = look.link
    lines = (f"- {_finding_line(report, each, 300, link)}" for each in found)
    pieces = [(each.signal, line, full_blocks(report, each, link)) for each, line in zip(found, lines, strict=True)]
    return json.dumps(pieces) if pieces else ""


class Collected:
    """Keeps the sections of a run for the end, and no more of them than can be shown."""

    def __init__(self, look: Look) -> None:
        self._kept: dict[str, list[tuple[str, str]]] = {signal: [] for signal in SIGNALS}
        self._sizes = dict.fromkeys(SIGNALS, 0)

    def add(self, section: str) -> str:
        for signal, line, whole in json.loads(section) if section else ():
            if self._sizes[signal] <= LIMIT:
                self._kept[signal].append((line, whole))
                self._sizes[signal] += byte_size(line)
        return ""

    def end(self, summary: Summary) -> str:
        head = "\n\n".join(_head_blocks(summary))
        foot = "\n\n".join([*_after_blocks(summary), f"*{escaped(CAUTION)}*"])
        room = LIMIT - byte_size(head) - byte_size(foot) - _RESERVE
        blocks = [head, *fitting_blocks(self._kept, summary.listed, room), foot]
        return "\n\n".join(blocks) + "\n"


def fitting_blocks(kept: dict[str, list[tuple[str, str]]], found: dict[str, int], room: int) -> Iterator[str]:
    """The gravest first, whole or in one line as there is room; notices in one line, folded. `found` counts all of them."""
    hidden: list[str] = []
    for signal in SIGNALS:
        shown: list[str] = []
        for line, whole in kept[signal]:
            for words in (line,) if signal == "notice" else (whole, line):
                if byte_size(words) + 2 <= room:
                    room -= byte_size(words) + 2
                    shown.append(words)
                    break
            else:
                break
        if shown and signal == "notice":
            yield folded(counted(found[signal], "notice"), "\n".join(shown))
        else:
            yield from shown
        if found[signal] > len(shown):
            hidden.append(counted(found[signal] - len(shown), signal))
    if hidden:
        yield f"**Not shown here, to save space: {', '.join(hidden)}.** `setuplint lint` shows all of them."


def full_blocks(report: Report, finding: Finding, link: str = "") -> str:
    """A finding with its case and remedy; why and where else folded."""
    values = report.values
    blocks = [_finding_line(report, finding, 1_500, link)]
    case = case_text.case_sentence(finding, values)
    if case:
        blocks.append(f"**On the bench:** {escaped(case)}")
    if finding.steps:
        blocks.append(_step_list(report, finding))
    if finding.status == "advice":
        blocks.append(f"**Advice:** {ADVICE}")
    if finding.estimate:
        blocks.append(f"**Estimate:** {escaped(finding.estimate)}")
    if finding.remedy:
        blocks.append(f"**Remedy:** {escaped(finding.remedy)}")
    more = list(_folded_blocks(report, finding, link))
    if more:
        blocks.append(folded("Why, and where else", "\n\n".join(more)))
    return "\n\n".join(blocks)


def _finding_line(report: Report, finding: Finding, most: int, link: str) -> str:
    where = report.where(finding.primary)
    of = f" (of {code_span(report.name)}, which extends it)" if where.name != report.name else ""
    return (
        f"**{finding.signal}** {_linked_place(where, link)}{of}: {escaped(finding.message, most)} "
        f"({code_span(finding.rule)})"
    )


def _linked_place(where: Where, link: str) -> str:
    line, column = where.start
    return place_link(code_span(f"{where.name}:{line}:{column}"), where.name, line, link)


def _step_list(report: Report, finding: Finding) -> str:
    steps = case_text.case_steps(finding, report.values, outputs_on_the_way(report, finding))
    rows = [f"{number}. {escaped(step.text, 300)}" for number, step in enumerate(steps[:STEPS], start=1)]
    return "\n".join([*rows, *_rest_item(len(steps), STEPS)])


def _folded_blocks(report: Report, finding: Finding, link: str) -> Iterator[str]:
    if finding.why:
        yield f"**Why:** {escaped(finding.why)}"
    places = [
        f"- {_linked_place(where, link)}{': ' if place.caption else ''}{escaped(place.caption, 300)}"
        for place in finding.related[:SHOWN]
        for where in (report.where(place),)
    ]
    if places:
        yield "\n".join([*places, *_rest_item(len(finding.related), SHOWN)])


def _head_blocks(summary: Summary) -> Iterator[str]:
    tally = summary.tally
    yield f"{OPENING}{counted(summary.files, 'setup')}: {tally.text()}{summary.beside}"
    yield _verdict(summary)
    if summary.troubles:
        yield _bullets((f"Not checked: {each}" for each in summary.troubles), len(summary.troubles))
    heads = ["setups", *SIGNALS, "not judged", "not decided", "waived", "in the baseline"]
    counts = [
        *(tally.found[signal] for signal in SIGNALS), tally.not_judged, tally.not_decided,
        *(tally.hidden.get(what, 0) for what in ("waived", "baselined")),
    ]  # fmt: skip
    yield number_table(heads, [[f"{number:,}" for number in (summary.files, *counts)]])


def _verdict(summary: Summary) -> str:
    least = "the least that fails" if summary.mixed else f"{summary.fail_on}, the least that fails"
    if summary.troubles:
        return "**Not everything could be checked.**"
    if not summary.files:
        return "**There was no setup to check.**"
    if summary.failing:
        return f"**This does not pass: {counted(summary.failing, 'finding')} at or above {least}.**"
    if summary.open_words:
        return f"**This does not pass. {summary.open_words}**"
    judged = ", of what was judged" if summary.tally.not_judged or summary.tally.not_decided else ""
    return f"**Passed{judged}:** nothing at or above {least}."


def _after_blocks(summary: Summary) -> Iterator[str]:
    """What is only counted, waivers, the baseline, and what was not judged."""
    if summary.overflow:
        yield _bullets((f"{each.file}: {each.words}" for each in summary.overflow), len(summary.overflow))
    for title, items in kept_apart(summary):
        if title:
            yield f"**{escaped(title)}**"
        if items:
            yield _bullets(items, len(items))
    causes = open_by_cause(summary.open)
    if causes:
        lines = (
            f"{', '.join(cause.rules)}: because {because} ({counted(len(cause.files), 'setup')})"
            for because, cause in causes.items()
        )
        yield folded(f"Not judged: {len(summary.open)}", _bullets(lines, len(causes)))
    if summary.files:
        yield f"Decided: up to {counted(summary.rules, 'rule')} a setup, over {counted(summary.states, 'state')} of the controls."
    title, items = passed_over_lines(summary)
    if title:
        yield escaped(title)
    if items:
        yield _bullets(items, len(items))
    yield from (escaped(line) for line in (*text.shared_lines(summary, WIDE), *text.rule_set_lines(summary, WIDE)))


def _bullets(lines: Iterable[str], count: int) -> str:
    shown = [f"- {escaped(line, 300)}" for _, line in zip(range(SHOWN), lines, strict=False)]
    return "\n".join([*shown, *_rest_item(count, SHOWN)])


def _rest_item(count: int, shown: int) -> list[str]:
    return [f"- ... and {count - shown:,} more"] if count > shown else []
