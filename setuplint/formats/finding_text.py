"""One finding for a person: a line in the GNU error format, the source, what to try on the bench, why, what to do."""

from __future__ import annotations

from collections.abc import Iterator

from setuplint.findings import Finding, Report
from setuplint.formats import case_text
from setuplint.formats.document import FindingItem
from setuplint.formats.document_text import finding_line, labelled_lines
from setuplint.formats.excerpt import excerpt
from setuplint.formats.step_outputs import outputs_on_the_way
from setuplint.formats.summary import ADVICE
from setuplint.formats.terminal import FIXED_SPACE, Look, plain, width, wrap

COLUMN = 16  # where the text beside a label starts
NARROWEST = 20  # cells; with less room for a step, its outputs go below it


def finding_item(report: Report, finding: Finding) -> FindingItem:
    """The finding in one line, as an item of a document."""
    where = report.where(finding.primary)
    line, column = where.start
    return FindingItem(f"{where.name}:{line}:{column}", finding.signal, finding.message, finding.rule, where.name, line)


def finding_block(report: Report, finding: Finding, look: Look, explained: set[str]) -> str:
    """All about a finding. `explained` collects the texts that need no repeating."""
    return "\n".join(_block_lines(report, finding, look, explained))


def _block_lines(report: Report, finding: Finding, look: Look, explained: set[str]) -> Iterator[str]:
    yield finding_line(finding_item(report, finding), look)
    yield from excerpt(report, finding, look)
    if report.where(finding.primary).name != report.name:
        yield from labelled_lines("In the setup:", f"{plain(report.name)}, which extends this file.", look, COLUMN)
    values = report.values
    yield from labelled_lines("On the bench:", case_text.case_sentence(finding, values), look, COLUMN)
    if finding.steps:
        yield from _step_lines(case_text.case_steps(finding, values, outputs_on_the_way(report, finding)), look)
    yield from labelled_lines("To see it:", case_text.trace_command(finding, report.name), look, COLUMN)
    if finding.status == "advice":
        yield from labelled_lines("Advice:", ADVICE, look, COLUMN)
    if finding.waiver is not None:
        until = f"until {finding.waiver.until}: " if finding.waiver.until else ""
        yield from labelled_lines("Waived:", f"{until}{plain(finding.waiver.reason)}", look, COLUMN)
    yield from labelled_lines("Estimate:", plain(finding.estimate), look, COLUMN)
    for label, text in (("Why", finding.why), ("Remedy", finding.remedy)):
        if text and text not in explained:
            explained.add(text)
            yield from labelled_lines(f"{label}:", plain(" ".join(text.split())), look, COLUMN)


def _step_lines(steps: list[case_text.CaseStep], look: Look) -> Iterator[str]:
    """The steps in columns: number, what to do, what the channels then give."""
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
