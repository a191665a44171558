"""A comparison as Markdown made to be posted on a pull request: what is grave first, the rest folded, bounded in size.

What comes from a file is escaped (`markdown_text`). A comment has room for so much: what does not fit is counted.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from setuplint.comparison.changes import Comparison, CraftChange
from setuplint.findings import Finding, Report
from setuplint.formats.compare_text import headline
from setuplint.formats.differences import Teller, same
from setuplint.formats.markdown_text import LIMIT, escaped, folded
from setuplint.formats.summary import CAUTION
from setuplint.formats.terminal import Look
from setuplint.formats.text import counted

ROOM = LIMIT - 2_000  # bytes for all parts; the closing takes the rest
between = ""
MOST = 40  # changes of one set-up that are told


def opening(look: Look) -> str:
    return "## What the craft do differently\n\n"


def part(comparison: Comparison, reports: Sequence[Report], values: Mapping[str, object], look: Look) -> str:
    teller = Teller(comparison, values)
    blocks = [f"### {escaped(headline(comparison))}"]
    if comparison.gained:
        blocks.append("**Hazards gained**\n\n" + "\n".join(_finding(reports[-1], each) for each in comparison.gained))
    if comparison.lost:
        blocks.append("**Hazards gone**\n\n" + "\n".join(_finding(reports[0], each) for each in comparison.lost))
    if comparison.changes:
        shown = [_change(teller, each) for each in comparison.changes[:MOST]]
        left = len(comparison.changes) - len(shown)
        more = [f"- and {counted(left, 'more difference')}"] if left else []
        blocks.append("\n".join([*shown, *more]))
    about = [f"- {kind} {old} is {new} now: that is no change" for kind, old, new in comparison.matching.renamed()]
    about += [f"- not compared: {each.subject}: {each.because}".replace(": :", ":") for each in comparison.open]
    proved = same(comparison)
    if proved:
        about.append(
            f"- proved the same in all {counted(comparison.states, 'state')} of the controls: {', '.join(proved)}"
        )
    if comparison.kept:
        about.append(f"- {counted(comparison.kept, 'finding')} of both")
    if about:
        blocks.append(folded("Everything else", "\n".join(f"- {escaped(line[2:])}" for line in about)))
    return "\n\n".join(blocks) + "\n\n"


def _finding(report: Report, finding: Finding) -> str:
    name, line, column = report.where(finding.primary).name, *report.where(finding.primary).start
    return f"- **{finding.signal}** {escaped(f'{name}:{line}:{column}')}: {escaped(finding.message)} ({escaped(finding.rule)})"


def _change(teller: Teller, change: CraftChange) -> str:
    told = teller.told(change)
    text = f"- {escaped(told.what)}"
    if told.where:
        text += f"<br>where: {escaped(told.where)}"
    if told.bench:
        text += f"<br>try: {escaped(told.bench)}"
    return text


def closing(compared: int, differing: int, troubles: Sequence[str], look: Look) -> str:
    lines = [f"{counted(compared, 'setup')} compared, {differing} of them not the same."]
    lines += [f"Note: {escaped(trouble, 200)}." for trouble in troubles[:10]]
    return "\n\n".join([*lines, f"*{escaped(CAUTION)}*"]) + "\n"
